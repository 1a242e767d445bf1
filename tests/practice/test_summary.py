"""Standings, warmth and calendar against counts worked by hand."""

from dataclasses import replace
from datetime import timedelta

import pytest

from rehearse.practice.history import before_show, calendar, heat
from rehearse.practice.passes import PoseTaken, Share, shares
from rehearse.practice.scope import spots_of
from rehearse.practice.summary import Standing, summarise

from .made import MONDAY, make_pass

TODAY = MONDAY.date()


def taken_of(spots, *poses):
    return tuple(
        PoseTaken(s.pose, s.name, s.start, s.end, s.origin, s.origin_name)
        for s in spots
        if s.pose in poses
    )


def pose_of(book, routine, spots, item="p03"):
    return next(s for s in summarise(book, routine, spots, TODAY).poses if s.item == item)


def test_a_verdict_is_shared_among_the_poses():
    taken = tuple(PoseTaken(p, p, k * 4.0, k * 4.0 + 4.0, "") for k, p in enumerate("abcd"))
    clean, nothing = Share(1.0, 1.0), Share(0.0, 0.0)
    assert shares(taken, None, None) == (nothing,) * 4
    assert shares(taken, "clean", None) == (clean,) * 4
    assert shares(taken, "missed", None) == (Share(0.25, 0.0),) * 4
    assert shares(taken, "missed", 9.0) == (clean, clean, Share(1.0, 0.0), nothing)
    assert shares(taken, "missed", 99.0) == (clean, clean, clean, Share(1.0, 0.0))
    assert shares((), "missed", 1.0) == ()


@pytest.mark.parametrize(("broke", "missed"), [(0.0, "a"), (3.9, "a"), (4.0, "b"), (-5.0, "a"),
                                               (8.5, "b"), (9.5, "c"), (10.0, "c")])  # fmt: skip
def test_a_break_belongs_to_the_pose_it_lies_in_or_nearest_to(broke, missed):
    """From 8 to 10 s nothing is posed; where one ends and the next begins it is the next."""
    spans = {"a": (0.0, 4.0), "b": (4.0, 8.0), "c": (10.0, 14.0)}
    taken = tuple(PoseTaken(p, p, *span, "") for p, span in spans.items())
    told = shares(taken, "missed", broke)
    assert [p for p, part in zip(spans, told, strict=True) if part == Share(1.0, 0.0)] == [missed]


def test_a_stretch_without_a_name_is_called_what_it_is():
    way = make_pass(section_name="", transition_name="a → b")
    named = (make_pass(kind="run"), make_pass(), way, make_pass(section_name=""))
    assert [p.what for p in named] == ["whole routine", "Opening", "a → b", "marked stretch"]


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


@pytest.mark.parametrize(
    ("early", "late", "word"),
    [("clean", "clean", "steady"), ("clean", "missed", "falling"), ("missed", "clean", "rising")],
)
def test_a_trend_is_told_in_a_word(book, routine, spots, early, late, word):
    taken = taken_of(spots, "p03")
    for ago, verdict in [(14, early)] * 3 + [(27, early)] + [(0, late)] * 2 + [(13, late)]:
        book.record(make_pass(MONDAY - timedelta(days=ago), verdict=verdict, taken=taken))
    assert pose_of(book, routine, spots).trend_word == word


@pytest.mark.parametrize(("ago", "number"), [(14, 2), (28, 3), (0, 3)])
def test_a_trend_needs_three_judgements_in_each_fortnight(book, routine, spots, ago, number):
    """Too few in the earlier one, just too long ago for it, and none in the earlier one."""
    taken = taken_of(spots, "p03")
    for days in [0] * 3 + [ago] * number:
        book.record(make_pass(MONDAY - timedelta(days=days), verdict="clean", taken=taken))
    assert pose_of(book, routine, spots).trend_word == "too few"


@pytest.mark.parametrize(("trend", "word"), [(0.049, "steady"), (-0.049, "steady"),
                                             (0.05, "rising"), (-0.05, "falling")])  # fmt: skip
def test_a_change_under_five_percent_is_steady(trend, word):
    assert Standing("pose", "p", "p", trend=trend).trend_word == word


def test_the_clean_share_is_that_of_what_was_judged_at_full_tempo(book, routine, spots):
    taken = taken_of(spots, "p03")
    for tempo, verdict in ((0.99, "missed"), (0.995, "clean"), (1.0, "clean"), (1.05, "missed")):
        book.record(make_pass(tempo=tempo, verdict=verdict, taken=taken))
    pose = pose_of(book, routine, spots)
    assert (pose.judged, pose.clean) == (4.0, 2.0)
    assert pose.clean_share == pytest.approx(2 / 3)
    assert Standing("pose", "p", "p", judged_full=0.2, clean_full=0.1).clean_share == 0.5


def test_what_is_gone_comes_behind_what_is_there_the_last_practised_first(book, routine, spots):
    for ago, pose in ((5, "x"), (2, "y"), (9, "z")):
        taken = (PoseTaken(pose, pose, 0.0, 4.0, ""),)
        book.record(make_pass(MONDAY - timedelta(days=ago), taken=taken))
    summary = summarise(book, routine, spots, TODAY)
    assert [s.item for s in summary.poses[14:]] == ["y", "x", "z"]
    assert summary.transitions[-1].name == "walk-on → z"


def test_warmth_halves_in_four_days(book, spots):
    for _ in range(8):
        book.record(make_pass(MONDAY, taken=taken_of(spots, "p00")))
        book.record(make_pass(MONDAY - timedelta(days=4), taken=taken_of(spots, "p01")))
        book.record(make_pass(MONDAY - timedelta(days=40), taken=taken_of(spots, "p02")))
    warm = heat(book, spots, TODAY)
    assert [h.warmth for h in warm[:3]] == pytest.approx([1.0, 0.5, 0.0])
    assert [h.days_ago for h in warm[:4]] == [0, 4, 40, None]
    assert (warm[0].start, warm[0].end) == (spots[0].start, spots[0].end)


def test_a_few_passes_do_not_make_a_cold_routine_warm_and_old_ones_do_not_count(book, spots):
    """Four of today make a pose warm; what lies 28 days back is forgotten."""
    book.record(make_pass(MONDAY, taken=taken_of(spots, "p00")))
    book.record(make_pass(MONDAY - timedelta(days=27), taken=taken_of(spots, "p01")))
    book.record(make_pass(MONDAY - timedelta(days=28), taken=taken_of(spots, "p02")))
    book.record(make_pass(MONDAY + timedelta(days=1), taken=taken_of(spots, "p03")))
    warm = heat(book, spots, TODAY)
    assert warm[0].warmth == pytest.approx(0.25)
    assert [h.passes for h in warm[:4]] == [1, 1, 0, 0]
    assert [h.days_ago for h in warm[:4]] == [0, 27, 28, None]
    assert heat(book, (), TODAY) == ()


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
    assert [d.minutes for d in calendar(book, TODAY, TODAY)] == [day.minutes]
    book.end_session(MONDAY + timedelta(days=1, minutes=1), unwell=True)
    assert [d.unwell for d in calendar(book, TODAY, TODAY + timedelta(days=7))] == [False, True]
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
    assert before_show(book, "2026-11-01", TODAY).days == -1
    assert before_show(book, "", TODAY - timedelta(days=1)).runs == 0
    assert before_show(book, "", TODAY).days is None
