"""Today's plan keeps its rules, states its reasons, and is the same for the same log."""

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehearse.practice import plan_reasons
from rehearse.practice.guided import MOST_IN_ROW, Guided, turns
from rehearse.practice.history import BeforeShow
from rehearse.practice.logbook import Logbook
from rehearse.practice.plan import make_plan
from rehearse.practice.plan_blocks import PlanPart, Today, owed_seconds, parts_of, rotation
from rehearse.practice.planline import move, strike
from rehearse.practice.running import Running
from rehearse.practice.scope import section_scope, transition_scope, whole_scope
from rehearse.practice.transition_evidence import OVERDUE, Evidence

from .athlete import practise, strong_with_weak
from .made import MONDAY, make_pass

TODAY = MONDAY.date()


def plan_for(book, routine, beatmap, minutes=30.0, today=TODAY):
    return make_plan(book, routine, beatmap, minutes=minutes, today=today)


@pytest.fixture(scope="module")
def week(tmp_path_factory, routine, beatmap, spots):
    """A logbook after three evenings of an athlete with three weak spots; only read from."""
    athlete = strong_with_weak(spots, ("p02", "p07", "p11"), 4)
    with Logbook(tmp_path_factory.mktemp("week") / "practice.sqlite") as book:
        for k in range(3):
            start = MONDAY + timedelta(days=k)
            plan = plan_for(book, routine, beatmap, today=start.date())
            practise(book, routine, beatmap, athlete, plan, start)
            athlete.sleep(True)
        yield book


@pytest.mark.parametrize("minutes", [5, 10, 20, 30, 60, 120])
def test_it_opens_from_memory_and_ends_with_the_whole_at_full_tempo(
    week, routine, beatmap, minutes
):
    plan = plan_for(week, routine, beatmap, minutes, TODAY + timedelta(days=3))
    first, last = plan.lines[0].work, plan.lines[-1].work
    assert (first.cueing, first.scope.kind) == ("memory", "whole")
    assert (last.percent, last.scope.kind) == (100, "whole")
    assert plan.seconds <= max(minutes * 60, 245)
    assert len({x.id for x in plan.lines}) == len(plan.lines)


def test_the_first_session_teaches(book, routine, beatmap):
    first = plan_for(book, routine, beatmap).lines[0]
    assert (first.work.cueing, first.work.effort, first.work.runs) == ("all", "marked", 2)
    assert "memory" not in first.title
    assert "night" not in first.reason


def test_every_line_says_why_and_what_it_rests_on(week, routine, beatmap):
    plan = plan_for(week, routine, beatmap, today=TODAY + timedelta(days=3))
    for line in plan.lines:
        assert line.reason.endswith(".")
        assert len(line.reason) < 140
        assert line.source
        assert line.title


def test_the_same_log_gives_the_same_plan(week, routine, beatmap):
    day = TODAY + timedelta(days=3)
    first = plan_for(week, routine, beatmap, today=day)
    with Logbook(week.path) as again:
        assert plan_for(again, routine, beatmap, today=day) == first


def test_dry_runs_leave_the_plan_as_it_is(book, routine, beatmap):
    day = TODAY + timedelta(days=1)
    before = plan_for(book, routine, beatmap, today=day)
    dry = {"kind": "run", "section": None, "section_name": "", "dry_run": True}
    book.record(make_pass(**dry, cueing="memory", verdict="missed"))
    assert plan_for(book, routine, beatmap, today=day) == before  # the first session still teaches
    book.record(make_pass(**dry | {"dry_run": False}, cueing="names"))
    real = plan_for(book, routine, beatmap, today=day)
    assert real != before
    book.record(make_pass(MONDAY + timedelta(hours=1), **dry, cueing="all"))
    assert plan_for(book, routine, beatmap, today=day) == real  # the last run is still the real one


def test_of_two_equally_weak_the_one_missed_last_time_comes_first(spots):
    """A miss last time weighs as much as 15 % of strength (common practice, no source)."""
    sound = Evidence(spots[0], passes=9, strength=0.7, judged_last=2, clean_last=2, drilled_ago=1)
    missed = replace(sound, clean_last=1.0)
    assert missed.missed_lately
    assert not sound.missed_lately
    assert not replace(missed, judged_last=0, clean_last=0).missed_lately
    assert missed.need - sound.need == pytest.approx(0.15)
    assert missed.need > replace(sound, strength=0.56).need
    assert missed.need < replace(sound, strength=0.54).need


