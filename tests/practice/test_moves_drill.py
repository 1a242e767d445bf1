"""The moves of a section, drilled transition by transition."""

from __future__ import annotations

from dataclasses import replace

from rehearse.music.position import Count, Length
from rehearse.practice.drill import Drill, fixed, moves_drill, moves_scope
from rehearse.practice.passplan import Result
from rehearse.practice.scope import Scope, transition_scope
from rehearse.routine.model import Move, Placed, Routine, Section
from tests.routine.conftest import make_song

SONG = make_song(eights=12)
MOVES = (Move("m1", "gather", Length(4)),)


def routine():
    poses = [
        Placed("a", "crucifix", Count(2, 1), Length(4), Length(2)),
        Placed("b", "victory", Count(4, 1), Length(4), Length(8), moves=MOVES),
        Placed("c", "crucifix", Count(6, 1), Length(4), Length(2)),
        Placed("d", "victory", Count(8, 1), Length(4), Length(8), moves=MOVES),
    ]
    poses[3] = replace(poses[3], moves=(Move("m2", "rise", Length(2)),))
    sections = (Section("s", "first", Count(1, 1), Count(9, 1)),)
    return Routine("T", "t.ogg", poses=tuple(poses), sections=sections)


def test_a_transition_is_drilled_with_its_moves():
    scope = transition_scope(routine(), SONG, "b")
    start, _, end = routine().placed("b").times(SONG)
    assert scope.start < start, "the way out of the pose before belongs to it"
    assert scope.end == end


def test_the_transitions_with_moves_take_turns_and_only_moves_are_said():
    like = Drill(Scope("moves", "s", "", 0.0, 1.0), fixed(70), passes=2)
    work, results = moves_drill(routine(), SONG, "s", like), ()
    order = []
    while (plan := work.upcoming(results)) is not None:
        order.append(plan.scope.item)
        assert (plan.said, plan.percent, plan.scope.kind) == ("moves", 70, "transition")
        results = (*results, Result(str(len(results)), plan, None, None, True))
    assert order == ["a>b", "c>d", "a>b", "c>d"]


def test_a_section_without_moves_has_no_such_drill():
    bare = routine()
    bare = replace(bare, poses=tuple(replace(p, moves=()) for p in bare.poses))
    assert moves_scope(bare, SONG, "s") is None
    assert moves_scope(routine(), SONG, "s").name == "the moves of first"
