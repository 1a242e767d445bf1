"""What the next pass is, and what became of the last ones."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from rehearse.music.position import Length
from rehearse.practice.passes import Cueing, Effort, Kind, Verdict
from rehearse.practice.scope import Scope

NO_REST = Length(0.0, in_counts=False)


@dataclass(frozen=True)
class PassPlan:
    """The pass to play next.

    Args:
        percent: tempo in percent of the music's own.
        count_in: counts heard before it, at its tempo.
        rest: pause after it, in counts or seconds.
        say: what is announced before it, "" for nothing.
        number, of: which pass this is, of how many (None: until clean, or until stopped).
        said: whose names are said, as in `cueing.choice.SAID`; "" as it is set.
        asks: afterwards "where did you lose it?" is asked, once.
        plan, line: key of the day's plan and id of the line it belongs to, "" outside a plan.
    """

    kind: Kind
    scope: Scope
    percent: int
    cueing: Cueing = "all"
    effort: Effort = "full out"
    count_in: int = 4
    rest: Length = NO_REST
    say: str = ""
    number: int = 1
    of: int | None = None
    asks: bool = False
    said: str = ""
    plan: str = ""
    line: str = ""

    @property
    def start(self) -> float:
        """Seconds of the track."""
        return self.scope.start

    @property
    def end(self) -> float:
        """Seconds of the track."""
        return self.scope.end

    @property
    def tempo(self) -> float:
        """Share of the music's own tempo."""
        return self.percent / 100


@dataclass(frozen=True)
class Result:
    """A pass that is over.

    Args:
        torn: some of its music was not heard; it counts as clean only when it was judged so.
    """

    id: str
    plan: PassPlan
    started: datetime
    ended: datetime
    complete: bool
    verdict: Verdict | None = None
    torn: bool = False


class Work(Protocol):
    """Anything that says what to play next, from nothing but what has been done."""

    def upcoming(self, results: tuple[Result, ...]) -> PassPlan | None:
        """The next pass; None when the work is done."""


#: Seconds of pause from which a pause is not part of the session: a meal, a sleeping laptop.
LONG_PAUSE = 300.0


def practised(results: tuple[Result, ...]) -> float:
    """Seconds from the first pass to the end of the last, without long pauses."""
    seconds, before = 0.0, results[0].started if results else None
    for result in results:
        length = (result.ended - result.started).total_seconds()
        music = result.plan.scope.length / result.plan.tempo
        pause = (result.started - before).total_seconds() if before else 0.0
        seconds += min(length, music) if length > music + LONG_PAUSE else length
        seconds += pause if 0.0 < pause < LONG_PAUSE else 0.0
        before = result.ended
    return seconds


def complete(results: tuple[Result, ...]) -> tuple[Result, ...]:
    """Those that went to their end."""
    return tuple(r for r in results if r.complete)