def test_missed_yesterday_comes_back_today(week, routine, beatmap):
    plan = plan_for(week, routine, beatmap, today=TODAY + timedelta(days=3))
    items = [x.item for x in plan.lines if x.group == "rotate"]
    assert {"transition p01>p02", "transition p06>p07", "transition p10>p11"} <= set(items)
    sources = {x.source for x in plan.lines}
    assert {"Simmons 2012", "Shea & Morgan 1979"} & sources


def test_something_new_comes_about_three_sound_passes_in_a_row(book, routine, beatmap, spots):
    plan = plan_for(book, routine, beatmap)
    new = [x for x in plan.lines if x.group == "new"]
    assert len(new) >= 4
    work = new[0].work
    state = Running(work, spots)
    percents = []
    while state.upcoming is not None:
        percents.append(state.upcoming.percent)
        state = state.count_in().music(MONDAY)
        state, _ = state.judge("clean")
        state, _ = state.ended(MONDAY)
    assert percents == [70, 85, 100]


def played(plan, routine, beatmap, spots, tmp_path, number=5):
    athlete = strong_with_weak(spots, ("p02",), number)
    with Logbook(tmp_path / "played.sqlite") as book:
        return practise(book, routine, beatmap, athlete, plan, MONDAY)


def test_once_learned_nothing_comes_more_than_three_times_in_a_row(
    week, routine, beatmap, spots, tmp_path
):
    plan = plan_for(week, routine, beatmap, 60, TODAY + timedelta(days=3))
    learned = {x.id for x in plan.lines if x.group != "new"}
    assert len(learned) == len(plan.lines)
    passes, _ = played(plan, routine, beatmap, spots, tmp_path)
    for what, group in groupby(passes, key=lambda p: (p.kind, p.section, p.transition)):
        assert len(list(group)) <= MOST_IN_ROW, what


def test_the_session_takes_the_minutes_given(week, routine, beatmap, spots, tmp_path):
    plan = plan_for(week, routine, beatmap, 30, TODAY + timedelta(days=3))
    passes, end = played(plan, routine, beatmap, spots, tmp_path)
    assert 24 <= (end - MONDAY).total_seconds() / 60 <= 32
    assert passes[-1].kind == "run"
    assert passes[-1].tempo == 1.0


def test_struck_lines_are_left_out_and_moved_ones_come_where_they_were_put(
    week, routine, beatmap, spots, tmp_path
):
    plan = plan_for(week, routine, beatmap, 20, TODAY + timedelta(days=3))
    weak = next(x for x in plan.lines if x.item == "transition p01>p02")
    struck = plan
    for line in plan.lines:
        if line.item == weak.item:
            struck = strike(struck, line.id)
    assert struck.seconds < plan.seconds
    passes, _ = played(struck, routine, beatmap, spots, tmp_path)
    assert not any(p.transition == "p02" for p in passes)
    assert strike(struck, weak.id, struck=False).kept != struck.kept
    last = plan.lines[-1].id
    moved = move(plan, last, -99)
    assert moved.lines[0].id == last
    assert move(moved, last, 99) == plan
    with pytest.raises(KeyError):
        move(plan, "nothing", 1)


def test_a_skipped_line_gives_way_at_once(week, routine, beatmap):
    plan = plan_for(week, routine, beatmap, today=TODAY + timedelta(days=3))
    guided = Guided(plan)
    first = guided.upcoming(()).line
    assert replace(guided, skipped=frozenset({first})).upcoming(()).line != first


def test_when_time_runs_out_the_closing_run_still_comes(week, routine, beatmap, spots):
    plan = plan_for(week, routine, beatmap, 20, TODAY + timedelta(days=3))
    state, now, lines = Running(Guided(plan), spots), MONDAY, []
    while state.upcoming is not None and len(lines) < 99:
        lines.append(state.upcoming.line)
        state = state.count_in().music(now)
        now += timedelta(seconds=state.current.scope.length / state.current.tempo)
        state, _ = state.ended(now)
        now += timedelta(minutes=3)  # catching breath
    assert lines[-1] == "close"
    assert len(lines) < len(plan.lines)
    # At most one run and the breath after it are over before the time is seen to be up.
    assert (now - MONDAY).total_seconds() - 180 <= 20 * 60 + 180 + 80


def test_a_long_pause_does_not_use_up_the_minutes(week, routine, beatmap, spots):
    plan = plan_for(week, routine, beatmap, 20, TODAY + timedelta(days=3))
    state = Running(Guided(plan), spots).count_in().music(MONDAY)
    state, _ = state.ended(MONDAY + timedelta(seconds=75))
    state = state.count_in().music(MONDAY + timedelta(hours=3))
    state, _ = state.ended(MONDAY + timedelta(hours=3, seconds=20))
    assert state.upcoming.line != "close"
    state = state.count_in().music(MONDAY + timedelta(hours=3, seconds=30))
    state, _ = state.ended(MONDAY + timedelta(hours=9))  # the laptop slept in mid-pass
    assert state.upcoming.line != "close"


