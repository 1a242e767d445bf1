"""A pass that the own camera films, from its count-in to its end."""

from __future__ import annotations

import statistics
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rehearse.film.known_clock import KnownPlace
    from rehearse.practice.passplan import PassPlan


@dataclass
class FilmedPass:
    """What is known of it so far.

    Args:
        before: id of the pass that ended before it. zeros: seconds of the clock at which its music
            was heard to begin, one a look. wanted: nothing has come between.
        part, zero: of its recording, where that has ended before it.
    """

    plan: PassPlan
    before: str
    zeros: list[float] = field(default_factory=list)
    wanted: bool = True
    part: Path | None = None
    zero: float = 0.0

    def hear(self, plan: PassPlan, began: float) -> None:
        """The music of `plan` is heard, and began at this second of the clock."""
        same = (plan.percent, plan.scope, plan.number)
        self.wanted &= same == (self.plan.percent, self.plan.scope, self.plan.number)
        self.zeros.append(began)

    def place(self, zero: float) -> KnownPlace:
        """Where a recording lies in the music whose second 0 was at second `zero` of the clock."""
        from rehearse.film.known_clock import KnownPlace

        plan = self.plan
        return KnownPlace(plan.start, plan.end, plan.tempo, statistics.median(self.zeros) - zero)
