"""What the logbook says of every section, transition and pose.

Everything is read from the day-by-day tally, so that a logbook of a hundred thousand passes opens
as fast as a new one. Dry runs are not in it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from rehearse.practice.logbook import Logbook
from rehearse.practice.scope import Spot
from rehearse.routine.model import Routine

#: Days of the later and of the earlier stretch that a trend compares.
TREND_DAYS = 14
#: Judgements that each stretch of a trend needs.
TREND_JUDGED = 3.0
#: A change of quality smaller than this is called steady.
TREND_STEADY = 0.05


@dataclass(frozen=True)
class Standing:
    """How one section, transition, pose or the whole routine stands.

    Args:
        kind: `section`, `transition`, `pose` or `run`. item: its id.
        name: now; for what is no longer in the routine, its last name. gone: whether it is.
        passes: complete passes that took it in. drilled: those of them that were drills.
        last: when it was last practised; None: never.
        best_clean: highest tempo (share) of a clean pass; None: none was clean.
        judged_full, clean_full: judgements at full tempo, and how many of them clean.
        judged, clean: at any tempo.
        trend: change of quality (tempo · clean share, 0..1.05) between the last 14 days and the
            14 before; None: too few judgements.
    """

    kind: str
    item: str
    name: str
    gone: bool = False
    passes: int = 0
    drilled: int = 0
    last: datetime | None = None
    best_clean: float | None = None
    judged: float = 0.0
    clean: float = 0.0
    judged_full: float = 0.0
    clean_full: float = 0.0
    trend: float | None = None

    @property
    def clean_share(self) -> float | None:
        """Clean share at full tempo, 0..1; None: never judged there."""
        return self.clean_full / self.judged_full if self.judged_full > 1e-9 else None

    @property
    def trend_word(self) -> str:
        """The trend as a word."""
        if self.trend is None:
            return "too few"
        if abs(self.trend) < TREND_STEADY:
            return "steady"
        return "rising" if self.trend > 0 else "falling"


@dataclass(frozen=True)
class Summary:
    """All standings: those of the routine in its order, then what is gone by last practice."""

    sections: tuple[Standing, ...]
    transitions: tuple[Standing, ...]
    poses: tuple[Standing, ...]
    whole: Standing


# Runs are tallied by their cueing and summed up here.
_ITEM = "CASE WHEN kind = 'run' THEN '' ELSE item END"
_TOTALS = f"""
SELECT kind, {_ITEM} AS what, substr(max(printf('%020.6f', last) || name), 21),
  sum(passes), sum(drilled), max(last), max(best),
  sum(judged), sum(clean), sum(judged_full), sum(clean_full)
FROM tally WHERE day <= ? GROUP BY kind, what
"""
_QUALITY = f"""
SELECT kind, {_ITEM} AS what, sum(judged), sum(quality) FROM tally WHERE day > ? AND day <= ?
GROUP BY kind, what
"""


def summarise(book: Logbook, routine: Routine, spots: Iterable[Spot], today: date) -> Summary:
    """Standings of everything in the routine and of everything that once was, up to `today`."""
    found = _standings(book.db, today)
    ways = tuple(spots)
    sections = [("section", s.id, s.name) for s in routine.sections]
    transitions = [("transition", s.transition, s.words) for s in ways]
    poses = [("pose", s.pose, s.name) for s in ways]
    return Summary(
        sections=_in_order(found, "section", sections),
        transitions=_in_order(found, "transition", transitions),
        poses=_in_order(found, "pose", poses),
        whole=_in_order(found, "run", [("run", "", "whole routine")])[0],
    )


def _in_order(
    found: dict[tuple[str, str], Standing], kind: str, present: list[tuple[str, str, str]]
) -> tuple[Standing, ...]:
    here = [_named(found.get((kind, item)), kind, item, name) for _, item, name in present]
    known = {item for _, item, _ in present}
    gone = [s for (k, item), s in found.items() if k == kind and item not in known]
    gone.sort(key=lambda s: (s.last is None, -(s.last.timestamp() if s.last else 0), s.item))
    return (*here, *gone)


def _named(standing: Standing | None, kind: str, item: str, name: str) -> Standing:
    return replace(standing or Standing(kind, item, name), name=name, gone=False)


def _standings(db: sqlite3.Connection, today: date) -> dict[tuple[str, str], Standing]:
    trends = _trends(db, today)
    result = {}
    for kind, item, name, *numbers in db.execute(_TOTALS, (today.isoformat(),)):
        passes, drilled, last, best, judged, clean, judged_full, clean_full = numbers
        result[kind, item] = Standing(
            kind=kind,
            item=item,
            name=_words(kind, name),
            gone=True,
            passes=passes,
            drilled=drilled,
            last=datetime.fromtimestamp(last).astimezone(),
            best_clean=best,
            judged=judged,
            clean=clean,
            judged_full=judged_full,
            clean_full=clean_full,
            trend=trends.get((kind, item)),
        )
    return result


def _words(kind: str, name: str) -> str:
    if kind != "transition":
        return name
    origin, _, arrived = name.partition("\x1f")
    return f"{origin or 'walk-on'} → {arrived}"


def _trends(db: sqlite3.Connection, today: date) -> dict[tuple[str, str], float]:
    late = _quality(db, today - timedelta(days=TREND_DAYS), today)
    early = _quality(db, today - timedelta(days=2 * TREND_DAYS), today - timedelta(days=TREND_DAYS))
    return {key: late[key] - early[key] for key in late if key in early}


def _quality(db: sqlite3.Connection, after: date, until: date) -> dict[tuple[str, str], float]:
    rows = db.execute(_QUALITY, (after.isoformat(), until.isoformat()))
    return {
        (kind, item): quality / judged
        for kind, item, judged, quality in rows
        if judged >= TREND_JUDGED
    }