def test_the_last_days_bring_nothing_new_and_marked_runs(book, routine, beatmap):
    day = date.fromisoformat(routine.show_date)
    plan = plan_for(book, routine, beatmap, today=day - timedelta(days=1))
    assert not any(x.group == "new" for x in plan.lines)
    assert plan.lines[0].work.effort == "marked"
    on_the_day = plan_for(book, routine, beatmap, today=day)
    assert [x.group for x in on_the_day.lines] == ["open", "close"]


def test_near_the_show_there_are_more_runs(week, routine, beatmap):
    today = TODAY + timedelta(days=3)
    runs = {}
    for days in (60, 10):
        near = replace(routine, show_date=(today + timedelta(days=days)).isoformat())
        runs[days] = sum(x.group == "run" for x in plan_for(week, near, beatmap, 30, today).lines)
    assert runs[10] > runs[60]


@pytest.mark.parametrize("minutes", [10, 20, 30, 60])
def test_what_is_new_takes_two_fifths_of_the_session_at_most(book, routine, beatmap, minutes):
    new = [x.seconds for x in plan_for(book, routine, beatmap, minutes).lines if x.group == "new"]
    assert sum(new) <= 0.4 * 60 * minutes
    assert new or minutes == 10


def test_runs_come_thicker_from_a_fortnight_before_the_show(book, routine, beatmap):
    ids = {}
    for days in (15, 14):
        near = replace(routine, show_date=(TODAY + timedelta(days=days)).isoformat())
        lines = plan_for(book, near, beatmap, 60).lines
        ids[days] = [x.id for x in lines if x.group == "run"]
    assert len(ids[14]) > len(ids[15]) > 1
    assert ids[14] == [f"run {k}" for k in range(1, len(ids[14]) + 1)]


def test_there_are_six_runs_between_at_most_and_none_more_on_the_last_days(book, routine, beatmap):
    runs = {}
    for days in (60, 3, 2):
        near = replace(routine, show_date=(TODAY + timedelta(days=days)).isoformat())
        for minutes in (30, 300):
            lines = plan_for(book, near, beatmap, minutes).lines
            runs[days, minutes] = sum(x.group == "run" for x in lines)
    assert runs[60, 300] == runs[3, 300] == runs[2, 300] == 6
    assert runs[3, 30] > runs[2, 30] >= runs[60, 30] > 0


def test_how_the_last_run_of_an_earlier_day_was_cued_decides_the_next_close(book, routine, beatmap):
    run = {"kind": "run", "section": None, "section_name": ""}
    book.record(make_pass(MONDAY - timedelta(days=2), **run, cueing="memory"))
    book.record(make_pass(MONDAY - timedelta(days=1), **run, cueing="memory"))
    book.record(make_pass(MONDAY - timedelta(days=1) + timedelta(hours=1), **run, cueing="all"))
    assert plan_for(book, routine, beatmap).lines[-1].work.cueing == "memory"
    book.record(make_pass(MONDAY, **run, cueing="names"))  # of today: the plan stays as it is
    assert plan_for(book, routine, beatmap).lines[-1].work.cueing == "memory"


def test_a_session_takes_five_minutes_at_least(book, routine, beatmap):
    assert plan_for(book, routine, beatmap, 5).lines
    with pytest.raises(ValueError, match="five minutes"):
        plan_for(book, routine, beatmap, 4.9)


def test_with_no_button_at_all_the_tempo_still_rises(book, routine, beatmap, spots):
    athlete = strong_with_weak(spots, (), 1)
    athlete.judges = 0.0
    quiet = replace(plan_for(book, routine, beatmap), lines=())
    lines = tuple(
        replace(x, work=replace(x.work, asks=False)) if x.group in ("open", "run", "close") else x
        for x in plan_for(book, routine, beatmap).lines
    )
    passes, _ = practise(book, routine, beatmap, athlete, replace(quiet, lines=lines), MONDAY)
    assert all(p.verdict is None for p in passes)
    plan = plan_for(book, routine, beatmap, today=TODAY + timedelta(days=1))
    drills = [x.work for x in plan.lines if x.group in ("new", "rotate")]
    assert drills
    assert all(d.steps.unjudged for d in drills)


