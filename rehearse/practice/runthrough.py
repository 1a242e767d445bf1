"""A run-through: the whole routine, with as many cues as the athlete still needs.

A display that is always on becomes a crutch, and recalling strengthens more than repeating
(Roediger & Karpicke 2006, Psychological Science 17, 249–255; from memory): cued and uncued runs
can alternate, and after each run it is asked once where it broke.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rehearse.music.position import Length
from rehearse.practice.passes import Cueing, Effort
from rehearse.practice.passplan import NO_REST, PassPlan, Result, complete
from rehearse.practice.scope import Scope, Spot
from rehearse.words import _

_SAID = {
    "all": _("with all cues"),
    "names": _("names on the hit"),
    "counts": _("counts only"),
    "memory": _("from memory"),
}


@dataclass(frozen=True)
class RunThrough:
    """The definition of one or more runs.

    Args:
        scope: the whole routine.
        effort: `full out` or `marked` (at low effort).
        cueing: what is shown and said in the first run.
        alternate: every second run has all cues, or none when the first has all.
        runs: how many.
    """

    scope: Scope
    effort: Effort = "full out"
    cueing: Cueing = "all"
    alternate: bool = False
    runs: int = 1
    percent: int = 100
    count_in: int = 4
    rest: Length = NO_REST
    asks: bool = True

    def upcoming(self, results: tuple[Result, ...]) -> PassPlan | None:
        """The next run; None when all are done."""
        done = len(complete(results))
        if done >= self.runs:
            return None
        cueing = self._cueing(done)
        say = f"{self.scope.name}, {self.effort}, {_SAID[cueing]}"
        if self.percent != 100:
            say = _("{say}, {percent} percent", say=say, percent=self.percent)
        return PassPlan(
            kind="run",
            scope=self.scope,
            percent=self.percent,
            cueing=cueing,
            effort=self.effort,
            count_in=self.count_in,
            rest=self.rest,
            say=say,
            number=done + 1,
            of=self.runs,
            asks=self.asks,
        )

    def _cueing(self, done: int) -> Cueing:
        if not self.alternate or done % 2 == 0:
            return self.cueing
        return "memory" if self.cueing == "all" else "all"


def place_of_number(spots: Sequence[Spot], number: int) -> float:
    """Seconds at which pose `number` (from 1) is hit: the answer "it broke at pose 7".

    Raises:
        KeyError: there is no such pose.
    """
    if not 1 <= number <= len(spots):
        raise KeyError(number)
    return spots[number - 1].hit
