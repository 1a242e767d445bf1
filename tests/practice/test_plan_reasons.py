"""Each line of the plan: its reason in words and figures, its work, its source, its length."""

from dataclasses import replace

import pytest

from rehearse.practice import plan_reasons
from rehearse.practice.history import BeforeShow
from rehearse.practice.planline import COMMON
from rehearse.practice.scope import Scope
from rehearse.practice.transition_evidence import NEVER, Evidence

WHOLE = Scope("whole", "", "whole routine", 0.0, 70.0)
WAY = Scope("transition", "p00>p01", "victory → vacuum", 4.0, 14.0)


def show(days):
    return BeforeShow(0, 0, 0, days)


@pytest.fixture
def known(spots):
    """Practised, neither new nor missed."""
    return Evidence(spots[1], passes=9, strength=0.7, judged_last=2, clean_last=2, drilled_ago=1)


def test_the_first_session_is_watched_once_and_walked_once():
    line = plan_reasons.first_look(WHOLE)
    assert (line.work.runs, line.work.effort, line.work.cueing) == (2, "marked", "all")
    assert not line.work.asks  # there is nothing to lose yet
    # Two runs of 70 s, each with 2.5 s of count-in and a pause of 45 s.
    assert line.seconds == 2 * (70 + 2.5 + 45)


@pytest.mark.parametrize(
    ("days", "begins"),
    [
        (None, "A run without"), (61, "A run without"), (60, "60 days to the show. A run"),
        (1, "1 day to the show. A run"), (0, "A run without"), (-3, "A run without"),
    ],
)  # fmt: skip
def test_the_opening_run_names_the_days_of_the_last_two_months(days, begins):
    line = plan_reasons.opening(WHOLE, show(days), marked=False)
    assert line.reason.startswith(begins)
    assert (line.group, line.work.cueing, line.work.effort) == ("open", "memory", "full out")
    assert line.title == "Whole routine, full out, from memory"
    assert line.work.asks
    assert line.seconds == 70 + 2.5 + 45


def test_runs_with_and_without_cues_alternate_at_the_end():
    told = {last: plan_reasons.closing(WHOLE, last, marked=False) for last in ("all", "memory", "")}
    assert [line.work.cueing for line in told.values()] == ["memory", "all", "all"]
    assert "this time without cues" in told["all"].reason
    assert "this time with all cues" in told["memory"].reason
    marked = plan_reasons.closing(WHOLE, "", marked=True)
    assert marked.work.effort == "marked"
    assert marked.title == "Whole routine, marked, all cues"


@pytest.mark.parametrize(
    ("days", "begins"),
    [(None, "A run between"), (15, "A run between"), (14, "14 days to"), (1, "1 day to"),
     (0, "A run between")],
)  # fmt: skip
def test_a_run_between_tells_of_the_last_fortnight(days, begins):
    line = plan_reasons.between(WHOLE, show(days))
    assert line.reason.startswith(begins)
    assert (line.work.cueing, line.work.effort, line.source) == ("names", "full out", COMMON)


@pytest.mark.parametrize(
    ("clean", "told"), [(0.0, "no clean passes"), (1.0, "1 clean pass "), (1.6, "2 clean passes")]
)
def test_something_new_ends_at_full_tempo_after_three_clean_passes(known, clean, told):
    line = plan_reasons.new(replace(known, clean=clean), WAY, False)
    assert told in line.reason
    assert "about 3 clean passes" in line.reason
    steps = line.work.steps
    assert (steps.first, steps.up, steps.after, steps.down, steps.top) == (70, 15, 1, 10, 100)
    assert (line.work.passes, line.work.clean) == (6, 1)
    # Four passes are expected, at 85 % on the way: 10 s of music, 2.5 s of count-in, 6 s of rest.
    assert line.seconds == pytest.approx(4 * (10 / 0.85 + 2.5 / 0.85 + 6))
    assert line.item == "transition p00>p01"
    assert plan_reasons.new(known, WAY, True).work.steps.unjudged


def test_a_weak_one_steps_by_five_after_each_clean_pass(known):
    line = plan_reasons.turn(replace(known, best=0.9), WAY, 2, 3, False)
    steps = line.work.steps
    assert (steps.first, steps.up, steps.after, steps.down, steps.floor) == (80, 5, 1, 5, 50)
    assert (line.work.passes, line.work.clean, line.group) == (3, None, "rotate")
    assert line.id == "turn transition p00>p01 2"
    assert line.seconds == pytest.approx(3 * (10 / 0.8 + 2.5 / 0.8 + 6))


@pytest.mark.parametrize(
    ("waited", "told"),
    [
        (NEVER, "Never drilled as a part"), (0, "Once more in one piece"), (1, "Drilled yesterday"),
        (2, "last drilled 2 days ago"), (NEVER - 1, "days ago"),
    ],
)  # fmt: skip
def test_a_part_tells_how_long_it_has_waited(waited, told):
    line = plan_reasons.part(WAY, waited, 1, 4, False)
    assert told in line.reason
    steps = line.work.steps
    assert (steps.first, steps.up, steps.after, steps.down, steps.floor) == (100, 5, 1, 5, 50)
    assert line.seconds == 4 * (10 + 2.5 + 6)
    assert line.source == f"{COMMON}; Fontana et al. 2009"


@pytest.mark.parametrize(
    ("changes", "percent"),
    [
        ({"full_share": 0.7}, 100), ({"full_share": 0.69, "best": 1.0}, 90), ({"best": 1.0}, 90),
        ({"best": 0.85}, 75), ({"best": 0.6}, 60), ({}, 60), ({"best": 0.83}, 75),
        ({"full_share": 1.0, "filmed": "late"}, 80),
    ],
)  # fmt: skip
def test_a_drill_begins_a_little_under_the_best_or_at_full_where_it_is_clean(
    known, changes, percent
):
    """Ten percent under the best clean tempo, in steps of five, from 60 to 90."""
    assert plan_reasons.starting_tempo(replace(known, **changes)) == percent


@pytest.mark.parametrize(
    ("changes", "reason", "source"),
    [
        ({"filmed": "late on 3"}, "On film late on 3.", COMMON),
        ({"judged_last": 3, "clean_last": 1}, "Missed 2 of 3 last time", "Simmons 2012"),
        ({}, "(not clean lately)", "Shea & Morgan 1979"),
        ({"best": 0.85}, "(best clean 85 % lately)", "Shea & Morgan 1979"),
        ({"full_share": 0.42, "best": 1.0}, "weakest: 42 % clean at full", "Shea & Morgan 1979"),
    ],
)
def test_the_reason_is_the_strongest_that_the_log_gives(known, changes, reason, source):
    told = plan_reasons.why(replace(known, **changes))
    assert reason in told[0]
    assert told[1] == source
