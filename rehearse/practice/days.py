"""Days of practice with their minutes, and what was done toward the show."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rehearse.practice.logbook import Logbook


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
