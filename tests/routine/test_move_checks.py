"""Checks of moves: at 120 BPM a count is 0.5 s (arithmetic); wanted times are common practice."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rehearse.music.position import Count, Length
from rehearse.routine.checks import check
from rehearse.routine.checks.move_checks import steps_between
from rehearse.routine.checks.timing import quarter_turns
from rehearse.routine.model import Facing, Move, Place, Routine, Side
from rehearse.routine.rules import load_rules

from .conftest import make_song, pose

SONG = make_song(eights=12)


def move(name, counts):
    return Move(name, name, Length(counts))


def told(catalogue, *poses, exit=()):
    routine = Routine("T", "t.ogg", poses=poses, exit=tuple(exit))
    return {f.kind: f for f in check(routine, SONG, catalogue, load_rules("open"))}


def two(**more):
    return pose("aa", "crucifix", Count(2, 1)), pose("bb", "crucifix", Count(4, 1), **more)


def test_moves_must_fit_their_transition(catalogue):
    bad = told(catalogue, *two(transition=4, moves=(move("gather", 4), move("rise", 2))))
    assert "1.0 s more than its transition" in bad["moves"].sentence
    assert "2 counts earlier" in bad["moves"].do
    fits = told(catalogue, *two(transition=7, moves=(move("gather", 4), move("rise", 2))))
    assert "moves" not in fits


def test_the_body_has_time_for_a_kneel_a_step_and_a_turn_at_this_tempo(catalogue):
    for name, counts in (("kneel down", 2), ("step", 0.5), ("turn", 1)):
        bad = told(catalogue, *two(transition=6, moves=(move(name, counts),)))
        assert name in bad["move"].sentence
        good = told(catalogue, *two(transition=8, moves=(move(name, 4),)))
        assert "move" not in good


def test_a_full_turn_wants_more_time_than_the_shorter_way(catalogue):
    assert quarter_turns(Facing.FRONT, Facing.LEFT) == 1  # the athlete turns to the own right
    assert quarter_turns(Facing.FRONT, Facing.LEFT, Side.RIGHT) == 1
    assert quarter_turns(Facing.FRONT, Facing.LEFT, Side.LEFT) == 3
    assert quarter_turns(Facing.FRONT, Facing.FRONT, Side.LEFT) == 4
    fast = told(catalogue, *two(transition=3, turn=Side.LEFT))
    assert "a full turn" in fast["transition"].sentence
    assert "transition" not in told(catalogue, *two(transition=6, turn=Side.LEFT))


def test_steps_for_the_distance(catalogue):
    assert steps_between(Place.CENTRE, Place.LEFT) == 2
    assert steps_between(Place.FRONT_LEFT, Place.BACK_RIGHT) == 4
    assert "distance" in told(catalogue, *two(transition=1, place=Place.LEFT))
    assert "distance" not in told(catalogue, *two(transition=4, place=Place.LEFT))


def test_a_long_way_without_a_move_has_nothing_to_do(catalogue):
    idle = told(catalogue, *two(transition=10))
    assert idle["nothing to do"].sentence.startswith("4:1 crucifix: 10 counts with nothing to do")
    filled = told(catalogue, *two(transition=10, moves=(move("gather", 8),)))
    assert "nothing to do" not in filled


def test_a_move_is_not_scolded_for_not_being_held(catalogue):
    found = told(catalogue, *two(transition=6, moves=(move("look up", 1), move("gather", 3))))
    assert not {"hold", "move", "moves"} & set(found)


def test_a_hit_once_more_outside_the_hold_is_told(catalogue):
    assert "again" in told(catalogue, *two(again=(Count(5, 1),)))
    assert "again" not in told(catalogue, *two(again=(Count(4, 3),)))


def test_the_way_off_ends_with_the_stage_part(catalogue):
    late = pose("zz", "victory", Count(12, 5))
    assert "way off" in told(catalogue, late, exit=[move("walk off", 16)])
    assert "way off" not in told(catalogue, late, exit=[move("walk off", 4)])


@pytest.mark.parametrize("which", ["moves", "move", "distance"])
def test_every_finding_says_where_and_what_to_do(catalogue, which):
    poses = two(transition=1, place=Place.LEFT, moves=(move("kneel down", 0.5), move("bow", 4)))
    finding = told(catalogue, *poses)[which]
    assert finding.do
    assert finding.place
    assert replace(finding, do="").sentence != finding.sentence
