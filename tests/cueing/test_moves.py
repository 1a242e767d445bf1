"""Moves in the voice: rules over an invented routine and a voice of known lengths.

At 120 BPM a count is 0.5 s (arithmetic of the tempo marking); the counts begin at 2.0 s.
"""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.cueing.cue_options import CueVolumes, VolumeStep
from rehearse.cueing.cues import CueSheet
from rehearse.cueing.speech import SpeechChoice, plan_speech
from rehearse.music.position import Length, parse_position
from rehearse.routine.model import Move, Placed, Routine, Side
from rehearse.routine.moves import load_moves
from rehearse.routine.poses import load_catalogue

from .test_speech import NAMES, beat_map, said, voice

KINDS = [kind.name for kind in load_moves().moves]


def move(name, counts, side=None):
    return Move(name, name, Length(counts), side)


def sheet(*poses, exit=()):
    placed = tuple(
        Placed(f"{k:08x}", name, parse_position(hit), Length(4), Length(way), moves=tuple(moves),
               again=tuple(parse_position(a) for a in again))
        for k, (name, hit, way, moves, again) in enumerate(poses)
    )  # fmt: skip
    routine = Routine("t", "t.wav", poses=placed, exit=tuple(exit))
    return CueSheet.compile(routine, beat_map(), load_catalogue())


TWO = sheet(
    ("crucifix", "2:1", 4, [], ["2:3"]),
    ("victory", "4:5", 12, [move("gather", 4), move("reach up", 4, Side.RIGHT)], []),
    exit=[move("walk off", 4)],
)


def plan(sheet, **choice):
    return plan_speech(sheet, 2.0, 40.0, voice, choice=SpeechChoice(**choice))


def test_a_move_is_said_as_it_begins_and_no_name_is_lost_for_it():
    speech = plan(TWO)
    # Transition from 3:1 (10.0 s of the track, 8.0 s of output); reach up four counts later.
    assert [(ln.text, ln.onset) for ln in said(speech, "move")] == [
        ("gather", pytest.approx(8.0)),
        ("reach up right", pytest.approx(10.0)),
        ("walk off", pytest.approx(16.0)),
    ]
    alone = plan(TWO, said="poses")
    assert said(speech, "name") == said(alone, "name")
    assert not said(alone, "move")


def test_moves_alone_are_said_for_learning_the_way():
    speech = plan(TWO, said="moves")
    assert not said(speech, "name")
    assert not speech.unsaid, "names that are not wished are not missed"
    assert len(said(speech, "move")) == 3
    assert said(speech, "count"), "the counts stay"


def test_from_memory_and_with_counts_only_no_move_is_said():
    for cueing in ("memory", "counts"):
        assert not said(plan(TWO, cueing=cueing), "move")
    silent = CueVolumes(VolumeStep.OFF, VolumeStep.LOUD, VolumeStep.LOUD)
    assert not said(plan(TWO, levels=silent), "move")


def test_again_clicks_as_the_last_count_before_a_hit_does():
    clicks = [ln for ln in said(plan(TWO), "click") if ln.text == "again"]
    assert [(ln.at, ln.strong, ln.cue) for ln in clicks] == [(5.0, True, 0)]


def test_a_move_that_begins_in_the_last_counts_gives_way_to_them():
    crowded = sheet(
        ("crucifix", "2:1", 4, [], []),
        ("victory", "4:1", 8, [move("gather", 6), move("present an arm", 1)], []),
    )
    speech = plan(crowded)
    assert [ln.text for ln in said(speech, "move")] == ["gather"]
    counts = [ln.text for ln in said(speech, "count") if ln.onset > 8.0]
    assert counts[-2:] == ["7", "8"]


def test_a_move_two_counts_before_a_hit_takes_the_third_last_count_and_no_later_one():
    """ "gather" begins three counts before the hit and takes 0.36 s: over before the 7 is said."""
    made = sheet(("crucifix", "2:1", 4, [], []), ("victory", "4:1", 3, [move("gather", 1)], []))
    speech = plan(made)
    onset = made.cues[1].start - 2.0
    assert [(ln.text, ln.onset) for ln in said(speech, "move")] == [("gather", onset)]
    assert [ln.text for ln in said(speech, "count")][-3:] == ["5", "7", "8"]


@pytest.mark.parametrize(("way", "moves"), [(4, []), (3, ["gather"])])
def test_a_move_is_not_said_into_the_hit_it_begins_with(way, moves):
    """The way begins on the hit before or a count after it; a hit is left alone for 0.25 s."""
    made = sheet(("crucifix", "2:1", 4, [], []), ("victory", "2:5", way, [move("gather", 1)], []))
    assert [ln.text for ln in said(plan(made), "move")] == moves


@pytest.mark.parametrize(
    ("start", "end", "moves", "clicks"),
    [
        (7.0, 40.0, ["gather", "reach up right", "walk off"], [0.0]),  # from the again on
        (7.2, 12.0, ["gather"], []),  # up to where "reach up" begins
        (10.0, 12.5, ["gather"], []),  # its words would be heard behind the end
        (10.2, 13.0, ["reach up right"], []),
        (2.0, 7.0, [], []),
    ],
)
def test_a_pass_says_and_clicks_what_begins_and_ends_inside_it(start, end, moves, clicks):
    speech = plan_speech(TWO, start, end, voice)
    assert [ln.text for ln in said(speech, "move")] == moves
    assert [ln.at for ln in said(speech, "click") if ln.text == "again"] == clicks


@settings(max_examples=80, deadline=None)
@given(st.data())
def test_whatever_the_routine_is_no_name_gives_way_and_nothing_is_said_over_another(data):
    draw, hit, poses = data.draw, 8, []
    for _ in range(draw(st.integers(1, 6))):
        way = draw(st.integers(1, 12))
        hit += way + draw(st.integers(1, 8))
        moves = [
            move(name, draw(st.sampled_from([0.5, 1, 2, 4])))
            for name in draw(st.lists(st.sampled_from(KINDS), max_size=4, unique=True))
        ]
        position = f"{hit // 8 + 1}:{hit % 8 + 1}"
        poses.append((draw(st.sampled_from(NAMES)), position, way, moves, []))
    made = sheet(*poses)
    tempo = draw(st.sampled_from([0.4, 0.7, 1.0]))
    spoken = {
        which: plan_speech(made, 2.0, 60.0, voice, tempo=tempo, choice=SpeechChoice(said=which))
        for which in ("both", "poses")
    }
    assert said(spoken["both"], "name") == said(spoken["poses"], "name")
    assert spoken["both"].unsaid == spoken["poses"].unsaid
    lines = [ln for ln in spoken["both"].lines if ln.kind != "click"]
    for one, other in itertools.pairwise(lines):
        assert one.end <= other.at + 1e-6
    begins = [(m.start - 2.0) / tempo for cue in made.cues for m in cue.moves]
    for line in said(spoken["both"], "move"):
        assert min(abs(line.onset - at) for at in begins) < 1e-6
        for cue in made.cues:
            assert not line.at < (cue.hit - 2.0) / tempo < line.end
