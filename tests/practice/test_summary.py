"""Standings, warmth and calendar against counts worked by hand."""

from dataclasses import replace
from datetime import timedelta

import pytest

from rehearse.practice.history import before_show, calendar, heat
from rehearse.practice.passes import PoseTaken, Share, shares
from rehearse.practice.scope import spots_of
from rehearse.practice.summary import summarise

from .made import MONDAY, make_pass

TODAY = MONDAY.date()


def taken_of(spots, *poses):
    return tuple(
        PoseTaken(s.pose, s.name, s.start, s.end, s.origin, s.origin_name)
        for s in spots
        if s.pose in poses
    )


def test_a_verdict_is_shared_among_the_poses():
    taken = tuple(PoseTaken(p, p, k * 4.0, k * 4.0 + 4.0, "") for k, p in enumerate("abcd"))
    clean, nothing = Share(1.0, 1.0), Share(0.0, 0.0)
    assert shares(taken, None, None) == (nothing,) * 4
    assert shares(taken, "clean", None) == (clean,) * 4
    assert shares(taken, "missed", None) == (Share(0.25, 0.0),) * 4
    assert shares(taken, "missed", 9.0) == (clean, clean, Share(1.0, 0.0), nothing)
    assert shares(taken, "missed", 99.0) == (clean, clean, clean, Share(1.0, 0.0))
    assert shares((), "missed", 1.0) == ()


def test_never_practised_stands_there_with_nothing(book, routine, spots):
    summary = summarise(book, routine, spots, TODAY)
    assert len(summary.poses) == len(summary.transitions) == 14
    first = summary.sections[0]
    assert (first.name, first.passes, first.last, first.best_clean) == ("Opening", 0, None, None)
    assert first.clean_share is None
    assert first.trend_word == "too few"


def test_counts_by_hand(book, routine, spots):
    taken = taken_of(spots, "p03", "p04")
    for tempo, verdict in ((0.6, "clean"), (0.8, "clean"), (1.0, "missed"), (1.0, "clean")):
        book.record(
            make_pass(section="s1", section_name="Back half", tempo=tempo, verdict=verdict,
                      taken=taken)
        )  # fmt: skip
    book.record(make_pass(section="s1", section_name="Back half", complete=False, taken=taken[:1]))
    summary = summarise(book, routine, spots, TODAY)
    section = summary.sections[1]
    assert (section.passes, section.drilled, section.best_clean) == (4, 4, 1.0)
    assert section.clean_share == pytest.approx(0.5)
    assert section.last == MONDAY
    pose = next(s for s in summary.poses if s.item == "p03")
    assert pose.passes == 5  # the one broken off took it in as well
    # One full-tempo miss shared by two poses counts half: 1 / 1.5.
    assert pose.clean_share == pytest.approx(1 / 1.5)
    way = next(s for s in summary.transitions if s.item == "p03>p04")
    assert (way.passes, way.name) == (4, "side triceps left → back double biceps")


def test_what_was_taken_out_or_renamed_keeps_its_history(book, routine, beatmap, spots):
    book.record(make_pass(section="s1", section_name="Back half", taken=taken_of(spots, "p04")))
    gone = replace(routine, sections=routine.sections[2:], poses=routine.poses[5:])
    summary = summarise(book, gone, spots_of(gone, beatmap), TODAY)
    old = summary.sections[-1]
    assert (old.name, old.gone, old.passes) == ("Back half", True, 1)
    assert [(s.name, s.gone) for s in summary.poses[-1:]] == [("back double biceps", True)]
    renamed = replace(routine.sections[1], name="Backs")
    sections = (routine.sections[0], renamed, *routine.sections[2:])
    summary = summarise(book, replace(routine, sections=sections), spots, TODAY)
    assert (summary.sections[1].name, summary.sections[1].passes) == ("Backs", 1)
    assert not any(s.gone for s in summary.sections)


def test_a_pose_moved_keeps_its_own_but_its_way_in_is_new(book, routine, beatmap, spots):
    book.record(make_pass(taken=taken_of(spots, "p04")))
    a, b = routine.poses[3], routine.poses[4]
    swapped = (replace(a, hit=b.hit), replace(b, hit=a.hit))
    moved = replace(routine, poses=(*routine.poses[:3], *swapped, *routine.poses[5:]))
    summary = summarise(book, moved, spots_of(moved, beatmap), TODAY)
    assert next(s for s in summary.poses if s.item == "p04").passes == 1
    assert next(s for s in summary.transitions if s.item == "p02>p04").passes == 0
    assert [(s.item, s.gone) for s in summary.transitions if s.passes] == [("p03>p04", True)]


def test_the_trend_compares_two_fortnights(book, routine, spots):
    taken = taken_of(spots, "p03")
    for ago, verdict in ((20, "missed"), (20, "clean"), (20, "missed"), (2, "clean"),
                         (2, "clean"), (2, "clean")):  # fmt: skip
        book.record(make_pass(MONDAY - timedelta(days=ago), verdict=verdict, taken=taken))
    standing = next(s for s in summarise(book, routine, spots, TODAY).poses if s.item == "p03")
    assert standing.trend == pytest.approx(1 - 1 / 3)
    assert standing.trend_word == "rising"


def test_warmth_halves_in_four_days(book, spots):
    for _ in range(8):
        book.record(make_pass(MONDAY, taken=taken_of(spots, "p00")))
        book.record(make_pass(MONDAY - timedelta(days=4), taken=taken_of(spots, "p01")))
        book.record(make_pass(MONDAY - timedelta(days=40), taken=taken_of(spots, "p02")))
    warm = heat(book, spots, TODAY)
    assert [h.warmth for h in warm[:3]] == pytest.approx([1.0, 0.5, 0.0])
    assert [h.days_ago for h in warm[:4]] == [0, 4, 40, None]
    assert (warm[0].start, warm[0].end) == (spots[0].start, spots[0].end)


def test_a_routine_left_alone_goes_cold_as_a_whole(book, spots):
    for _ in range(8):
        book.record(make_pass(MONDAY, taken=taken_of(spots, *(s.pose for s in spots))))
    later = heat(book, spots, TODAY + timedelta(days=12))
    # 8 passes, halved three times, of the 4 that a warm pose needs.
    assert [h.warmth for h in later] == pytest.approx([0.25] * len(spots))


def test_the_calendar_adds_up_minutes_passes_and_runs(book):
    for start in (0, 2, 5, 90):
        book.record(make_pass(MONDAY + timedelta(minutes=start)))
    book.record(make_pass(MONDAY + timedelta(minutes=91), kind="run", section=None))
    book.record(make_pass(MONDAY + timedelta(days=1), dry_run=True))
    (day,) = calendar(book, TODAY, TODAY + timedelta(days=7))
    assert (day.passes, day.runs, day.unwell) == (5, 1, False)
    assert day.minutes == pytest.approx(5 + 8 / 60 + 1 + 8 / 60)
    book.end_session(MONDAY + timedelta(days=1, minutes=1), unwell=True)
    assert calendar(book, TODAY - timedelta(days=9), TODAY - timedelta(days=1)) == ()


def test_runs_before_the_show(book):
    for k, cueing in enumerate(("memory", "all", "memory")):
        verdict = "clean" if k else None
        book.record(
            make_pass(MONDAY + timedelta(minutes=k), kind="run", section=None, cueing=cueing,
                      verdict=verdict)
        )  # fmt: skip
    shown = before_show(book, "2026-11-30", TODAY)
    assert (shown.runs, shown.from_memory, shown.clean, shown.days) == (3, 2, 2, 28)
    assert before_show(book, "", TODAY).days is None
