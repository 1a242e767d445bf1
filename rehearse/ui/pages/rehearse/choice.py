"""What is to be done with the chosen stretch: loop it, raise its tempo, or run it through."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING

from rehearse.music.position import Length
from rehearse.practice.passes import Cueing, Effort
from rehearse.practice.scope import Scope
from rehearse.practice.steps import FASTEST, SLOWEST, TempoSteps, fixed

if TYPE_CHECKING:
    from rehearse.practice.passplan import Work

#: The ways to rehearse, in the order offered, with their words.
WAYS = {"loop": "Loop", "steps": "Tempo steps", "run": "Run-through"}


@dataclass(frozen=True)
class Choice:
    """All that can be set; each way uses its own part.

    Args:
        way: "loop", "steps" or "run".
        percent: tempo of a loop or a run, in steps of 5 from 40 to 100 (105).
        first, top, up, after, down: the tempo steps, as in `TempoSteps`.
        passes: complete passes after which it ends; 0: until it is stopped.
        clean: clean passes in a row at the top tempo after which the steps end; 0: never.
        count_in: counts. rest: seconds.
        cueing: how much is shown and said. effort: of a run. alternate: cued and uncued in turn.
        runs: how many.
    """

    way: str = "loop"
    percent: int = 100
    first: int = 60
    top: int = 100
    up: int = 5
    after: int = 2
    down: int = 5
    passes: int = 0
    clean: int = 2
    count_in: int = 4
    rest: int = 0
    cueing: Cueing = "all"
    effort: Effort = "full out"
    alternate: bool = False
    runs: int = 1

    def work(self, scope: Scope) -> Work:
        """The work this makes of `scope`."""
        from rehearse.practice.drill import Drill
        from rehearse.practice.runthrough import RunThrough

        rest = Length(float(self.rest), in_counts=False)
        if self.way == "run":
            return RunThrough(
                scope,
                self.effort,
                self.cueing,
                self.alternate,
                self.runs,
                self.percent,
                self.count_in,
                rest,
            )
        steps = fixed(self.percent)
        if self.way == "steps":
            top = max(self.first, self.top)
            steps = TempoSteps(self.first, self.up, self.after, self.down, top)
        return Drill(
            scope,
            steps,
            self.count_in,
            rest,
            self.passes or None,
            (self.clean or None) if self.way == "steps" else None,
            self.cueing,
        )

    def stepped(self, by: int) -> Choice:
        """The same at another tempo, in percent, kept within 40–105."""
        if self.way == "steps":
            return replace(self, first=_within(self.first + by))
        return replace(self, percent=_within(self.percent + by))


def dump_choice(choice: Choice) -> str:
    """As text for the settings."""
    return json.dumps(asdict(choice))


def load_choice(text: str) -> Choice:
    """From the settings; what cannot be read there is as at first."""
    try:
        stored = json.loads(text)
        if not stored:
            return Choice()
        known = {k: v for k, v in stored.items() if k in asdict(Choice())}
        choice = Choice(**known)
        for way in WAYS:  # each way refuses numbers that it cannot work with
            replace(choice, way=way).work(Scope("whole", "", "", 0.0, 1.0))
    except (ValueError, TypeError, AttributeError):
        return Choice()
    return choice if choice.way in WAYS else Choice()


def _within(percent: int) -> int:
    return min(FASTEST, max(SLOWEST, percent))
