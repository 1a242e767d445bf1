"""A simulated month: the plan finds the weak spots, lets nothing go cold, and adapts.

Athletes are scripted (see `athlete.py`); everything else is the real practice code and a real
logbook on disk, with the clock handed on.
"""

import random
from collections import Counter
from datetime import timedelta

import pytest

from rehearse.practice.history import heat
from rehearse.practice.logbook import Logbook
from rehearse.practice.plan import make_plan
from rehearse.practice.summary import summarise

from .athlete import month, strong_with_weak
from .made import MONDAY

WEAK = ("p03", "p08", "p11")


@pytest.fixture(scope="module")
def lived(tmp_path_factory, routine, beatmap, spots):
    """A month of one athlete: (what happened, the logbook, the athlete)."""
    path = tmp_path_factory.mktemp("month") / "practice.sqlite"
    athlete = strong_with_weak(spots, WEAK, 7)
    with Logbook(path) as book:
        yield month(book, routine, beatmap, athlete, MONDAY), book, athlete


def by_themselves(plan):
    """Poses whose transition has a line of its own because it is weak."""
    return {
        x.item.rpartition(">")[2]
        for x in plan.lines
        if x.group == "rotate" and x.item.startswith("transition")
    }


def test_hundreds_of_passes_went_through(lived):
    happened, book, _ = lived
    assert len(happened.plans) == 26
    assert len(happened.passes) > 800
    assert book.history() == tuple(happened.passes)


@pytest.mark.parametrize("number", range(12))
def test_weak_spots_are_found_within_three_sessions(tmp_path, routine, beatmap, spots, number):
    weak = set(random.Random(number).sample([s.pose for s in spots], 3))
    athlete = strong_with_weak(spots, weak, number)
    with Logbook(tmp_path / "practice.sqlite") as book:
        happened = month(book, routine, beatmap, athlete, MONDAY, days=3)
    first, second, third = (by_themselves(p) for p in happened.plans.values())
    assert first == set(), "nothing is known before the first session"
    assert weak <= second | third


def test_nothing_goes_without_a_drill_for_more_than_five_days(lived, spots):
    happened, _, _ = lived
    last = {s.transition: MONDAY.date() for s in spots}
    longest = 0
    for done in happened.passes:
        for pose in done.taken if done.kind == "drill" else ():
            if pose.origin is not None:
                way = f"{pose.origin}>{pose.pose}"
                longest = max(longest, (done.started.date() - last[way]).days)
                last[way] = done.started.date()
    end = (MONDAY + timedelta(days=29)).date()
    assert max(longest, *((end - day).days for day in last.values())) <= 5


def test_the_plan_adapts_as_the_weak_spots_get_clean(lived):
    happened, _, athlete = lived
    alone = Counter()
    for done in happened.passes:
        if done.transition:
            week = (done.started.date() - MONDAY.date()).days // 7
            alone[week, done.transition in WEAK] += 1
    assert alone[0, True] > 2 * alone[0, False] * len(WEAK) / (14 - len(WEAK))
    assert alone[3, True] < alone[0, True] / 4
    assert all(athlete.strength[pose] > 2.5 for pose in WEAK)


def test_a_spot_that_goes_bad_later_is_taken_up_again(lived, routine, beatmap, tmp_path):
    _, book, athlete = lived
    with Logbook(tmp_path / "practice.sqlite") as copy:
        copy.record_all(book.history())
        athlete.strength["p05"] = -1.0
        after = month(copy, routine, beatmap, athlete, MONDAY + timedelta(days=30), days=4)
    assert any("p05" in by_themselves(plan) for plan in list(after.plans.values())[1:4])


def test_neglect_is_made_good_even_after_a_week_away(lived, routine, beatmap):
    _, book, _ = lived
    back = (MONDAY + timedelta(days=38)).date()
    plan = make_plan(book, routine, beatmap, minutes=30, today=back)
    drilled = {x.title for x in plan.lines if x.group == "rotate"}
    assert {"Opening", "Back half", "Floor", "Closing"} <= drilled


def test_the_summary_shows_what_happened(lived, routine, spots):
    happened, book, _ = lived
    today = max(happened.plans)
    summary = summarise(book, routine, spots, today)
    runs = [p for p in happened.passes if p.kind == "run"]
    assert summary.whole.passes == len(runs)
    for standing in summary.transitions:
        assert standing.best_clean == 1.0
        assert standing.clean_share > 0.5
    for standing in summary.sections:
        mine = [p for p in happened.passes if p.section == standing.item]
        assert standing.passes == len(mine)
        assert standing.last.timestamp() == max(p.started for p in mine).timestamp()
    assert all(h.days_ago <= 1 and h.passes > 50 for h in heat(book, spots, today))
