"""What the log says of a transition: the figures recomputed by hand from its few lines."""

from dataclasses import replace
from datetime import timedelta

import pytest

from rehearse.practice.passes import PoseTaken
from rehearse.practice.transition_evidence import NEVER, Evidence, gather

from .made import MONDAY, make_pass

TODAY = MONDAY.date() + timedelta(days=5)


def keep(book, spot, days_ago, *verdicts, tempo=1.0):
    """Passes over one transition alone, a minute apart."""
    origin, pose = spot.transition.split(">")
    at = MONDAY + timedelta(days=5 - days_ago)
    for k, verdict in enumerate(verdicts):
        taken = (PoseTaken(pose, "b", 0.0, 4.0, origin, "a"),)
        book.record(make_pass(at + timedelta(minutes=k), taken=taken, tempo=tempo, verdict=verdict))


def seen(book, spots, k=1):
    return gather(book, spots, TODAY)[k]


def test_recent_judgements_weigh_most(book, spots):
    keep(book, spots[1], 4, "clean", "clean")
    keep(book, spots[1], 2, "clean", "missed", tempo=0.8)
    found = seen(book, spots)
    new, old = 0.5**0.5, 0.5  # halves in four days
    quality, judged = 0.8 * new + 2 * old, 2 * new + 2 * old
    average = (quality + 0.6) / (judged + 1)
    assert found.strength == pytest.approx((quality + average) / (judged + 1))
    assert (found.passes, found.clean, found.drilled_ago) == (4, 3.0, 2)
    assert (found.judged_last, found.clean_last) == (2.0, 1.0)
    assert (found.full_share, found.best) == (1.0, 1.0)
    untouched = seen(book, spots, 5)
    assert untouched == Evidence(spots[5], strength=pytest.approx(average))
    assert (untouched.passes, untouched.clean, untouched.days_cold) == (0, 0.0, NEVER)


def test_only_about_ten_of_the_latest_judgements_say_how_strong_it_is(book, spots):
    keep(book, spots[1], 4, *["missed"] * 8)
    keep(book, spots[1], 0, *["clean"] * 8)
    quality, judged = 8.0, 8 + 2 * 0.5  # two of the eight older ones are taken in
    average = (quality + 0.6) / (judged + 1)
    assert seen(book, spots).strength == pytest.approx((quality + average) / (judged + 1))


def test_the_last_day_is_the_newest_on_which_it_was_judged(book, spots):
    keep(book, spots[1], 3, "clean", "clean")
    keep(book, spots[1], 1, "missed")
    keep(book, spots[1], 0, None)
    found = seen(book, spots)
    assert (found.judged_last, found.clean_last, found.drilled_ago) == (1.0, 0.0, 0)
    assert found.missed_lately


def test_a_best_of_more_than_eight_days_ago_is_forgotten(book, spots):
    keep(book, spots[1], 9, "clean", tempo=1.0)
    keep(book, spots[1], 8, "clean", tempo=0.7)
    assert seen(book, spots).best == 0.7
    assert seen(book, spots).full_share == 1.0


def test_what_lies_more_than_six_weeks_back_says_nothing_of_now(book, spots):
    keep(book, spots[1], 42, *["missed"] * 4)
    keep(book, spots[2], 41, *["missed"] * 4)
    forgotten, known = seen(book, spots, 1), seen(book, spots, 2)
    assert (forgotten.judged_last, known.judged_last) == (0.0, 4.0)
    assert known.strength < forgotten.strength
    assert (forgotten.passes, forgotten.drilled_ago) == (4, 42)  # it is still no new one


def test_full_tempo_is_told_only_where_it_was_judged_not_too_long_ago(book, spots):
    """A fifth of a judgement at least: one of nine days ago, halved each four, but not of ten."""
    keep(book, spots[1], 9, "clean")
    keep(book, spots[2], 10, "clean")
    keep(book, spots[3], 0, "clean", tempo=0.99)
    assert [seen(book, spots, k).full_share for k in (1, 2, 3)] == [1.0, None, None]
    assert [seen(book, spots, k).best for k in (1, 2, 3)] == [None, None, 0.99]


def test_the_best_is_the_fastest_clean_one_whichever_day(book, spots):
    keep(book, spots[1], 3, "clean", tempo=0.9)
    keep(book, spots[1], 1, "clean", tempo=0.7)
    keep(book, spots[1], 0, "missed", tempo=1.0)
    assert seen(book, spots).best == 0.9


def test_what_is_still_to_come_is_not_looked_at(book, spots):
    keep(book, spots[1], -1, "clean", "clean")
    assert seen(book, spots).passes == 0
    assert seen(book, spots).judged_last == 0.0


@pytest.mark.parametrize(
    ("judged", "clean", "missed"),
    [(0, 0, False), (1, 0, True), (2, 1, True), (2, 1.1, False), (4, 2, True), (6, 2.5, True)],
)
def test_half_missed_is_missed(spots, judged, clean, missed):
    assert Evidence(spots[1], judged_last=judged, clean_last=clean).missed_lately is missed


@pytest.mark.parametrize(
    ("passes", "clean", "new"),
    [(0, 0, True), (7, 2.9, True), (8, 2.9, False), (7, 2.995, False), (3, 3, False)],
)
def test_three_sound_passes_or_eight_tries_end_the_new(spots, passes, clean, new):
    assert Evidence(spots[1], passes=passes, clean=clean).is_new is new


def test_neglect_counts_up_to_five_days(spots):
    fresh = Evidence(spots[1], strength=0.7, drilled_ago=0)
    needs = [replace(fresh, drilled_ago=d).need for d in (0, 1, 5, 9, None)]
    assert needs == pytest.approx([0.3, 0.35, 0.55, 0.55, 0.55])
    assert replace(fresh, filmed="late").need == pytest.approx(0.5)  # more than a miss, 0.15
