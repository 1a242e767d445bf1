"""The plan of the day in the logbook: what was struck, moved and done outlives the program.

A plan is made anew from the log as often as it is looked at, until it is changed by hand or
begun. From then on it is kept, each pass names the line it belongs to, and the same day goes on
where it was.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length
from rehearse.practice.drill import Drill, TempoSteps
from rehearse.practice.guided import Guided
from rehearse.practice.logbook import Logbook
from rehearse.practice.pass_rows import Row
from rehearse.practice.passes import Pass
from rehearse.practice.passplan import PassPlan, Result
from rehearse.practice.planline import Plan, PlanLine
from rehearse.practice.runthrough import RunThrough
from rehearse.practice.scope import Scope, section_scope, transition_scope, whole_scope
from rehearse.routine.model import Routine


@dataclass(frozen=True)
class DayPlan:
    """A plan and what was done of it so far."""

    plan: Plan
    done: tuple[Result, ...] = ()

    @property
    def is_begun(self) -> bool:
        """Whether at least one pass of it was made."""
        return bool(self.done)

    @property
    def is_over(self) -> bool:
        """Whether nothing is left to do."""
        return self.is_begun and self.work.upcoming(()) is None

    @property
    def work(self) -> Guided:
        """The plan as it is to be run: without what was struck, from where it was."""
        return Guided(replace(self.plan, lines=self.plan.kept), self.done)

    def passes_of(self, line: PlanLine) -> int:
        """Complete passes of a line."""
        return sum(r.complete for r in self.done if r.plan.line == line.id)

    @property
    def seconds_left(self) -> float:
        """How long what is left should take."""
        return sum(
            line.seconds * max(0.0, 1.0 - self.passes_of(line) / line.passes)
            for line in self.plan.kept
            if not self.is_done(line)
        )

    def is_done(self, line: PlanLine) -> bool:
        """Whether a line has nothing left to give."""
        own = tuple(r for r in self.done if r.plan.line == line.id)
        return bool(own) and line.work.upcoming(own) is None


def keep_plan(book: Logbook, plan: Plan) -> Plan:
    """Write a plan, or its changes; returns it with its key.

    Raises:
        UserError: it could not be written.
    """
    kept = named(plan)
    book.keep_plan(row_of(kept))
    return kept


def named(plan: Plan) -> Plan:
    """The plan with a key, its own or a new one."""
    return plan if plan.key else replace(plan, key=secrets.token_hex(8))


def row_of(plan: Plan) -> Row:
    """A plan with its key as `Logbook.keep_plan` takes it."""
    lines = json.dumps([asdict(x) for x in plan.lines])
    return plan.key, plan.day.isoformat(), plan.minutes, lines


def plan_of(
    book: Logbook, routine: Routine, beatmap: BeatMap, day: date, minutes: float | None = None
) -> DayPlan | None:
    """The plan kept last on `day` (of so many minutes), fitted to the routine as it is now.

    Lines whose section or pose is gone are left out; a plan that cannot be read is none.
    """
    rows = book.db.execute(
        "SELECT key, minutes, lines FROM plans WHERE day = ? AND (? IS NULL OR minutes = ?)"
        " ORDER BY n DESC LIMIT 1",
        (day.isoformat(), minutes, minutes),
    ).fetchall()
    for key, length, text in rows:
        try:
            read = [_line(entry) for entry in json.loads(text)]
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError, ArithmeticError):
            return None
        fitted = (_fitted(line, routine, beatmap) for line in read)
        plan = Plan(day, length, tuple(x for x in fitted if x is not None), key)
        return DayPlan(plan, tuple(map(_result, book.passes_of_plan(key))))
    return None


def _line(entry: Mapping[str, Any]) -> PlanLine:
    work = dict(entry["work"])
    work["scope"], work["rest"] = Scope(**work["scope"]), Length(**work["rest"])
    if "steps" in work:
        work["steps"] = TempoSteps(**work["steps"])
        return PlanLine(**{**entry, "work": Drill(**work)})
    return PlanLine(**{**entry, "work": RunThrough(**work)})


def _fitted(line: PlanLine, routine: Routine, beatmap: BeatMap) -> PlanLine | None:
    scope = line.work.scope
    try:
        if scope.kind == "section":
            scope = section_scope(routine, beatmap, scope.item)
        elif scope.kind == "transition":
            scope = transition_scope(routine, beatmap, scope.item.partition(">")[2])
        else:
            scope = whole_scope(routine, beatmap)
    except KeyError:
        return None
    return replace(line, work=replace(line.work, scope=scope))


def _result(done: Pass) -> Result:
    scope = Scope("marks", "", done.what, done.start, done.end)
    plan = PassPlan(
        done.kind, scope, round(done.tempo * 100), done.cueing, plan=done.plan, line=done.line
    )
    return Result(done.id, plan, done.started, done.ended, done.complete, done.verdict)
