"""The day's plan outlives the program: what was struck, moved and done."""

import random
import signal
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from rehearse.files.user_error import UserError
from rehearse.practice.fallback_log import open_fallback
from rehearse.practice.logbook import Logbook
from rehearse.practice.passplan import Result
from rehearse.practice.plan import make_plan
from rehearse.practice.planbook import DayPlan, keep_plan, plan_of
from rehearse.practice.planline import move, strike, strike_as
from rehearse.practice.running import Running

from .athlete import practise, strong_with_weak
from .made import MONDAY

ROOT = Path(__file__).parents[2]
DAY = MONDAY.date() + timedelta(days=1)
NOON = MONDAY + timedelta(days=1)


@pytest.fixture
def book(book, routine, beatmap, spots):
    """A logbook with one evening in it."""
    athlete = strong_with_weak(spots, ("p02", "p07"), 4)
    plan = make_plan(book, routine, beatmap, minutes=20, today=MONDAY.date())
    practise(book, routine, beatmap, athlete, plan, MONDAY)
    return book


@pytest.fixture
def plan(book, routine, beatmap):
    return make_plan(book, routine, beatmap, minutes=20, today=DAY)


def step(state, book, now, verdict=None):
    """One pass of a plan, logged; returns what it was, the state and the time after it."""
    todo = state.upcoming
    state = state.count_in().music(now)
    if verdict:
        state, _ = state.judge(verdict)
    now += timedelta(seconds=todo.scope.length / todo.tempo)
    state, done = state.ended(now)
    book.record(done)
    return (todo.line, todo.percent, todo.number), state, now + timedelta(seconds=6)


def verdicts(number):
    return random.Random(number).choices(("clean", "missed", None), (6, 2, 2), k=200)


def test_a_plan_struck_and_moved_is_the_same_after_a_restart(book, plan, routine, beatmap):
    changed = move(strike(plan, plan.lines[1].id), plan.lines[2].id, 2)
    kept = keep_plan(book, changed)
    with Logbook(book.path) as again:
        found = plan_of(again, routine, beatmap, DAY)
    assert found.plan == kept
    assert replace(found.plan, key="") == changed
    assert not found.is_begun
    assert plan_of(book, routine, beatmap, DAY + timedelta(days=1)) is None
    assert plan_of(book, routine, beatmap, DAY, 25) is None


def test_keeping_again_changes_the_same_plan(book, plan, routine, beatmap):
    kept = keep_plan(book, plan)
    keep_plan(book, strike(kept, kept.lines[1].id))
    assert book.db.execute("SELECT count(*) FROM plans").fetchone() == (1,)
    assert plan_of(book, routine, beatmap, DAY).plan.lines[1].struck


@pytest.mark.parametrize("number", range(4))
def test_a_restart_after_every_pass_gives_the_session_of_one_without(
    book, plan, routine, beatmap, spots, tmp_path, number
):
    whole = []
    with Logbook(tmp_path / "other.sqlite") as other:
        state, now = Running(plan_work(keep_plan(other, plan)), spots), NOON
        for verdict in verdicts(number):
            if state.upcoming is None:
                break
            one, state, now = step(state, other, now, verdict)
            whole.append(one)
    assert len(whole) > 20

    pieces, now = [], NOON
    keep_plan(book, plan)
    for verdict in verdicts(number):
        with Logbook(book.path) as again:
            state = Running(plan_of(again, routine, beatmap, DAY).work, spots)
            if state.upcoming is None:
                break
            one, _, now = step(state, again, now, verdict)
            pieces.append(one)
    assert pieces == whole
    over = plan_of(book, routine, beatmap, DAY)
    assert over.is_over
    assert over.is_done(over.plan.lines[0])
    assert over.passes_of(over.plan.lines[0]) == 1


def plan_work(plan):
    from rehearse.practice.guided import Guided

    return Guided(plan)


def test_a_pass_broken_off_is_to_be_done_again(book, plan, routine, beatmap, spots):
    state = Running(plan_work(keep_plan(book, plan)), spots)
    first = state.upcoming
    state = state.count_in().music(NOON)
    _, done = state.stop(NOON + timedelta(seconds=9), reached=9.0)
    book.record(done)
    found = plan_of(book, routine, beatmap, DAY)
    assert found.is_begun
    assert found.work.upcoming(()).line == first.line
    assert found.passes_of(found.plan.lines[0]) == 0


@pytest.fixture
def empty(tmp_path):
    """A logbook before the first session."""
    with Logbook(tmp_path / "empty.sqlite", tmp_path / "spare.sqlite") as opened:
        yield opened


