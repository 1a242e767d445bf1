"""Time under tension, the ladder and the share of rounds; a fortnight of invented practice."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from rehearse.practice.logbook import Logbook
from rehearse.practice.plan import make_plan
from rehearse.practice.planline import COMMON
from rehearse.practice.stamina import (
    ladder_words,
    plan_rounds,
    share_of,
    stamina,
)
from rehearse.routine.rounds import RoundWish

from .made import MONDAY, make_beatmap, make_pass, make_routine
from .test_roundlog import make_calls, make_round

TODAY = MONDAY.date() + timedelta(days=14)


def all_clean(at, hold):
    calls = tuple(replace(c, verdict="clean", lost_at=None) for c in make_calls(at, hold=hold))
    return make_round(at, calls=calls, hold=hold, longest=hold)


def fortnight():
    """Every second day a round; holds of 8, 10 and 12 s by the athlete's own choice."""
    rounds = []
    for day in range(0, 14, 2):
        at = MONDAY + timedelta(days=day)
        hold = 8.0 if day < 4 else 10.0 if day < 10 else 12.0
        rounds.append(
            all_clean(at, hold)
            if day not in (4, 12)
            else make_round(at, hold=hold, longest=hold, calls=make_calls(at, hold=hold))
        )
    return rounds  # fmt: skip


def planned(rounds=(), days=20, minutes=40.0, **more):
    seen = stamina(rounds)
    return plan_rounds(seen, minutes=minutes, today=TODAY, days=days, poses=8, **more)


def test_a_fortnight_in_the_log_is_summed_up_by_pose_and_day(tmp_path):
    with Logbook(tmp_path / "practice.sqlite", tmp_path / "spare.sqlite") as book:
        for one in fortnight():
            book.keep_round(one)
        book.keep_round(replace(make_round(MONDAY), dry_run=True, id="dry"))
        seen = stamina(book.rounds())
    assert len(seen.rounds) == 7
    front = next(p for p in seen.poses if p.name == "front double biceps")
    assert (front.calls, front.longest_clean, front.lost_at) == (7, 12.0, None)
    assert front.total == 2 * 8 + 3 * 10 + 2 * 12
    back = next(p for p in seen.poses if p.name == "back double biceps")
    assert back.lost_at == 4.0
    assert back.on_last == 4.0  # the last day it was lost: only what was held counts
    assert back.last == MONDAY.date() + timedelta(days=12)
    assert seen.tension(MONDAY.date()) == 3 * 8
    assert seen.tension(TODAY) == 0.0
    assert seen.since(MONDAY.date() + timedelta(days=10)) == 3 * 12 + (12 + 12 + 4)
    assert [(r.hold, r.rounds, r.clean) for r in seen.ladder] == [(8, 2, 2), (10, 3, 2), (12, 2, 1)]
    words = "Holds: 8 s 2 of 2 clean, 10 s 2 of 3 clean, 12 s 1 of 2 clean."
    assert ladder_words(seen) == words
    assert ladder_words(stamina(())) == ""


def test_a_drawn_or_broken_off_round_is_no_step_of_the_ladder():
    drawn = make_round(hold=5.0, longest=30.0)
    broken = make_round(complete=False)
    assert stamina((drawn, broken)).ladder == ()


def test_the_share_of_rounds_grows_towards_the_show_and_ends_before_it():
    by_weeks = [share_of(days) for days in (90, 42, 21, 7, 2, 1, 0)]
    assert by_weeks == [0.15, 0.25, 0.4, 0.35, 0.15, 0.15, 0.0]
    assert share_of(None) == share_of(-5) == 0.15


def test_whoever_calls_no_rounds_is_asked_only_as_the_show_comes_near():
    assert planned(days=60) == planned(days=None) == ()
    lines = planned(days=27)
    assert [line.wish.kind for line in lines] == ["both", "random"]
    assert all("Not called yet." in line.reason for line in lines)
    assert planned(days=0) == ()


def test_each_line_has_its_reason_and_common_practice_is_called_so():
    lines = planned(fortnight(), days=20)
    for line in lines:
        assert "20 days to the show: rounds have 40 % of the session." in line.reason
        assert line.source == COMMON
    assert "Back double biceps was lost at 4 s." in lines[0].reason
    far = planned(fortnight(), days=None)
    assert [line.wish.kind for line in far] == ["both"]
    assert "15 %" in far[0].reason


def test_no_hold_is_proposed_longer_than_the_athlete_set():
    """However clean the rounds were."""
    wish = RoundWish("mandatories", 9.0, 9.0)
    rounds = [all_clean(MONDAY + timedelta(days=k), 20.0) for k in range(10)]
    for line in planned(rounds, last=wish):
        assert (line.wish.hold, line.wish.longest, line.wish.grows) == (9.0, 9.0, 0.0)
        assert not line.wish.first_longer


def test_a_round_of_today_is_done_and_the_rest_stays():
    at = MONDAY + timedelta(days=14)
    lines = planned([make_round(at, kind="both"), make_round(at, kind="random", complete=False)])
    assert [line.done for line in lines] == [True, False]


@pytest.mark.parametrize("minutes", [20.0, 40.0, 60.0])
def test_rounds_take_about_their_share_and_the_routine_the_rest(tmp_path, minutes):
    routine, beatmap = make_routine(), make_beatmap()
    lines = planned(fortnight(), minutes=minutes)
    seconds = sum(line.seconds for line in lines)
    assert seconds < 0.75 * minutes * 60
    with Logbook(tmp_path / "practice.sqlite", tmp_path / "spare.sqlite") as book:
        book.record(make_pass(MONDAY))
        whole = make_plan(book, routine, beatmap, minutes=minutes, today=date(2026, 11, 16))
        less = make_plan(
            book, routine, beatmap, minutes=minutes, today=date(2026, 11, 16), rounds=seconds
        )
    assert less.seconds < whole.seconds
    assert less.seconds + seconds < minutes * 60 + 180
