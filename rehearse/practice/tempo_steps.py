"""From slow to full tempo in steps that can be felt.

A change of tempo under about 3–6 % is hard to notice (Drake & Botte 1993, Perception &
Psychophysics 54, 277–286; from memory), so a step is 5 % unless set otherwise. Whole percents,
so that steps add up exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.practice.passes import Verdict

SLOWEST, FASTEST = 40, 105


@dataclass(frozen=True)
class Step:
    """Where the steps stand: the tempo in percent, and clean passes in a row at it."""

    percent: int
    row: int = 0


@dataclass(frozen=True)
class TempoSteps:
    """When the tempo goes up and down; all tempos in percent of the music's own.

    Args:
        first: tempo of the first pass. top: the goal.
        up: how far up after `after` clean passes in a row. down: how far back after a miss.
        floor: never slower than this.
        unjudged: also count passes nobody judged toward going up (practice with no button).

    Raises:
        ValueError: not 40 ≤ floor ≤ first ≤ top ≤ 105, or a step or count below 1.
    """

    first: int = 60
    up: int = 5
    after: int = 2
    down: int = 5
    top: int = 100
    floor: int = SLOWEST
    unjudged: bool = False

    def __post_init__(self) -> None:
        if not SLOWEST <= self.floor <= self.first <= self.top <= FASTEST:
            raise ValueError(f"tempos must rise from {SLOWEST} to {FASTEST} percent")
        if self.up < 1 or self.after < 1 or self.down < 0:
            raise ValueError("steps and passes must be at least 1")

    def begin(self) -> Step:
        """The first pass."""
        return Step(self.first)

    def follow(self, step: Step, verdict: Verdict | None) -> Step:
        """The next pass after one with this verdict."""
        if verdict == "missed":
            return Step(max(self.floor, step.percent - self.down))
        if verdict is None and not self.unjudged:
            return step
        row = step.row + 1
        if row >= self.after and step.percent < self.top:
            return Step(min(self.top, step.percent + self.up))
        return Step(step.percent, row)


def fixed(percent: int) -> TempoSteps:
    """One tempo throughout."""
    return TempoSteps(first=percent, top=percent, floor=percent)
