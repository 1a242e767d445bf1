"""Pinned hits stay when poses are put in, taken out or shown once more; what moves is told."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import dump_yaml, parse_yaml
from rehearse.music.beatmap import Accent
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine import edits
from rehearse.routine.accent_pins import is_pinned, nearest_places, next_place
from rehearse.routine.checks import check
from rehearse.routine.model import Facing, Move, Routine, Section, Side
from rehearse.routine.model import Place as PlaceOnStage
from rehearse.routine.routinedata import routine_data
from rehearse.routine.routinefile import read_routine
from rehearse.routine.rules import load_rules
from tests.routine.conftest import make_song, pose

#: 120 BPM, a count 0.500 s, an eight 4.000 s from 4.0 s on (arithmetic of the tempo marking);
#: accents on 3:1, 6:1 and, a little late, on 9:1.
SONG = make_song(accents=(Accent(12.0, 0.9), Accent(24.0, 1.0), Accent(36.04, 0.8)))
NAMES = ("front double biceps", "side chest left", "back lat spread", "crucifix", "vacuum")


def made(*hits, hold=3, transition=2):
    """A pose on each of these counts, called a, b, c, …"""
    poses = (
        pose("abcdefghij"[k], NAMES[k % len(NAMES)], hit, hold, transition)
        for k, hit in enumerate(hits)
    )
    return Routine("Made", "song.wav", poses=tuple(poses))


EIGHTS = made(Count(2, 1), Count(3, 1), Count(4, 1), Count(5, 1), Count(6, 1), Count(7, 1))


def hits(routine):
    return {p.id: str(p.hit) for p in routine.poses}


def test_hits_on_accents_are_pinned_and_others_when_it_is_written():
    assert [is_pinned(p, SONG) for p in EIGHTS.poses] == [False, True, False, False, True, False]
    loose = edits.change(EIGHTS, SONG, "b", pinned=False)
    fast = edits.change(loose, SONG, "c", pinned=True)
    assert [is_pinned(p, SONG) for p in fast.poses] == [False, False, True, False, True, False]
    # Written on its count, an accent 40 ms late is the hit that is meant.
    late = edits.place(Routine("T", "t.ogg"), SONG, "vacuum", Count(9, 1), pose_id="x")
    assert is_pinned(late.placed("x"), SONG)


def test_a_pin_is_written_and_read_and_format_1_needs_none(catalogue):
    routine = edits.change(EIGHTS, SONG, "a", pinned=True)
    routine = edits.change(routine, SONG, "b", pinned=False)
    text = dump_yaml(routine_data(routine))
    assert text.startswith(b"format: 2\n")
    assert text.count(b"pinned: true") == text.count(b"pinned: false") == 1
    assert read_routine(parse_yaml(text, Path("routine.yaml")), Path(), SONG, catalogue) == routine
    old = dump_yaml(routine_data(EIGHTS))
    assert b"pinned" not in old
    assert read_routine(parse_yaml(old, Path("routine.yaml")), Path(), SONG, catalogue) == EIGHTS


def test_inserting_moves_only_what_lies_before_the_next_pinned_pose():
    new = edits.insert(EIGHTS, SONG, "victory", Count(3, 5), pose_id="new")
    # Need: four counts of hold and two of transition. The last before 6:1 has three counts free
    # behind it, half-way to that hit are four: four is what all move by.
    assert hits(new) == {
        "a": "2:1", "b": "3:1", "new": "3:5", "c": "4:5", "d": "5:5", "e": "6:1", "f": "7:1",
    }  # fmt: skip
    rules = load_rules("open")
    from rehearse.routine.poses import load_catalogue

    found = check(new, SONG, load_catalogue(), rules)
    assert not [f for f in found if f.kind == "overlap"]


def test_inserting_the_other_way_moves_everything():
    new = edits.insert(EIGHTS, SONG, "victory", Count(3, 5), pose_id="new", pins=False)
    assert [hits(new)[i] for i in "bcdef"] == ["3:1", "4:7", "5:7", "6:7", "7:7"]


def test_with_enough_room_what_moves_moves_by_all_that_is_needed():
    wide = made(Count(2, 1), Count(3, 3), Count(6, 1), Count(7, 1))
    new = edits.insert(wide, SONG, "victory", Count(3, 1), pose_id="new")
    assert hits(new) == {"a": "2:1", "new": "3:1", "b": "4:1", "c": "6:1", "d": "7:1"}
    assert new.placed("b").hold == Length(3)
    assert new.placed("new").hold == Length(4)


def test_a_pinned_hit_gives_way_to_no_pose_put_on_it():
    for hit in (Count(6, 1), Count(5, 8)):
        with pytest.raises(UserError, match=r"pinned at 6:1 and leaves no room"):
            edits.insert(EIGHTS, SONG, "victory", hit)


def test_taking_out_moves_up_to_the_next_pinned_pose_only():
    closed = edits.take_out(EIGHTS, SONG, "c", close_up=True)
    assert hits(closed) == {"a": "2:1", "b": "3:1", "d": "4:1", "e": "6:1", "f": "7:1"}
    other = edits.take_out(EIGHTS, SONG, "c", close_up=True, pins=False)
    assert hits(other) == {"a": "2:1", "b": "3:1", "d": "4:1", "e": "5:1", "f": "6:1"}
    # The next one is pinned: nothing moves.
    assert edits.take_out(EIGHTS, SONG, "d", close_up=True) == edits.take_out(EIGHTS, SONG, "d")


def test_several_taken_out_close_up_by_all_their_room():
    run = edits.take_out_all(EIGHTS, SONG, ["c", "d"], close_up=True, pins=False)
    assert hits(run) == {"a": "2:1", "b": "3:1", "e": "4:1", "f": "5:1"}
    # Pinned ones among those taken out hold nothing any more.
    pinned = edits.take_out_all(EIGHTS, SONG, ["b", "c"], close_up=True)
    assert hits(pinned) == {"a": "2:1", "d": "3:1", "e": "6:1", "f": "7:1"}
    apart = edits.take_out_all(EIGHTS, SONG, ["a", "c"], close_up=True, pins=False)
    assert hits(apart) == {"b": "2:1", "d": "3:1", "e": "4:1", "f": "5:1"}


def test_sections_before_a_pinned_pose_keep_their_end():
    parts = (
        Section("s1", "One", Count(3, 3), Count(5, 7)),
        Section("s2", "Two", Count(5, 7), Count(8, 1)),
    )
    routine = replace(EIGHTS, sections=parts)
    new = edits.insert(routine, SONG, "victory", Count(3, 5), pose_id="new")
    assert [(str(s.start), str(s.end)) for s in new.sections] == [("3:3", "5:7"), ("5:7", "8:1")]
    closed = edits.take_out(routine, SONG, "c", close_up=True)
    assert [(str(s.start), str(s.end)) for s in closed.sections] == [("3:3", "5:7"), ("5:7", "8:1")]


def test_a_pose_shown_once_more_is_never_put_on_the_next_one():
    tight = made(Count(2, 1), Count(2, 7), Count(3, 5), hold=4)
    new = edits.duplicate(tight, SONG, ["a"], ["new"])
    # Held to 2:5, two counts of transition; the next one moves on by the six that it needs.
    assert hits(new) == {"a": "2:1", "new": "2:7", "b": "3:5", "c": "4:3"}
    room = edits.duplicate(EIGHTS, SONG, ["d"], ["new"])
    assert hits(room) == hits(EIGHTS) | {"new": "5:6"}
    assert room.placed("new").hold.value < 3  # the pinned one behind keeps its transition
    with pytest.raises(UserError, match="leaves no room"):
        edits.duplicate(made(Count(5, 5), Count(6, 1), hold=4), SONG, ["a"])


@settings(max_examples=150)
@given(st.data())
def test_no_pinned_hit_moves_whatever_is_put_in_or_taken_out(data):
    counts = data.draw(st.lists(st.integers(0, 120), min_size=1, max_size=12, unique=True))
    lengths = st.integers(1, 8)
    poses = tuple(
        pose(
            f"p{k}", NAMES[k % 5], Count(k // 8 + 1, k % 8 + 1), data.draw(lengths),
            data.draw(lengths), pinned=data.draw(st.sampled_from([None, None, True, False])),
        )
        for k in sorted(counts)
    )  # fmt: skip
    routine = Routine("T", "t.ogg", poses=poses)
    pins = {p.id: p.hit for p in poses if is_pinned(p, SONG)}
    where = SONG.counts[data.draw(st.integers(0, 130))]
    some = data.draw(st.lists(st.sampled_from([p.id for p in poses]), min_size=1, unique=True))
    try:
        match data.draw(st.sampled_from(["insert", "out", "more"])):
            case "insert":
                new, gone = edits.insert(routine, SONG, "victory", where, pose_id="new"), set()
            case "out":
                new = edits.take_out_all(routine, SONG, some, close_up=True)
                gone = set(some)
            case _:
                new, gone = edits.duplicate(routine, SONG, some[:1], ["new"]), set()
    except UserError:
        return
    after = {p.id: p.hit for p in new.poses}
    assert {i: after[i] for i in pins if i not in gone} == {
        i: h for i, h in pins.items() if i not in gone
    }
    order = [p.id for p in new.poses if p.id != "new"]
    assert order == [p.id for p in poses if p.id not in gone], "nobody passes another"
    times = [SONG.time_of(p.hit) for p in new.poses]
    assert all(b - a > 0.02 for a, b in itertools.pairwise(times))


def test_from_accent_to_accent():
    assert next_place(EIGHTS, SONG, 12.0, 1) == (24.0, Count(6, 1))
    assert next_place(EIGHTS, SONG, 13.0, 2) == (36.0, Count(9, 1))
    assert next_place(EIGHTS, SONG, 24.0, -1) == (12.0, Count(3, 1))
    assert next_place(EIGHTS, SONG, 12.0, -1) is None
    assert next_place(EIGHTS, SONG, 36.0, 1) is None


def test_each_goes_to_its_nearest_accent_and_none_past_another():
    routine = made(Count(2, 7), Count(3, 3), Count(5, 5), Count(8, 1), Count(8, 7))
    found = nearest_places(routine, SONG, "abcde")
    # a and b want 3:1 and are as far from it; c wants 6:1; d and e want 9:1, e is nearer.
    assert found == {"a": Count(3, 1), "c": Count(6, 1), "e": Count(9, 1)}
    alone = nearest_places(routine, SONG, "d")
    assert alone == {}, "another pose is on the way"
    there = edits.onto_accents(routine, SONG, "abcde")
    assert [str(p.hit) for p in there.poses] == ["3:1", "3:3", "6:1", "8:1", "9:1"]
    assert nearest_places(routine, make_song(), "abcde") == {}


def test_no_pose_is_put_on_an_accent_beside_another():
    # Two accents half a second apart: one pose only, there is no time for two.
    close = make_song(accents=(Accent(12.0, 0.9), Accent(12.5, 0.9)))
    routine = made(Count(2, 7), Count(3, 4))
    assert edits.onto_accents(routine, close, "ab") != routine
    times = [close.time_of(p.hit) for p in edits.onto_accents(routine, close, "ab").poses]
    assert times[1] - times[0] >= 1.0 - 0.02


def test_a_phrase_keeps_its_counts_where_it_is_pasted():
    phrase = edits.copy(EIGHTS, SONG, "abc")
    new = edits.paste(EIGHTS, SONG, phrase, Count(10, 3), pose_ids=["x", "y", "z"])
    assert [hits(new)[i] for i in "xyz"] == ["10:3", "11:3", "12:3"]
    assert [p for p in new.poses if p.id in "abcdef"] == list(EIGHTS.poses)
    assert [new.placed(i).pose for i in "xyz"] == list(NAMES[:3])
    assert not any(is_pinned(new.placed(i), SONG) for i in "xyz"), "its accent did not come along"


def test_a_phrase_gives_way_to_its_neighbours_and_takes_no_ones_place():
    phrase = edits.copy(EIGHTS, SONG, "ab")
    with pytest.raises(UserError, match="1 pose is hit there"):
        edits.paste(EIGHTS, SONG, phrase, Count(4, 8))
    instead = edits.paste(EIGHTS, SONG, phrase, Count(4, 8), pose_ids="xy", instead=True)
    assert hits(instead) == {
        "a": "2:1", "b": "3:1", "c": "4:1", "x": "4:8", "y": "5:8", "e": "6:1", "f": "7:1",
    }  # fmt: skip
    with pytest.raises(UserError, match="past the end of the music"):
        edits.paste(EIGHTS, SONG, edits.copy(EIGHTS, SONG, "abc"), Count(18, 5))
    with pytest.raises(KeyError):
        edits.paste(EIGHTS, SONG, phrase, Count(40, 1))


def test_a_section_is_copied_with_its_name(catalogue):
    part = Section("s1", "Opening", Count(1, 7), Count(3, 5))
    routine = replace(EIGHTS, sections=(part,))
    phrase = edits.mirrored(edits.copy(routine, SONG, "ab", part), catalogue)
    new = edits.paste(routine, SONG, phrase, Count(11, 1), pose_ids="xy")
    assert [(s.name, str(s.start), str(s.end)) for s in new.sections] == [
        ("Opening", "1:7", "3:5"), ("Opening mirrored", "10:7", "12:5"),
    ]  # fmt: skip
    twice = edits.paste(new, SONG, phrase, Count(14, 1))
    assert twice.sections[-1].name == "Opening mirrored 2"


def test_mirrored_twice_is_the_same(catalogue):
    named = tuple(
        pose(f"p{k}", p.name, Count(1 + k // 8, 1 + k % 8), facing=None)
        for k, p in enumerate(catalogue.poses)
    )
    turned = replace(named[0], id="t", facing=Facing.LEFT, say="turn left")
    routine = Routine("T", "t.ogg", poses=(*named, turned))
    phrase = edits.copy(routine, SONG, [p.id for p in routine.poses])
    once = edits.mirrored(phrase, catalogue)
    assert edits.mirrored(once, catalogue) == phrase
    by_id = {p.id: p for p in once.poses}
    assert (by_id["t"].facing, by_id["t"].say) == ("right side", "turn right")
    sides = [(a, b) for a, b in zip(phrase.poses, once.poses, strict=True) if "left" in a.pose]
    assert sides
    assert all(b.pose == a.pose.replace("left", "right") for a, b in sides)


def test_moves_turns_places_and_what_is_hit_again_go_along(catalogue):
    reach = Move("m1", "reach", Length(1), Side.LEFT, "out to the left")
    full = replace(
        EIGHTS.poses[2], moves=(reach,), turn=Side.LEFT, again=(Count(4, 3),),
        place=PlaceOnStage.FRONT_LEFT,
    )  # fmt: skip
    routine = replace(EIGHTS, poses=(*EIGHTS.poses[:2], full, *EIGHTS.poses[3:]))
    later = edits.move_all(routine, SONG, "c", Length(2))
    assert later.placed("c").again == (Count(4, 5),)
    pushed = edits.insert(routine, SONG, "victory", Count(3, 5), pose_id="new")
    assert (pushed.placed("c").hit, pushed.placed("c").again) == (Count(4, 5), (Count(4, 7),))
    phrase = edits.mirrored(edits.copy(routine, SONG, "c"), catalogue)
    new = edits.paste(routine, SONG, phrase, Count(10, 1), pose_ids="x").placed("x")
    assert (new.turn, new.place, new.again) == (
        Side.RIGHT, PlaceOnStage.FRONT_RIGHT, (Count(10, 3),),
    )  # fmt: skip
    assert (new.moves[0].side, new.moves[0].direction) == (Side.RIGHT, "out to the right")
    assert new.moves[0].id != "m1"


def test_all_move_by_an_eight_or_none_does():
    eight = edits.eight_at(SONG, 12.0)
    assert eight == Length(8)
    new = edits.move_all(EIGHTS, SONG, "ef", eight)
    assert [hits(new)[i] for i in "ef"] == ["7:1", "8:1"]
    with pytest.raises(UserError, match="before the music begins"):
        edits.move_all(made(Seconds(2.0), Count(3, 1)), SONG, "ab", Length(-8))


def test_an_eight_of_bars_of_three_has_six_counts():
    waltz = replace(make_song(), places=tuple(k % 3 + 1 for k in range(144)))
    assert edits.eight_at(waltz, 12.0) == Length(6)


def test_a_selection_swaps_with_the_pose_after_it():
    new = edits.swap_with_next(EIGHTS, SONG, ["b", "c"])
    assert [p.id for p in new.poses] == ["a", "d", "b", "c", "e", "f"]
    assert [str(p.hit) for p in new.poses] == [str(p.hit) for p in EIGHTS.poses]
    assert edits.swap_with_next(EIGHTS, SONG, ["b"]) == edits.swap(EIGHTS, SONG, "b", "c")
    with pytest.raises(UserError, match="no pose after"):
        edits.swap_with_next(EIGHTS, SONG, ["e", "f"])
