"""The plan as data: lines with their reasons, struck or moved by hand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from rehearse.practice.drill import Drill
from rehearse.practice.runthrough import RunThrough
from rehearse.words import _

#: What a rule rests on that nobody has written down.
COMMON = "common practice, no source"
#: What a line is for: the run that opens, something new, weak and cold ones in turn, a run
#: between, the whole at the end.
Group = Literal["open", "new", "rotate", "run", "close"]
GROUP_WORDS: dict[Group, str] = {
    "open": _("The whole, first"),
    "new": _("Something new"),
    "rotate": _("Weak spots, rotating"),
    "run": _("Run between"),
    "close": _("The whole, full tempo"),
}


@dataclass(frozen=True)
class PlanLine:
    """One line of the plan.

    Args:
        id: the same for the same line of the same log.
        work: what is done; `rotate` lines that follow each other take turns.
        reason: why it is here, a sentence of words and counts from the log.
        source: what the rule rests on ("Shea & Morgan 1979", "common practice, no source"); shown
            only when asked for.
        seconds: how long it should take, rests included.
        struck: left out by hand.
    """

    id: str
    group: Group
    title: str
    reason: str
    source: str
    work: Drill | RunThrough
    seconds: float
    struck: bool = False

    @property
    def passes(self) -> int:
        """Passes it should take at most."""
        work = self.work
        return work.runs if isinstance(work, RunThrough) else work.passes or 1

    @property
    def item(self) -> str:
        """What it works at: two lines at the same stretch have the same item."""
        scope = self.work.scope
        return f"{scope.kind} {scope.item}"


@dataclass(frozen=True)
class Plan:
    """Today's plan: its lines in order, for so many minutes.

    Args:
        key: its name in the logbook, "" until it is kept there.
    """

    day: date
    minutes: float
    lines: tuple[PlanLine, ...] = ()
    key: str = ""

    @property
    def kept(self) -> tuple[PlanLine, ...]:
        """The lines that were not struck."""
        return tuple(line for line in self.lines if not line.struck)

    @property
    def seconds(self) -> float:
        """How long the kept lines should take."""
        return sum(line.seconds for line in self.kept)


def strike(plan: Plan, line_id: str, struck: bool = True) -> Plan:
    """The plan with one line struck (or put back)."""
    lines = tuple(replace(x, struck=struck) if x.id == line_id else x for x in plan.lines)
    return replace(plan, lines=lines)


def strike_as(plan: Plan, other: Plan) -> Plan:
    """The plan with struck what is struck in `other`, an earlier one of the same day."""
    ids = {x.id for x in other.lines if x.struck}
    items = {x.item for x in other.lines if x.struck and x.group == "rotate"}
    lines = tuple(
        replace(x, struck=x.id in ids or (x.group == "rotate" and x.item in items))
        for x in plan.lines
    )
    return replace(plan, lines=lines)


def move(plan: Plan, line_id: str, by: int) -> Plan:
    """The plan with one line moved up (negative) or down; the ends hold it.

    Raises:
        KeyError: there is no such line.
    """
    lines = list(plan.lines)
    place = next((k for k, line in enumerate(lines) if line.id == line_id), None)
    if place is None:
        raise KeyError(line_id)
    line = lines.pop(place)
    lines.insert(max(0, min(len(lines), place + by)), line)
    return replace(plan, lines=tuple(lines))
