"""Where the routine is warm and where it has gone cold, pose by pose along the music."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from rehearse.practice.logbook import Logbook
from rehearse.practice.scope import Spot

#: A pass counts half in the warmth after this many days (our choice, no source).
HALF_LIFE = 4.0
#: Passes today, or as much in fading ones, that some pose needs for the ribbon to be warm at all.
WARM = 4.0
#: Passes older than this no longer warm anything.
DAYS = 28


@dataclass(frozen=True)
class Heat:
    """How warm one pose with the way into it is.

    Args:
        start, end: seconds of the track that it fills in the ribbon.
        passes: in the last `DAYS` days.
        warmth: 0..1; the warmest of the routine is 1, unless all of it has gone cold.
        days_ago: days since it was last practised; None: never.
    """

    pose: str
    name: str
    start: float
    end: float
    passes: int
    warmth: float
    days_ago: int | None


_PASSES = """
SELECT item, day, passes FROM tally WHERE kind = 'pose' AND day > ? AND day <= ?
"""
_LAST = "SELECT item, max(day) FROM tally WHERE kind = 'pose' AND day <= ? GROUP BY item"


def heat(book: Logbook, spots: Iterable[Spot], today: date) -> tuple[Heat, ...]:
    """The warmth of every pose along the routine, as it stands on `today`."""
    first = today - timedelta(days=DAYS)
    warmth: dict[str, float] = {}
    passes: dict[str, int] = {}
    for pose, day, number in book.db.execute(_PASSES, (first.isoformat(), today.isoformat())):
        age = (today - date.fromisoformat(day)).days
        warmth[pose] = warmth.get(pose, 0.0) + number * 0.5 ** (age / HALF_LIFE)
        passes[pose] = passes.get(pose, 0) + number
    last = dict(book.db.execute(_LAST, (today.isoformat(),)))
    here = tuple(spots)
    most = max(WARM, *(warmth.get(s.pose, 0.0) for s in here), 0.0)
    return tuple(
        Heat(
            pose=s.pose,
            name=s.name,
            start=s.start,
            end=s.end,
            passes=passes.get(s.pose, 0),
            warmth=warmth.get(s.pose, 0.0) / most,
            days_ago=_days_since(last.get(s.pose), today),
        )
        for s in here
    )


def _days_since(day: str | None, today: date) -> int | None:
    return None if day is None else (today - date.fromisoformat(day)).days
