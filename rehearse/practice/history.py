"""Practice over the days: minutes, what was done toward the show, what is warm and what is cold."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from rehearse.practice.logbook import Logbook
from rehearse.practice.scope import Spot


@dataclass(frozen=True)
class Day:
    """One day on which something was practised; dry runs are left out.

    Args:
        minutes: of all its sessions, rests included. passes: all, broken off ones too.
        runs: complete runs. unwell: a session was stopped for dizziness, cramp or pain.
    """

    day: date
    minutes: float
    passes: int
    runs: int
    unwell: bool = False


_MINUTES = """
SELECT day, sum(ended - started) / 60.0, max(stopped = 'unwell') FROM sessions
WHERE NOT dry_run AND day BETWEEN :first AND :last GROUP BY day
"""
_COUNTS = """
SELECT day, count(*), sum(kind = 'run' AND complete) FROM passes
WHERE NOT dry_run AND day BETWEEN :first AND :last GROUP BY day
"""


def calendar(book: Logbook, first: date, last: date) -> tuple[Day, ...]:
    """The days of practice from `first` to `last`, both included."""
    span = {"first": first.isoformat(), "last": last.isoformat()}
    minutes = {day: values for day, *values in book.db.execute(_MINUTES, span)}
    counts = {day: values for day, *values in book.db.execute(_COUNTS, span)}
    days = []
    # A session across midnight has its minutes on the first day and passes on both.
    for day in sorted(minutes.keys() | counts.keys()):
        length, unwell = minutes.get(day, (0.0, 0))
        passes, runs = counts.get(day, (0, 0))
        days.append(Day(date.fromisoformat(day), length, passes, runs, bool(unwell)))
    return tuple(days)


@dataclass(frozen=True)
class BeforeShow:
    """Complete runs so far, and the days left.

    Args:
        runs: all; from_memory: without any cue; clean: judged clean.
        days: to the show; None without a date, negative after it.
    """

    runs: int
    from_memory: int
    clean: int
    days: int | None


_RUNS = """
SELECT coalesce(sum(passes), 0), coalesce(sum(passes * (item = 'memory')), 0),
  coalesce(sum(clean), 0) FROM tally WHERE kind = 'run' AND day <= ?
"""


def before_show(book: Logbook, show_date: str, today: date) -> BeforeShow:
    """Runs up to `today`; `show_date` as ISO 8601 or empty."""
    runs, memory, clean = book.db.execute(_RUNS, (today.isoformat(),)).fetchone()
    days = (date.fromisoformat(show_date) - today).days if show_date else None
    return BeforeShow(runs, memory, round(clean), days)


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
