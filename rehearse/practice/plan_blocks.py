"""Blocks of the plan in which weak transitions and whole parts take turns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rehearse.practice import plan_reasons
from rehearse.practice.history import BeforeShow
from rehearse.practice.planline import PlanLine
from rehearse.practice.scope import Scope
from rehearse.practice.transition_evidence import OVERDUE, Evidence

#: Passes of one weak transition in all, and of one part in each block (volume).
WEAK_PASSES, PART_PASSES = 12, 4
#: Share of a block that the weak ones may take.
WEAK_SHARE = 0.65
#: Days before the show on which nothing new comes and runs are marked.
LAST_DAYS = 2


@dataclass(frozen=True)
class Today:
    """All that the rules look at.

    Args:
        sections, whole, ways: what can be drilled; ways by the pose arrived at.
        last_close: cueing of the last run before today, "" when there was none.
        unjudged: the athlete uses no button at all.
        first: nothing was rehearsed before today.
    """

    evidence: tuple[Evidence, ...]
    sections: tuple[Scope, ...]
    whole: Scope
    ways: dict[str, Scope]
    show: BeforeShow
    last_close: str
    unjudged: bool
    first: bool = False

    @property
    def is_last_days(self) -> bool:
        """Too late for anything new."""
        return self.show.days is not None and 0 <= self.show.days <= LAST_DAYS


@dataclass(frozen=True)
class PlanPart:
    """A section, or a transition that no section holds, and how many days it has waited."""

    scope: Scope
    waited: int

    @property
    def item(self) -> str:
        """As `PlanLine.item`."""
        return f"{self.scope.kind} {self.scope.item}"


def rotation(
    seen: Today, weak: Sequence[Evidence], parts: Sequence[PlanPart], left: float, blocks: int
) -> Iterator[list[PlanLine]]:
    """Blocks of lines that take turns: the weak transitions in each, whole parts between them."""
    passes = _weak_passes(seen, weak, left / blocks, blocks)
    queue = list(parts)
    for number in range(1, blocks + 1):
        room, block = left / blocks, []
        owed = owed_seconds(queue)
        for evidence in weak:
            scope = seen.ways[evidence.spot.pose]
            line = plan_reasons.turn(evidence, scope, number, passes, seen.unjudged)
            if line.seconds <= room - owed:
                block.append(line)
                room -= line.seconds
        here = {x.item for x in block}
        free = [p for p in queue if p.item not in here]
        block += _between_the_weak(seen, free, number, room)
        here = {x.item for x in block}
        # Those that had their turn go to the end of the queue, and are warm.
        had = [replace(p, waited=0) for p in queue if p.item in here]
        queue = [p for p in queue if p.item not in here] + had
        yield block


def _weak_passes(seen: Today, weak: Sequence[Evidence], room: float, blocks: int) -> int:
    """Passes of each weak one in a block: they may fill most of it, within the day's volume."""
    once = sum(plan_reasons.turn(e, seen.ways[e.spot.pose], 0, 1, False).seconds for e in weak)
    wanted = int(WEAK_SHARE * room / once) if weak else 0
    return max(2, min(wanted, 6, WEAK_PASSES // blocks))


def _between_the_weak(
    seen: Today, queue: Sequence[PlanPart], number: int, room: float
) -> list[PlanLine]:
    once = [plan_reasons.part(p.scope, p.waited, number, 1, seen.unjudged) for p in queue]
    whole = sum(x.seconds for x in once)
    passes = max(1, min(PART_PASSES, int(room / whole))) if whole else 1
    found = []
    for part in queue:
        line = plan_reasons.part(part.scope, part.waited, number, passes, seen.unjudged)
        if line.seconds <= room:
            room -= line.seconds
            found.append(line)
    return found


def owed_seconds(parts: Sequence[PlanPart]) -> float:
    """What one pass of each overdue part takes: time that the weak ones may not have."""
    overdue = (p for p in parts if p.waited >= OVERDUE)
    return sum(plan_reasons.part(p.scope, p.waited, 0, 1, False).seconds for p in overdue)


def parts_of(seen: Today) -> list[PlanPart]:
    """The sections, and the transitions that none of them holds."""
    held: set[str] = set()
    found = []
    for scope in seen.sections:
        inside = [e for e in seen.evidence if _holds(scope, e)]
        held |= {e.spot.pose for e in inside}
        if inside:
            found.append(PlanPart(scope, max(e.days_cold for e in inside)))
    loose = [e for e in seen.evidence if e.spot.pose not in held]
    return found + [PlanPart(seen.ways[e.spot.pose], e.days_cold) for e in loose]


def _holds(scope: Scope, evidence: Evidence) -> bool:
    return scope.start <= evidence.spot.start and evidence.spot.hit < scope.end
