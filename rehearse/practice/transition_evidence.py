"""What the log says of each transition, weighed for the plan."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from rehearse.practice.habits import habits
from rehearse.practice.logbook import Logbook
from rehearse.practice.scope import Spot
from rehearse.practice.takelog import takes_until

#: A judgement counts half after this many days, so that the plan follows what is so now.
HALF_LIFE = 4.0
DAYS = 42
#: Only about so many of the latest judgements say how strong a transition is now.
LATEST = 10.0
#: Sound passes that something new needs before it is rotated with the rest.
SOUND = 3
#: After so many passes it is no longer new, only weak.
NEW_PASSES = 8
#: Days without a drill after which a transition must come today.
OVERDUE = 3
#: Days that stand for "never".
NEVER = 9999
_START = 0.6


@dataclass(frozen=True)
class Evidence:
    """One transition as the log shows it.

    Args:
        passes, clean: in all; clean may be a fraction (see `passes.shares`).
        strength: 0..1.05, clean share times tempo, recent judgements weighing most; where little
            is known, the athlete's own average.
        judged_last, clean_last: on the last day before today on which it was judged.
        full_share: recent clean share at full tempo; None: not judged there.
        best: highest recent clean tempo; None.
        drilled_ago: days since it was last in a drill; None: never.
        missed_lately: its judgements of the last practice day were mostly misses.
        filmed: what the newest films say of its arrival ("late on 3 of the last 4 takes: …");
            empty: nothing.
    """

    spot: Spot
    passes: int = 0
    clean: float = 0.0
    strength: float = _START
    judged_last: float = 0.0
    clean_last: float = 0.0
    full_share: float | None = None
    best: float | None = None
    drilled_ago: int | None = None
    filmed: str = ""

    @property
    def is_new(self) -> bool:
        """Fewer than three sound passes so far, and not tried often."""
        return self.clean < SOUND - 0.01 and self.passes < NEW_PASSES

    @property
    def missed_lately(self) -> bool:
        """At least half of what was judged on the last practice day was missed."""
        return self.judged_last >= 1 and self.clean_last <= self.judged_last / 2

    @property
    def days_cold(self) -> int:
        """Days since the last drill, never drilled counting as very long."""
        return NEVER if self.drilled_ago is None else self.drilled_ago

    @property
    def need(self) -> float:
        """How much it needs work today: weakness first, then neglect, then last time's misses."""
        neglect = min(1.0, self.days_cold / (OVERDUE + 2))
        seen = (0.15 if self.missed_lately else 0.0) + (0.2 if self.filmed else 0.0)
        return (1.0 - self.strength) + 0.25 * neglect + seen


_TOTALS = """
SELECT item, sum(passes), sum(clean), max(CASE WHEN drilled THEN day END) FROM tally
WHERE kind = 'transition' AND day <= ? GROUP BY item
"""
_RECENT = """
SELECT item, day, judged, clean, judged_full, clean_full, quality, best FROM tally
WHERE kind = 'transition' AND day > ? AND day <= ? AND judged > 0
ORDER BY item, day DESC
"""


@dataclass
class _Recent:
    counted: float = 0.0
    judged: float = 0.0
    quality: float = 0.0
    judged_full: float = 0.0
    clean_full: float = 0.0
    best: float | None = None
    last: tuple[float, float] = (0.0, 0.0)

    def add(self, age: int, row: tuple[float, ...], best: float | None) -> None:
        """Take in one day, the newest first, until there are enough judgements."""
        judged, clean, judged_full, clean_full, quality = row
        if judged >= 1 and self.last == (0.0, 0.0):
            self.last = (judged, clean)
        if best is not None and age <= 2 * HALF_LIFE:
            self.best = max(best, self.best or 0.0)
        share = min(1.0, max(0.0, LATEST - self.counted) / judged)
        weight = share * 0.5 ** (age / HALF_LIFE)
        self.counted += share * judged
        self.judged += weight * judged
        self.quality += weight * quality
        self.judged_full += weight * judged_full
        self.clean_full += weight * clean_full


def gather(book: Logbook, spots: Iterable[Spot], today: date) -> tuple[Evidence, ...]:
    """The evidence for every transition of the routine, in its order, up to `today`."""
    totals = {item: rest for item, *rest in book.db.execute(_TOTALS, (today.isoformat(),))}
    recent = _recent(book, today)
    quality = sum(r.quality for r in recent.values())
    prior = (quality + _START) / (sum(r.judged for r in recent.values()) + 1.0)
    filmed = {habit.pose: habit.sentence for habit in habits(takes_until(book.db, today))}
    return tuple(
        replace(_evidence(s, totals, recent, prior, today), filmed=filmed.get(s.pose, ""))
        for s in spots
    )


def _recent(book: Logbook, today: date) -> dict[str, _Recent]:
    first = today - timedelta(days=DAYS)
    result: dict[str, _Recent] = {}
    for item, day, *row, best in book.db.execute(_RECENT, (first.isoformat(), today.isoformat())):
        age = (today - date.fromisoformat(day)).days
        result.setdefault(item, _Recent()).add(age, tuple(row), best)
    return result


def _evidence(
    spot: Spot,
    totals: dict[str, list[object]],
    recent: dict[str, _Recent],
    prior: float,
    today: date,
) -> Evidence:
    passes, clean, drilled = totals.get(spot.transition, (0, 0.0, None))
    seen = recent.get(spot.transition, _Recent())
    full = seen.clean_full / seen.judged_full if seen.judged_full > 0.2 else None
    return Evidence(
        spot=spot,
        passes=int(str(passes)),
        clean=float(str(clean)),
        strength=(seen.quality + prior) / (seen.judged + 1.0),
        judged_last=seen.last[0],
        clean_last=seen.last[1],
        full_share=full,
        best=seen.best,
        drilled_ago=(today - date.fromisoformat(str(drilled))).days if drilled else None,
    )
