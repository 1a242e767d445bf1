"""Today's plan between log and page: made anew until it is changed or begun, then kept.

What is read is read on the logbook's own thread, from a question that carries all it needs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.practice.logbook import Logbook
from rehearse.practice.plan import make_plan
from rehearse.practice.planbook import DayPlan, named, plan_of
from rehearse.practice.planline import Plan, strike_as
from rehearse.practice.stamina import RoundLine, plan_rounds
from rehearse.routine.model import Routine
from rehearse.routine.rounds import RoundWish, mandatory_poses, stances_of
from rehearse.routine.rules import RuleSet, load_rules
from rehearse.ui.pages.logbook.logbook_data import LogbookData, look
from rehearse.ui.pages.rehearse.practice_forms import load_wish
from rehearse.ui.workspace import Workspace

Basis = tuple[object, ...]


@dataclass(frozen=True)
class PlanRequest:
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
class PlanReply:
    """The page's data, how long the session is, the plan and what it was made from.

    Args:
        rounds: the comparison rounds that come before it.
    """

    overview: LogbookData
    minutes: int
    day: DayPlan
    basis: Basis
    rounds: tuple[RoundLine, ...] = ()


def answer(book: Logbook, asked: PlanRequest) -> PlanReply:
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
        alone=not asked.routine.track,
    )
    passes = sum(s.passes for s in overview.summary.poses)
    seconds = sum(line.seconds for line in rounds)
    basis: Basis = (
        *(asked.day, minutes, passes, asked.routine, id(asked.beatmap), seconds),
        overview.habits,
    )
    kept = plan_of(book, asked.routine, asked.beatmap, asked.day, minutes)
    if kept is not None and not asked.anew:
        return PlanReply(overview, minutes, kept, asked.basis, rounds)
    if asked.made is not None and basis == asked.basis and not asked.anew:
        return PlanReply(overview, minutes, DayPlan(asked.made), basis, rounds)
    plan = make_plan(
        book, asked.routine, asked.beatmap, minutes=minutes, today=asked.day, rounds=seconds
    )
    if before is not None and not before.is_over:
        plan = strike_as(plan, before.plan)
    return PlanReply(overview, minutes, DayPlan(plan), basis, rounds)


def _mandatory(workspace: Workspace) -> int:
    """How many mandatory poses the open routine's division has."""
    routine = workspace.routine
    assert routine is not None
    try:
        rules = load_rules(routine.rules, workspace.folder)
    except UserError:  # told where the rules are looked at
        rules = RuleSet("", "")
    if stances_of(rules, routine.division):
        return 0
    return len(mandatory_poses(rules, workspace.catalogue, figure=routine.figure))


class TodaysPlan:
    """The plan of the open routine's logbook for a day and so many minutes."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace
        self._basis: Basis = ()
        self._made: Plan | None = None

    def question(
        self, day: date, minutes: int, *, as_kept: bool, anew: bool = False
    ) -> PlanRequest:
        """What to ask about the open routine, which has its music."""
        routine, beatmap = self._workspace.routine, self._workspace.beatmap
        assert routine is not None
        assert beatmap is not None
        asked = PlanRequest(routine, beatmap, day, minutes, as_kept, anew)
        wish, _ = load_wish(self._workspace.settings.get(f"round/{routine.id}", "{}"))
        return replace(
            asked,
            made=self._made,
            basis=self._basis,
            round_poses=_mandatory(self._workspace),
            round_wish=wish,
        )

    def take(self, found: PlanReply) -> None:
        """Remember the plan that is shown now."""
        self._basis, self._made = found.basis, found.day.plan

    def keep(self, plan: Plan) -> Plan:
        """Keep a plan changed or begun; where it cannot be written it serves unwritten."""
        self._made = named(plan)
        if self._workspace.logbook is not None:
            self._workspace.logbook.keep_plan(self._made)
        return self._made
