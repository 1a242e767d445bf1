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
    assert [p.name for p in seen.poses][-1] == "back double biceps"  # the least time under tension


def test_a_drawn_or_broken_off_round_is_no_step_of_the_ladder():
    drawn = make_round(hold=5.0, longest=30.0)
    broken = make_round(complete=False)
    assert stamina((drawn, broken)).ladder == ()


def test_the_share_of_rounds_grows_towards_the_show_and_ends_before_it():
    by_weeks = [share_of(days) for days in (90, 42, 21, 7, 2, 1, 0)]
    assert by_weeks == [0.15, 0.25, 0.4, 0.35, 0.15, 0.15, 0.0]
    assert share_of(None) == share_of(-5) == 0.15


@pytest.mark.parametrize(
    ("last_day", "share"), [(0, 0.0), (2, 0.15), (7, 0.35), (28, 0.4), (56, 0.25), (900, 0.15)]
)
def test_the_share_changes_after_the_day_two_days_a_week_and_four_and_eight_weeks(last_day, share):
    """Common practice, no source; the day before belongs to the same stretch."""
    assert share_of(last_day) == share
    assert last_day in (0, 900) or share_of(last_day - 1) == share
    assert last_day == 900 or share_of(last_day + 1) != share


def test_whoever_calls_no_rounds_is_asked_only_as_the_show_comes_near():
    assert planned(days=60) == planned(days=None) == ()
    lines = planned(days=27)
    assert [line.wish.kind for line in lines] == ["both", "random"]
    assert all("Not called yet." in line.reason for line in lines)
    assert planned(days=0) == ()


@pytest.mark.parametrize(
    ("days", "kinds"),
    [
        (29, []), (28, ["both", "random"]), (3, ["both", "random"]), (2, ["both"]), (1, ["both"]),
        (-1, []),
    ],
)  # fmt: skip
def test_rounds_come_four_weeks_before_the_show_and_calls_by_chance_end_two_days_before(
    days, kinds
):
    assert [line.wish.kind for line in planned(days=days)] == kinds


def test_a_division_without_mandatory_poses_turns_only():
    seen = stamina(())
    (line,) = plan_rounds(seen, minutes=40, today=TODAY, days=20, poses=0)
    assert line.wish.kind == "turns"


def test_without_a_song_all_of_the_session_is_for_rounds():
    for days in (None, 60, 0):
        lines = planned(days=days, alone=True)
        assert lines[0].reason.startswith("There is no song yet: all of the session is for rounds.")


@pytest.mark.parametrize(
    ("minutes", "callouts"), [(1, 1), (5, 1), (6, 2), (9, 2), (11, 3), (15, 4), (60, 4)]
)
def test_a_line_has_as_many_call_outs_as_its_time_holds_and_four_at_most(minutes, callouts):
    """A call-out by hand: 5 turns and 8 poses, each 10 s and 1.8 s of words; after all but the
    four turns between fronts 5 s of rest and 0.6 s for "relax"; 20 s between two call-outs."""
    wish = RoundWish("both", 10.0, 10.0, rest=5.0, between=20.0)
    (line,) = planned(days=None, minutes=minutes, last=wish, alone=True)
    once = 13 * 11.8 + 9 * 5.6
    assert line.wish.callouts == callouts
    assert line.seconds == pytest.approx(callouts * once + (callouts - 1) * 20.0)
    ending = "1 call-out" if callouts == 1 else f"{callouts} call-outs"
    assert line.title.endswith(f", holds of 10 s, {ending}")


def test_what_was_set_last_is_kept_and_its_holds_are_told():
    wish = RoundWish("turns", 8.0, 12.0, rest=4.0, between=30.0, side="left")
    for line in planned(days=20, last=wish):
        kept = line.wish
        assert (kept.hold, kept.longest, kept.rest, kept.between, kept.side) == (
            8,
            12,
            4,
            30,
            "left",
        )
        assert "holds of 8–12 s" in line.title
    by_chance = planned(days=20, last=wish)[1]
    once = 8 * (10.0 + 1.8) + 8 * (4.0 + 0.6)
    callouts = by_chance.wish.callouts
    assert by_chance.seconds == pytest.approx(callouts * once + (callouts - 1) * 30.0)


@pytest.mark.parametrize(
    ("days", "told"),
    [
        (1, "1 day to the show: rounds have 15 %"), (2, "2 days to the show"),
        (20, "20 days to the show"), (21, "3 weeks to the show"), (27, "3 weeks to the show"),
        (28, "4 weeks to the show"), (None, "Rounds have 15 % of the session, to keep"),
        (-1, "Rounds have 15 % of the session, to keep"),
    ],
)  # fmt: skip
def test_the_days_to_the_show_are_told_in_weeks_from_three_on(days, told):
    assert planned(fortnight(), days=days)[0].reason.startswith(told)


@pytest.mark.parametrize(
    ("ago", "told"), [(0, ""), (1, "Last called yesterday."), (2, "Last called 2 days ago.")]
)
def test_a_line_tells_when_its_round_was_called_last(ago, told):
    rounds = [make_round(MONDAY + timedelta(days=14 - k), kind="both") for k in (ago, ago + 3)]
    reason = planned(rounds, days=2)[0].reason
    assert "Not called" not in reason
    assert told in reason
    assert told or "Last called" not in reason


def test_of_the_holds_lost_in_the_last_week_the_shortest_is_named():
    def lost(ago, pose, at):
        one = make_round(MONDAY + timedelta(days=14 - ago))
        call = replace(one.calls[0], pose=pose, verdict="missed", lost_at=at)
        return replace(one, calls=(call,))

    rounds = [lost(8, "vacuum", 1.0), lost(7, "victory", 6.0), lost(1, "crucifix", 5.0)]
    both, by_chance = planned(rounds, days=20)
    assert both.reason.endswith("Crucifix was lost at 5 s.")
    assert by_chance.reason.endswith("Crucifix was lost at 5 s.")
    assert "lost" not in planned(rounds[:1], days=20)[0].reason  # more than a week ago
    (turns,) = plan_rounds(stamina(rounds), minutes=40, today=TODAY, days=20, poses=0)
    assert "lost" not in turns.reason  # a turn is no pose


def test_a_hold_is_lost_where_the_middle_of_the_last_three_was():
    rounds = []
    for day, at in enumerate((1.0, 9.0, 5.0, 8.0)):
        one = make_round(MONDAY + timedelta(days=day))
        call = replace(one.calls[0], verdict="missed", lost_at=at)
        rounds.append(replace(one, calls=(call,)))
    (pose,) = stamina(rounds).poses
    assert (pose.lost_at, pose.longest_clean, pose.calls) == (8.0, None, 4)


def test_a_round_is_clean_when_it_was_whole_and_judged_and_nothing_missed():
    good = all_clean(MONDAY, 10.0)
    unjudged = replace(good, calls=tuple(replace(c, verdict=None) for c in good.calls))
    partly = replace(good, calls=(*good.calls[:2], unjudged.calls[2]))
    for one, clean in ((good, True), (partly, True), (unjudged, False),
                       (replace(good, complete=False), False), (make_round(), False)):  # fmt: skip
        assert one.is_clean is clean


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
