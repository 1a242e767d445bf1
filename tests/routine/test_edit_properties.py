"""Whatever is edited and undone in whatever order: nothing is lost, everything can be written."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.files.fault import Fault
from rehearse.files.yamlfile import dump_yaml, parse_yaml
from rehearse.music.position import Length
from rehearse.routine import edits
from rehearse.routine.model import Facing, OwnPose, Routine, StagePart
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


def _edit(routine: Routine, draw, number: int) -> Routine:
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
    past, future = [Routine("T", "t.ogg")], []
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
            except Fault:  # a refused edit leaves everything as it was
                edited = past[-1]
            assert dump_yaml(routine_data(past[-1])) == before
            past.append(edited)
            future.clear()
        _is_sound(past[-1], catalogue)
    assert past[0] == Routine("T", "t.ogg")


def _is_sound(routine, catalogue):
    times = [SONG.time_of(p.hit) for p in routine.poses]
    assert times == sorted(times)
    assert all(0 <= t <= SONG.duration + 1e-6 for t in times)
    ids = [p.id for p in routine.poses] + [s.id for s in routine.sections]
    assert len(set(ids)) == len(ids)
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