def test_what_is_left_of_a_plan_shrinks_with_each_pass_and_goes_with_what_is_struck(
    empty, routine, beatmap
):
    kept = keep_plan(empty, make_plan(empty, routine, beatmap, minutes=20, today=DAY))
    line = next(x for x in kept.lines if x.group == "new")
    assert line.passes > 1
    begun = DayPlan(kept)
    assert begun.seconds_left == pytest.approx(kept.seconds)
    work = replace(line.work.upcoming(()), line=line.id)
    one = Result("1", work, NOON, NOON, True)
    broken = replace(one, complete=False)
    after = DayPlan(kept, (one, broken))
    assert after.passes_of(line) == 1
    assert after.seconds_left == pytest.approx(kept.seconds - line.seconds / line.passes)
    done = DayPlan(kept, (one,) * line.passes)
    assert done.is_done(line)
    assert not begun.is_done(line)
    assert done.seconds_left == pytest.approx(kept.seconds - line.seconds)
    struck = DayPlan(strike(kept, line.id))
    assert struck.seconds_left == pytest.approx(kept.seconds - line.seconds)
    assert not begun.is_over
    assert not done.is_over


def test_the_plan_of_a_day_is_the_one_kept_last_or_the_last_of_so_many_minutes(
    empty, routine, beatmap
):
    plans = [make_plan(empty, routine, beatmap, minutes=m, today=DAY) for m in (20, 40, 20)]
    keys = []
    for plan in plans:
        keys.append(keep_plan(empty, plan).key)
        assert plan_of(empty, routine, beatmap, DAY).plan.key == keys[-1]
        assert plan_of(empty, routine, beatmap, DAY, plan.minutes).plan.key == keys[-1]
    assert len(set(keys)) == 3
    assert plan_of(empty, routine, beatmap, DAY, 40).plan.key == keys[1]


def test_lines_follow_the_routine_and_go_with_their_pose(book, plan, routine, beatmap):
    keep_plan(book, plan)
    gone = next(x for x in plan.lines if x.item.startswith("transition"))
    pose = gone.item.partition(">")[2]
    less = replace(routine, poses=tuple(p for p in routine.poses if p.id != pose))
    found = plan_of(book, less, beatmap, DAY).plan
    assert gone.id not in [x.id for x in found.lines]
    assert len(found.lines) < len(plan.lines)
    stage = replace(routine.stage, end=60.0)
    shorter = plan_of(book, replace(routine, stage=stage), beatmap, DAY).plan
    assert shorter.lines[0].work.scope.end == 60.0
    assert shorter.lines[-1].id == plan.lines[-1].id


def test_what_was_struck_is_struck_in_a_plan_of_other_minutes(book, plan, routine, beatmap):
    line = next(x for x in plan.lines if x.group == "rotate")
    struck = strike(strike(plan, line.id), "close")
    longer = strike_as(make_plan(book, routine, beatmap, minutes=60, today=DAY), struck)
    assert {x.item for x in longer.lines if x.struck and x.group == "rotate"} == {line.item}
    assert longer.lines[-1].struck
    assert not longer.lines[0].struck


def test_a_plan_that_cannot_be_read_is_none(book, plan, routine, beatmap):
    keep_plan(book, plan)
    book.db.execute("UPDATE plans SET lines = '[{\"id\": 3}]'")
    assert plan_of(book, routine, beatmap, DAY) is None


def test_a_killed_process_keeps_its_plan_and_what_was_done(book, plan, routine, beatmap):
    code = f"""
import sys, time
from pathlib import Path
from rehearse.files.user_error import UserError
from rehearse.practice.logbook import Logbook
from rehearse.practice.passplan import Result
from rehearse.practice.plan import make_plan
from rehearse.practice.planbook import keep_plan
from rehearse.practice.planline import strike
from rehearse.practice.running import Running
from rehearse.practice.scope import spots_of
from tests.practice.made import make_beatmap, make_routine
from tests.practice.test_planbook import DAY, NOON, plan_work, step
book, routine, beatmap = Logbook(Path({str(book.path)!r})), make_routine(), make_beatmap()
plan = make_plan(book, routine, beatmap, minutes=20, today=DAY)
plan = keep_plan(book, strike(plan, plan.lines[0].id))
state, now = Running(plan_work(plan), spots_of(routine, beatmap)), NOON
while True:
    one, state, now = step(state, book, now)
    print(one[0], flush=True)
    if len(state.results) == 5:
        time.sleep(60)
"""
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    lines = [process.stdout.readline().strip() for _ in range(5)]
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()
    with Logbook(book.path) as again:
        found = plan_of(again, routine, beatmap, DAY)
    assert found.plan.lines[0].struck
    assert [r.plan.line for r in found.done] == lines


def test_a_plan_kept_on_this_machine_comes_home(tmp_path, plan, routine, beatmap):
    home, fallback = tmp_path / "home.sqlite", tmp_path / "spare.sqlite"
    with Logbook(home):
        pass
    open_fallback(home, fallback, UserError("it is locked")).db.close()
    with Logbook(fallback) as away:
        kept = keep_plan(away, plan)
    with Logbook(home, fallback) as book:
        assert plan_of(book, routine, beatmap, DAY).plan == kept
    assert not fallback.exists()
