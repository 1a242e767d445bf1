"""The moves of a section, drilled transition by transition."""

from __future__ import annotations

from dataclasses import replace

from rehearse.music.position import Count, Length
from rehearse.practice.drill import Drill, fixed, moves_drill, moves_scope, ways_with_moves
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


def test_only_the_section_with_the_hit_has_the_way_and_its_drill_spans_all_of_its_ways():
    """A hit on the very end belongs to the section behind it."""
    ends = (
        Section("s", "first", Count(4, 1), Count(8, 1)),
        Section("t", "x", Count(8, 1), Count(9, 1)),
    )
    made = replace(routine(), sections=ends)
    ways = (
        [w.item for w in ways_with_moves(made, SONG, "s")],
        [w.item for w in ways_with_moves(made, SONG, "t")],
    )
    assert ways == (["a>b"], ["c>d"])
    both = ways_with_moves(routine(), SONG, "s")
    scope = moves_scope(routine(), SONG, "s")
    assert (scope.kind, scope.item) == ("moves", "s")
    assert (scope.start, scope.end) == (both[0].start, both[1].end)


def test_the_next_turn_is_that_of_the_way_behind_the_last_one():
    like = Drill(Scope("moves", "s", "", 0.0, 1.0), fixed(70), passes=2)
    work = moves_drill(routine(), SONG, "s", like)
    first = work.upcoming(())
    assert first.say == "crucifix to victory, 70 percent"
    broken = Result("1", first, None, None, False)
    assert work.upcoming((broken,)).scope.item == "c>d"
    whole = replace(broken, complete=True)
    assert work.upcoming((whole, whole)).scope.item == "c>d"
    done = replace(whole, plan=work.upcoming((whole,)))
    assert work.upcoming((whole, whole, done)).scope.item == "c>d"  # the other has had its two


def test_a_section_without_moves_has_no_such_drill():
    bare = routine()
    bare = replace(bare, poses=tuple(replace(p, moves=()) for p in bare.poses))
    assert moves_scope(bare, SONG, "s") is None
    assert moves_scope(routine(), SONG, "s").name == "the moves of first"
