"""Today's plan between log and page: made anew until it is changed or begun, then kept.

What is read is read on the logbook's own thread, from a question that carries all it needs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from rehearse.files.fault import Fault
from rehearse.music.beatmap import BeatMap
from rehearse.practice.logbook import Logbook
from rehearse.practice.plan import make_plan
from rehearse.practice.planbook import DayPlan, named, plan_of
from rehearse.practice.planline import Plan, strike_as
from rehearse.practice.stamina import RoundLine, plan_rounds
from rehearse.routine.model import Routine
from rehearse.routine.rounds import RoundWish, mandatory_poses, stances_of
from rehearse.routine.rules import RuleSet, load_rules
from rehearse.ui.desk import Desk
from rehearse.ui.pages.logbook.data import Overview, look
from rehearse.ui.pages.rehearse.roundform import load_wish

Basis = tuple[object, ...]


@dataclass(frozen=True)
class Question:
    """What the page wants to know.

    Args:
        minutes: how long the session is to be. as_kept: or as long as the plan kept last today.
        anew: a plan that goes on after the end of the one before.
        made, basis: the plan made last, and what it was made from.
        round_poses: how many mandatory poses the division has. round_wish: the round set last.
    """

    routine: Routine
    beatmap: BeatMap
    day: date
    minutes: int
    as_kept: bool = False
    anew: bool = False
    made: Plan | None = None
    basis: Basis = ()
    round_poses: int = 0
    round_wish: RoundWish | None = None


@dataclass(frozen=True)
class Answer:
    """The page's data, how long the session is, the plan and what it was made from.

    Args:
        rounds: the comparison rounds that come before it.
    """

    overview: Overview
    minutes: int
    day: DayPlan
    basis: Basis
    rounds: tuple[RoundLine, ...] = ()


def answer(book: Logbook, asked: Question) -> Answer:
    """Read the logbook; the plan kept for the day, or one made now."""
    overview = look(book, asked.routine, asked.beatmap, asked.day)
    minutes = asked.minutes
    before = plan_of(book, asked.routine, asked.beatmap, asked.day)
    if asked.as_kept and before is not None:
        minutes = round(before.plan.minutes)
    rounds = plan_rounds(
        overview.stamina,
        minutes=minutes,
        today=asked.day,
        days=overview.show.days,
        poses=asked.round_poses,
        last=asked.round_wish,
    )
    passes = sum(s.passes for s in overview.summary.poses)
    seconds = sum(line.seconds for line in rounds)
    basis: Basis = (asked.day, minutes, passes, asked.routine, id(asked.beatmap), seconds)
    kept = plan_of(book, asked.routine, asked.beatmap, asked.day, minutes)
    if kept is not None and not asked.anew:
        return Answer(overview, minutes, kept, asked.basis, rounds)
    if asked.made is not None and basis == asked.basis and not asked.anew:
        return Answer(overview, minutes, DayPlan(asked.made), basis, rounds)
    plan = make_plan(
        book, asked.routine, asked.beatmap, minutes=minutes, today=asked.day, rounds=seconds
    )
    if before is not None and not before.is_over:
        plan = strike_as(plan, before.plan)
    return Answer(overview, minutes, DayPlan(plan), basis, rounds)


def _mandatory(desk: Desk) -> int:
    """How many mandatory poses the open routine's division has."""
    routine = desk.routine
    assert routine is not None
    try:
        rules = load_rules(routine.rules, desk.folder)
    except Fault:  # told where the rules are looked at
        rules = RuleSet("", "")
    if stances_of(rules, routine.division):
        return 0
    return len(mandatory_poses(rules, desk.catalogue, figure=routine.figure))


class TodaysPlan:
    """The plan of the open routine's logbook for a day and so many minutes."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._basis: Basis = ()
        self._made: Plan | None = None

    def question(self, day: date, minutes: int, *, as_kept: bool, anew: bool = False) -> Question:
        """What to ask about the open routine, which has its music."""
        routine, beatmap = self._desk.routine, self._desk.beatmap
        assert routine is not None
        assert beatmap is not None
        asked = Question(routine, beatmap, day, minutes, as_kept, anew)
        wish, _ = load_wish(self._desk.settings.get(f"round/{routine.id}", "{}"))
        return replace(
            asked,
            made=self._made,
            basis=self._basis,
            round_poses=_mandatory(self._desk),
            round_wish=wish,
        )

    def take(self, found: Answer) -> None:
        """Remember the plan that is shown now."""
        self._basis, self._made = found.basis, found.day.plan

    def keep(self, plan: Plan) -> Plan:
        """Keep a plan changed or begun; where it cannot be written it serves unwritten."""
        self._made = named(plan)
        if self._desk.logbook is not None:
            self._desk.logbook.keep_plan(self._made)
        return self._made