def test_routines_without_sections_or_poses_have_a_plan_too(book, week, routine, beatmap):
    bare = replace(routine, sections=())
    plan = plan_for(book, bare, beatmap)
    assert any(x.group == "rotate" for x in plan.lines)
    later = plan_for(week, bare, beatmap, 60, TODAY + timedelta(days=3))
    assert len({x.id for x in later.lines}) == len(later.lines)
    assert plan_for(book, replace(bare, poses=()), beatmap).lines == ()
    with pytest.raises(ValueError, match="five minutes"):
        plan_for(book, routine, beatmap, minutes=3)


@given(
    st.dictionaries(st.text("abcdefgh", min_size=1, max_size=2), st.integers(1, 8), max_size=8),
    st.text(max_size=4),
)
def test_turns_are_fair_and_never_more_than_three_in_a_row(passes, number):
    order = turns(passes, number)
    assert order == turns(passes, number)
    assert all(len(list(group)) <= MOST_IN_ROW for _, group in groupby(order))
    counts = Counter(order)
    assert all(counts[k] <= n for k, n in passes.items())
    # One is left short only where nothing else was left to take turns with it.
    short = [k for k, n in passes.items() if counts[k] < n]
    assert len(short) <= 1
    assert not short or order[-1] == short[0]


# -- blocks of what takes turns ----------------------------------------------------------------
def today_of(routine, beatmap, spots, days=60):
    """A day on which every transition was drilled yesterday, neither weak nor strong."""
    return Today(
        evidence=tuple(Evidence(s, passes=9, strength=0.7, drilled_ago=1) for s in spots),
        sections=tuple(section_scope(routine, beatmap, s.id) for s in routine.sections),
        whole=whole_scope(routine, beatmap),
        ways={s.pose: transition_scope(routine, beatmap, s.pose) for s in spots},
        show=BeforeShow(0, 0, 0, days),
        last_close="",
        unjudged=False,
    )


def test_parts_are_the_sections_and_the_transitions_that_none_holds(routine, beatmap, spots):
    # The way into the first pose of "Back half" begins in the section before: it stands alone.
    seen = today_of(routine, beatmap, spots)
    alone = {
        s.pose
        for s in spots
        if not any(x.start <= s.start and s.hit < x.end for x in seen.sections)
    }
    parts = parts_of(seen)
    assert [p.item for p in parts[:4]] == [f"section s{k}" for k in range(4)]
    assert {p.scope.item.rpartition(">")[2] for p in parts[4:]} == alone
    assert len(alone) < len(spots)
    assert {p.waited for p in parts} == {1}


def test_only_what_waits_three_days_is_owed_the_time_of_one_pass(routine, beatmap, spots):
    scope = section_scope(routine, beatmap, "s1")
    once = plan_reasons.part(scope, OVERDUE, 1, 1, False).seconds
    assert owed_seconds([PlanPart(scope, OVERDUE), PlanPart(scope, OVERDUE + 4)]) == 2 * once > 0
    assert owed_seconds([PlanPart(scope, OVERDUE - 1)]) == 0


def test_a_part_has_four_passes_in_a_block_at_most_and_comes_again_last(routine, beatmap, spots):
    seen = today_of(routine, beatmap, spots)
    parts = [PlanPart(section_scope(routine, beatmap, f"s{k}"), 5 - k) for k in range(2)]
    blocks = list(rotation(seen, (), parts, 2 * 3600.0, 2))
    assert [[x.work.passes for x in block] for block in blocks] == [[4, 4], [4, 4]]
    assert all("Once more in one piece" in x.reason for x in blocks[1])
    assert not any("Once more in one piece" in x.reason for x in blocks[0])


def test_weak_ones_share_the_volume_of_a_day_and_the_room_of_a_block(routine, beatmap, spots):
    seen = today_of(routine, beatmap, spots)
    weak = seen.evidence[:2]
    passes = {
        number: {x.work.passes for block in rotation(seen, weak, (), 9000.0, number) for x in block}
        for number in (1, 2, 3, 6)
    }
    assert passes == {1: {6}, 2: {6}, 3: {4}, 6: {2}}
    once = sum(plan_reasons.turn(e, seen.ways[e.spot.pose], 1, 1, False).seconds for e in weak)
    (block,) = rotation(seen, weak, (), 4.5 * once / 0.65, 1)
    assert {x.work.passes for x in block} == {4}


def test_two_days_before_the_show_are_the_last_days(routine, beatmap, spots):
    last = {
        days: today_of(routine, beatmap, spots, days).is_last_days for days in (-1, 0, 2, 3, None)
    }
    assert last == {-1: False, 0: True, 2: True, 3: False, None: False}
