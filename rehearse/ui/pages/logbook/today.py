"""Today's plan between log and page: made anew until it is changed or begun, then kept."""

from __future__ import annotations

from datetime import date

from rehearse.files.fault import Fault
from rehearse.practice.plan import make_plan
from rehearse.practice.planbook import DayPlan, keep_plan, plan_of
from rehearse.practice.planline import Plan, strike_as
from rehearse.ui.desk import Desk


class TodaysPlan:
    """The plan of the open routine's logbook for a day and so many minutes."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._basis: tuple[object, ...] = ()
        self._made: Plan | None = None

    def minutes_kept(self, day: date) -> int | None:
        """Minutes of the plan kept last on this day; None when there is none."""
        found = self._kept(day, None)
        return round(found.plan.minutes) if found else None

    def look(self, day: date, minutes: int, passes: int) -> DayPlan:
        """The plan kept for the day, or one made now; `passes`: all that the log counts."""
        found = self._kept(day, minutes)
        if found is not None:
            return found
        desk = self._desk
        basis = (day, minutes, passes, desk.routine, id(desk.beatmap))
        if self._made is None or basis != self._basis:
            self._basis, self._made = basis, self._make(day, minutes)
        return DayPlan(self._made)

    def keep(self, plan: Plan) -> Plan:
        """Keep a plan changed or begun; where it cannot be written it serves unwritten."""
        self._made = plan
        try:
            return keep_plan(self._desk.logbook, plan)
        except Fault as fault:
            self._desk.faultRaised.emit(fault.sentence)
            return plan

    def another(self, day: date, minutes: int) -> DayPlan:
        """A new plan for the same day, after the end of the one before."""
        return DayPlan(self.keep(self._make(day, minutes)))

    def _make(self, day: date, minutes: int) -> Plan:
        desk = self._desk
        plan = make_plan(desk.logbook, desk.routine, desk.beatmap, minutes=minutes, today=day)
        before = self._kept(day, None)
        return strike_as(plan, before.plan) if before and not before.is_over else plan

    def _kept(self, day: date, minutes: int | None) -> DayPlan | None:
        desk = self._desk
        return plan_of(desk.logbook, desk.routine, desk.beatmap, day, minutes)
