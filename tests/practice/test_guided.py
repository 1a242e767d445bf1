"""A plan that runs by itself: whose turn it is, at what tempo, and when the end comes."""

from dataclasses import replace
from datetime import timedelta

import pytest

from rehearse.practice.drill import Drill, TempoSteps, fixed
from rehearse.practice.guided import Guided, turns
from rehearse.practice.passplan import Result
from rehearse.practice.planline import Plan, PlanLine, move
from rehearse.practice.scope import section_scope

from .made import MONDAY

TODAY = MONDAY.date()


def line_of(scope, key, group, passes=1, seconds=60.0):
    work = Drill(scope, fixed(100), passes=passes)
    return PlanLine(key, group, key, "", "", work, seconds)


@pytest.fixture
def two_parts(routine, beatmap):
    return [section_scope(routine, beatmap, s) for s in ("s0", "s1")]


def lines_done(plan, done, **more):
    """The line of the next pass after passes at these lines, a minute each, without a pause."""
    results, at = (), MONDAY
    for key in done:
        work = next(x.work for x in plan.lines if x.id == key)
        pass_plan = replace(work.upcoming(()), line=key, plan=plan.key)
        end = at + timedelta(seconds=60)
        results, at = (*results, Result(key, pass_plan, at, end, True, "clean")), end
    upcoming = Guided(plan, **more).upcoming(results)
    return upcoming and upcoming.line


def test_lines_come_in_order_and_only_those_beside_each_other_take_turns(two_parts):
    one, other = two_parts
    lines = (line_of(one, "a", "rotate", 2), line_of(other, "b", "rotate", 2),
             line_of(one, "run", "run"), line_of(one, "c", "rotate", 2),
             line_of(other, "new", "new", 2))  # fmt: skip
    plan = Plan(TODAY, 60.0, lines)
    order = []
    while (line := lines_done(plan, order)) is not None:
        order.append(line)
    assert sorted(order[:4]) == ["a", "a", "b", "b"]
    assert order[0] == order[1] != order[2] == order[3]  # two at a time
    assert order[4:] == ["run", "c", "c", "new", "new"]


def test_when_the_minutes_are_used_up_but_for_the_end_only_the_end_comes(two_parts):
    one, other = two_parts
    lines = (line_of(one, "a", "new", 9), line_of(other, "close", "close", seconds=60.0))
    plan = Plan(TODAY, 5.0, lines)  # four minutes before the end
    assert lines_done(plan, ["a"] * 4) == "a"
    assert lines_done(plan, ["a"] * 5) == "close"
    assert lines_done(plan, [*["a"] * 5, "close"]) is None
    assert lines_done(replace(plan, minutes=0.0), []) == "a"  # it has not begun


def test_a_stretch_met_again_goes_on_at_its_tempo_and_is_announced(two_parts):
    one, other = two_parts
    slow = Drill(one, TempoSteps(first=60, up=10, after=1), passes=1)
    lines = (replace(line_of(one, "a", "rotate"), work=slow), line_of(other, "run", "run"),
             replace(line_of(one, "b", "rotate"), work=slow))  # fmt: skip
    guided, results = Guided(Plan(TODAY, 60.0, lines, "key")), ()
    heard = []
    while (plan := guided.upcoming(results)) is not None:
        heard.append((plan.line, plan.percent, plan.say.split(",")[0], plan.plan))
        results = (*results, Result(plan.line, plan, MONDAY, MONDAY, True, "clean"))
    assert heard == [("a", 60, "Opening", "key"), ("run", 100, "Back half", "key"),
                     ("b", 70, "Opening", "key")]  # fmt: skip
    assert guided.line("b").id == "b"
    assert guided.line("c") is None


def test_a_line_that_goes_on_is_not_announced_again(two_parts):
    plan = Plan(TODAY, 60.0, (line_of(two_parts[0], "a", "new", 2),))
    first = Guided(plan).upcoming(())
    assert first.say
    assert Guided(plan).upcoming((Result("", first, MONDAY, MONDAY, True),)).say == ""


def test_a_line_is_moved_by_so_many_places_and_the_ends_hold_it(two_parts):
    plan = Plan(TODAY, 30.0, tuple(line_of(two_parts[0], key, "new") for key in "abcd"))
    moved = {by: "".join(x.id for x in move(plan, "b", by).lines) for by in (-9, -1, 0, 1, 2, 9)}
    assert moved == {-9: "bacd", -1: "bacd", 0: "abcd", 1: "acbd", 2: "acdb", 9: "acdb"}


@pytest.mark.parametrize(("passes", "turned"), [({"a": 5}, "aaa"), ({"a": 1}, "a"), ({}, "")])
def test_one_that_is_alone_comes_three_times_in_a_row_at_most(passes, turned):
    assert "".join(turns(passes, "x")) == turned


def test_of_many_those_with_the_most_left_come_first_two_at_a_time():
    for order in "abcdef":
        had = turns({"a": 6, "b": 2, "c": 2}, order)
        assert had[:2] == ("a", "a")
        assert had[4:6] == ("a", "a")
