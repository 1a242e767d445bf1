"""Whatever is edited and undone in whatever order: nothing is lost, everything can be written."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import dump_yaml, parse_yaml
from rehearse.music import correct
from rehearse.music.beatmap import Stretch
from rehearse.music.position import Count, Length
from rehearse.routine import edits
from rehearse.routine.model import Facing, OwnMove, OwnPose, Place, Routine, Side, StagePart
from rehearse.routine.moves import load_moves
from rehearse.routine.moving import moves_before, overrun, way_off
from rehearse.routine.remap import remap
from rehearse.routine.routinedata import routine_data
from rehearse.routine.routinefile import read_routine
from rehearse.routine.snapping import Snap, snap
from tests.routine.conftest import make_song

SONG = make_song(eights=6)
NAMES = ["front double biceps", "crucifix", "side chest left", "kneeling victory"]


def _one(routine: Routine, draw) -> str:
    return draw(st.sampled_from([p.id for p in routine.poses]))


def _somewhere(draw):
    time = draw(st.floats(-1, SONG.duration + 1))
    return snap(SONG, time, draw(st.sampled_from(Snap)))


def _a_move(routine: Routine, draw) -> str:
    moves = [m.id for m in (*routine.exit, *(m for p in routine.poses for m in p.moves))]
    return draw(st.sampled_from(moves))


def _edit_moves(routine: Routine, draw, number: int) -> Routine:
    """One edit of what is done between the poses."""
    new, side = f"{number:08x}", draw(st.sampled_from([None, *Side]))
    kind = draw(st.sampled_from(load_moves().moves))
    more = {"counts": draw(st.integers(1, 32)) / 4, "move_id": new, "side": side}
    kinds = ["add", "begin", "begin", "again", "turn", "place", "own", "stretch"]
    if routine.exit or any(p.moves for p in routine.poses):
        kinds += ["longer", "border", "out", "order", "other", "mirror", "copy"] * 2
    bed = draw(st.sampled_from([edits.EXIT, *(p.id for p in routine.poses)]))
    match draw(st.sampled_from(kinds)):
        case "add":
            return edits.add_move(routine, SONG, bed, kind.name, **more)
        case "begin":
            return edits.begin_move(routine, SONG, _somewhere(draw), kind.name, **more)
        case "again":
            return edits.hit_again(routine, SONG, _somewhere(draw))
        case "turn":
            return edits.change(routine, SONG, _one(routine, draw), turn=side)
        case "place":
            where = draw(st.sampled_from([None, *Place]))
            return edits.change(routine, SONG, _one(routine, draw), place=where)
        case "own":
            return edits.add_own_move(routine, OwnMove(draw(st.sampled_from(["swing", "bow"]))))
        case "longer":
            by = draw(st.integers(-8, 8)) / 4
            return edits.resize_move(routine, SONG, _a_move(routine, draw), by)
        case "border":
            return edits.set_border(routine, SONG, _a_move(routine, draw), _somewhere(draw))
        case "out":
            return edits.remove_move(routine, _a_move(routine, draw))
        case "order":
            return edits.reorder_move(routine, _a_move(routine, draw), draw(st.integers(-3, 3)))
        case "other":
            return edits.change_move(routine, _a_move(routine, draw), move=kind.name, note="n")
        case "mirror":
            return edits.mirror_moves(routine, bed)
        case "stretch":
            first = draw(st.integers(0, len(routine.poses) - 1))
            chosen = [p.id for p in routine.poses[first : first + draw(st.integers(1, 4))]]
            return edits.stretch(routine, SONG, chosen, draw(st.integers(1, 64)) / 2)
        case _:
            phrase = edits.copy(routine, SONG, [_one(routine, draw)])
            return edits.paste(routine, SONG, phrase, _somewhere(draw), instead=True)


def _edit(routine: Routine, draw, number: int) -> Routine:
    if routine.poses and draw(st.booleans()):
        return _edit_moves(routine, draw, number)
    return _edit_poses(routine, draw, number)


def _edit_poses(routine: Routine, draw, number: int) -> Routine:
    new = f"{number:08x}"
    kinds = ["place", "insert", "stage", "describe", "own", "section"]
    if routine.poses:
        kinds += ["move", "by", "swap", "copy", "out", "hold", "pose", "turn", "over"] * 2
    match draw(st.sampled_from(kinds)):
        case "place":
            return edits.place(
                routine, SONG, draw(st.sampled_from(NAMES)), _somewhere(draw), pose_id=new
            )
        case "insert":
            return edits.insert(
                routine, SONG, draw(st.sampled_from(NAMES)), _somewhere(draw), pose_id=new
            )
        case "move":
            return edits.move_to(routine, SONG, _one(routine, draw), _somewhere(draw))
        case "by":
            by = Length(draw(st.integers(-12, 12)) / 4)
            return edits.move_by(routine, SONG, _one(routine, draw), by)
        case "swap":
            return edits.swap(routine, SONG, _one(routine, draw), _one(routine, draw))
        case "copy":
            return edits.duplicate(routine, SONG, [_one(routine, draw)], [new])
        case "out":
            return edits.take_out(routine, SONG, _one(routine, draw), close_up=draw(st.booleans()))
        case "hold":
            return edits.lengthen(routine, SONG, _one(routine, draw), draw(st.floats(-3, 3)))
        case "pose":
            return edits.change(
                routine, SONG, _one(routine, draw), pose=draw(st.sampled_from(NAMES)), note="n"
            )
        case "turn":
            return edits.change(
                routine, SONG, _one(routine, draw), facing=draw(st.sampled_from(Facing))
            )
        case "over":
            return edits.section_over(routine, SONG, [_one(routine, draw)], "part", new)
        case "section":
            return edits.add_section(routine, SONG, "part", _somewhere(draw), _somewhere(draw), new)
        case "stage":
            part = StagePart(draw(st.floats(0, 40)), draw(st.floats(0, 40)), 0, 1)
            return edits.set_stage(routine, SONG, part)
        case "own":
            return edits.add_own(routine, OwnPose(draw(st.sampled_from(["twist", "Twist", "x"]))))
        case _:
            return edits.describe(routine, title=draw(st.text(max_size=5)))


@settings(max_examples=80, deadline=None)
@given(st.data())
def test_any_edits_and_undos_return_to_the_same_document(catalogue, data):
    first = Routine("T", "t.ogg") if data.draw(st.booleans()) else _three(Routine("T", "t.ogg"))
    past, future = [first], []
    for number in range(data.draw(st.integers(1, 14))):
        step = data.draw(st.sampled_from(["edit", "edit", "edit", "undo", "redo"]))
        if step == "undo" and len(past) > 1:
            future.append(past.pop())
        elif step == "redo" and future:
            past.append(future.pop())
        elif step == "edit":
            before = dump_yaml(routine_data(past[-1]))
            try:
                edited = _edit(past[-1], data.draw, number)
            except UserError:  # a refused edit leaves everything as it was
                edited = past[-1]
            assert dump_yaml(routine_data(past[-1])) == before
            past.append(edited)
            future.clear()
        _is_sound(past[-1], catalogue)
    assert past[0] == first


def _is_sound(routine, catalogue):
    times = [SONG.time_of(p.hit) for p in routine.poses]
    assert times == sorted(times)
    assert all(0 <= t <= SONG.duration + 1e-6 for t in times)
    ids = [p.id for p in routine.poses] + [s.id for s in routine.sections]
    assert len(set(ids)) == len(ids)
    moves = [m.id for m in (*routine.exit, *(m for p in routine.poses for m in p.moves))]
    assert len(set(moves)) == len(moves)
    assert all(SONG.time_of(s.start) < SONG.time_of(s.end) for s in routine.sections)
    document = parse_yaml(dump_yaml(routine_data(routine)), Path("routine.yaml"))
    assert read_routine(document, Path(), SONG, catalogue) == routine


@given(st.integers(-40, 40), st.integers(0, 3))
def test_moving_there_and_back_is_nothing(quarters, quarter):
    routine = edits.place(
        Routine("T", "t.ogg"), SONG, "crucifix", snap(SONG, 16.0 + quarter / 8, Snap.QUARTERS)
    )
    name = routine.poses[0].id
    there = edits.move_by(routine, SONG, name, Length(quarters / 4))
    assert edits.move_by(there, SONG, name, Length(-quarters / 4)) == routine


@given(st.floats(4.3, 27.4), st.sampled_from([Snap.COUNTS, Snap.HALVES, Snap.QUARTERS]))
def test_snapping_finds_the_nearest_place_of_the_grid(time, to):
    grid = {Snap.COUNTS: 0.5, Snap.HALVES: 0.25, Snap.QUARTERS: 0.125}[to]
    found = SONG.time_of(snap(SONG, time, to))
    # At 120 BPM a count is 0.500 s, "&" 0.250 s, "e" 0.125 s (arithmetic of the tempo marking).
    assert abs(found - time) <= grid / 2 + 1e-6
    assert (found - 4.0) / grid == pytest.approx(round((found - 4.0) / grid), abs=1e-6)


def _three(routine: Routine) -> Routine:
    for eight, name in ((2, "crucifix"), (4, "victory"), (6, "crucifix")):
        hold = Length(6)
        routine = edits.place(
            routine, SONG, name, Count(eight, 1), hold=hold, pose_id=f"pose {eight}"
        )
    return routine


def _with_moves(draw) -> Routine:
    """A routine with poses and moves, made by edits."""
    routine = _three(Routine("T", "t.ogg"))
    for number in range(draw(st.integers(2, 12))):
        some = _edit_poses if number % 5 == 4 else _edit_moves
        try:
            routine = some(routine, draw, number) if routine.poses else _three(routine)
        except UserError:
            continue
    return routine


CORRECTIONS = {
    "twice": correct.double_tempo,
    "half": correct.halve_tempo,
    "off-beat": lambda m: correct.shift_beats(m, 0.5),
    "nudge": lambda m: correct.nudge(m, 0.017),
    "free": lambda m: correct.mark_free(m, Stretch(10.0, 14.0)),
}


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_moves_and_hits_once_more_keep_their_time_on_a_corrected_map(data):
    routine = _with_moves(data.draw)
    new = CORRECTIONS[data.draw(st.sampled_from(sorted(CORRECTIONS)))](SONG)
    after = remap(routine, SONG, new)
    pairs = [(way_off(routine, SONG), way_off(after, new))]
    for was, now in zip(routine.poses, after.poses, strict=True):
        pairs.append((moves_before(was, SONG), moves_before(now, new)))
        for a, b in zip(was.again, now.again, strict=True):
            assert new.time_of(b) == pytest.approx(SONG.time_of(a), abs=0.001)
    for was, now in pairs:
        assert [t.move.id for t in now] == [t.move.id for t in was]
        for a, b in zip(was, now, strict=True):
            assert (b.start, b.end) == pytest.approx((a.start, a.end), abs=0.002)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_move_put_in_begins_where_it_was_asked_for_and_no_hit_moves(data):
    routine, at = _with_moves(data.draw), _somewhere(data.draw)
    time = SONG.time_of(at)
    try:
        after = edits.begin_move(routine, SONG, at, "gather", counts=2, move_id="new")
    except UserError:
        return
    assert {p.id: p.hit for p in after.poses} == {p.id: p.hit for p in routine.poses}
    bed, _ = edits.find_move(after, "new")
    if bed == edits.EXIT:
        return
    placed = after.placed(bed)
    begins = [t.start for t in moves_before(placed, SONG) if t.move.id == "new"]
    if placed.transition.in_counts and not overrun(routine.placed(bed), SONG):
        # Half a quarter of a count at 120 BPM: lengths are written in quarters.
        assert begins[:1] == pytest.approx([time], abs=0.0635)
