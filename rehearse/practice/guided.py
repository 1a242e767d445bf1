"""A plan that runs by itself: which line gives the next pass."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from rehearse.practice.passplan import PassPlan, Result, complete, practised
from rehearse.practice.planline import Plan, PlanLine
from rehearse.practice.runthrough import RunThrough

#: Passes of one line before the next takes its turn, and the most that ever follow each other.
VISIT, MOST_IN_ROW = 2, 3


@dataclass(frozen=True)
class Guided:
    """A plan as work: lines in order, lines that rotate in turn.

    A drill met again goes on at the tempo it had reached. When the minutes run out, what was not
    begun gives way to the line that closes the session.

    Args:
        done: passes of this plan made before, as after a restart.
        skipped: ids of lines left out while it runs.
    """

    plan: Plan
    done: tuple[Result, ...] = ()
    skipped: frozenset[str] = frozenset()

    def upcoming(self, results: tuple[Result, ...]) -> PassPlan | None:
        """The next pass; None when every line is done."""
        results = (*self.done, *results)
        short = self._time_is_up(results)
        for block in _blocks(self.plan.kept):
            lines = [x for x in block if x.id not in self.skipped]
            if short:
                lines = [x for x in lines if x.group == "close"]
            for line in _order(lines, results, self.plan):
                plan = self._next_of(line, results)
                if plan is not None:
                    return replace(plan, plan=self.plan.key, line=line.id)
        return None

    def line(self, line_id: str) -> PlanLine | None:
        """The line with this id."""
        return next((x for x in self.plan.lines if x.id == line_id), None)

    def _next_of(self, line: PlanLine, results: tuple[Result, ...]) -> PassPlan | None:
        own = tuple(r for r in results if r.plan.line == line.id)
        if isinstance(line.work, RunThrough):
            return line.work.upcoming(own)
        same = {x.id for x in self.plan.lines if x.item == line.item and x.group == line.group}
        earlier = tuple(r for r in results if r.plan.line in same - {line.id})
        named = not results or results[-1].plan.line != line.id
        return line.work.upcoming(own, earlier=earlier, named=named)

    def _time_is_up(self, results: tuple[Result, ...]) -> bool:
        if not results:
            return False
        closing = sum(x.seconds for x in self.plan.kept if x.group == "close")
        return practised(results) + closing > self.plan.minutes * 60


def _blocks(lines: Sequence[PlanLine]) -> Iterator[list[PlanLine]]:
    """Lines that rotate together as one block, every other line by itself."""
    block: list[PlanLine] = []
    for line in lines:
        if block and not (line.group == "rotate" == block[-1].group):
            yield block
            block = []
        block.append(line)
    if block:
        yield block


def _order(
    lines: Sequence[PlanLine], results: tuple[Result, ...], plan: Plan
) -> Iterator[PlanLine]:
    """The lines of a block in the order in which they still have passes to give."""
    if len(lines) < 2:
        yield from lines
        return
    done = Counter(r.plan.line for r in complete(results))
    by_id = {x.id: x for x in lines}
    given: Counter[str] = Counter()
    for line_id in turns({x.id: x.passes for x in lines}, f"{plan.day} {lines[0].id}"):
        given[line_id] += 1
        if given[line_id] > done[line_id]:
            yield by_id[line_id]


def turns(passes: dict[str, int], order: str) -> tuple[str, ...]:
    """Whose turn each pass is: in random order, two at a time, never more than three in a row.

    The same `order` draws the same turns.

    Random order beats blocked order on retention (Shea & Morgan 1979). Of those not just had, one
    with the most passes left is drawn, so that none is left alone at the end if it can be helped;
    one that is left alone ends after its third pass in a row.
    """
    draw = random.Random(order)
    left = dict(passes)
    result: list[str] = []
    while any(left.values()):
        last = result[-1] if result else ""
        others = [k for k, n in left.items() if n and k != last]
        if not others:
            row = next((i for i, k in enumerate(reversed(result)) if k != last), len(result))
            result += [last] * min(left[last], MOST_IN_ROW - row)
            break
        most = max(left[k] for k in others)
        chosen = draw.choice([k for k in others if left[k] > most - VISIT])
        visit = min(VISIT, left[chosen])
        left[chosen] -= visit
        result += [chosen] * visit
    return tuple(result)
