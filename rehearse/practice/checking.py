"""Whether a logbook is what this program writes: its tables, and every value in them.

A logbook may come from anyone, on a stick or in a coach's zip. Nothing in it is ever run: a file
whose tables, indexes, views or triggers are not exactly those of `schema` is read row by row into
one of our own. And a value that no pass can have – a date that is none, a tempo of 1e300 – would
break a page long after the file was opened, so that such rows are looked for at once; in a file
that is replaced they are put right where that is certain, and left out where it is not.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from math import isfinite
from typing import Any

from rehearse.practice import schema

#: Most letters of an id, of a name, of a plan.
ID, NAME, PLAN = 100, 2000, 1_000_000
#: Seconds since 1970 that a date can be made of wherever the program runs, with a day's margin.
_FIRST, _LAST = 86_400.0, 32_503_593_600.0
#: Seconds of a track, passes of a day: more is no practice.
_LONG, _MANY = 1e6, 1e9
#: Minutes a zone lies east of UTC, and whole numbers that row numbers may be.
_ZONE, _ROW = 1439, 2**53
#: Of a row that cannot be put right.
LOST: Any = object()


@dataclass(frozen=True)
class Column:
    """What may stand in one column.

    Args:
        good: SQL that is true of a good value, the column written `{c}`.
        mend: a value as it may stand, or `LOST`.
        optional: NULL may stand there.
    """

    good: str
    mend: Callable[[Any], Any]
    optional: bool = False


def _number(low: float, high: float, *, optional: bool = False, default: Any = LOST) -> Column:
    def mend(value: Any) -> Any:
        fits = isinstance(value, int | float) and isfinite(value) and low <= value <= high
        return value if fits else default

    return Column(f"{{c}} BETWEEN {low!r} AND {high!r}", mend, optional)


def _text(most: int, *, least: int = 0, optional: bool = False) -> Column:
    def mend(value: Any) -> Any:
        if not isinstance(value, str) or len(value) < least:
            return LOST
        return value[:most]

    return Column(f"length({{c}}) BETWEEN {least} AND {most}", mend, optional)


def _one_of(*words: str, optional: bool = False) -> Column:
    listed = ", ".join(f"'{word}'" for word in words)
    first = None if optional else words[0]
    return Column(
        f"{{c}} IN ({listed})", lambda value: value if value in words else first, optional
    )


def _is_day(value: Any) -> Any:
    try:
        return value if date.fromisoformat(value).isoformat() == value else LOST
    except (TypeError, ValueError):
        return LOST


# The modifier has SQLite count the day out, which otherwise takes the 31st of any month.
_DAY = Column(
    "date({c}, '+0 days') IS {c} AND {c} GLOB '[0-9][0-9][0-9][0-9]-*' AND {c} >= '0001'", _is_day
)
_TIME = _number(_FIRST, _LAST)
_SECONDS = _number(-_LONG, _LONG)
_PLACE = _number(-_LONG, _LONG, optional=True, default=None)
_TEMPO = _number(0.01, 10.0)
_HELD = _number(0.0, _LONG, default=0.0)
_FLAG = _number(0, 1, default=0)
_SHARE = _number(0.0, 1.0, default=0.0)
_SUM = _number(-1.0, _MANY)
_N = _number(1, _ROW)
_ZONE_EAST = _number(-_ZONE, _ZONE, default=0)

COLUMNS: dict[str, dict[str, Column]] = {
    "sessions": {
        "n": _N, "started": _TIME, "ended": _TIME, "zone": _ZONE_EAST, "day": _DAY,
        "dry_run": _FLAG, "stopped": _one_of("", "unwell"),
    },
    "passes": {
        "n": _N, "id": _text(ID, least=1), "session": _N, "kind": _one_of("drill", "run"),
        "section": _text(ID, optional=True), "section_name": _text(NAME),
        "transition": _text(ID, optional=True), "transition_name": _text(NAME),
        "start": _SECONDS, "end": _SECONDS, "tempo": _TEMPO,
        "cueing": _one_of("all", "names", "counts", "memory"),
        "effort": _one_of("full out", "marked"),
        "started": _TIME, "ended": _TIME, "zone": _ZONE_EAST, "day": _DAY,
        "complete": _FLAG, "reached": _PLACE,
        "verdict": _one_of("clean", "missed", optional=True), "broke_at": _PLACE,
        "dry_run": _FLAG, "plan": _text(ID), "line": _text(NAME),
    },
    "taken": {
        "pose": _text(ID), "day": _DAY, "pass": _N, "place": _number(0, _ROW), "name": _text(NAME),
        "origin": _text(ID, optional=True), "origin_name": _text(NAME),
        "start": _SECONDS, "end": _SECONDS, "tempo": _TEMPO, "at": _TIME, "drilled": _FLAG,
        "counted": _FLAG, "judged": _SHARE, "clean": _SHARE,
    },
    "plans": {
        "n": _N, "key": _text(ID, least=1), "day": _DAY, "minutes": _number(0.0, 10_000.0),
        "lines": _text(PLAN),
    },
    "rounds": {
        "n": _N, "id": _text(ID, least=1), "session": _N,
        "kind": _one_of("turns", "mandatories", "both", "random"), "rules": _text(NAME),
        "seed": _number(0, _ROW, default=0), "hold": _HELD, "longest": _HELD,
        "callouts": _number(0, _MANY, default=1), "started": _TIME, "ended": _TIME,
        "zone": _ZONE_EAST, "day": _DAY, "complete": _FLAG, "dry_run": _FLAG,
    },
    "calls": {
        "round": _N, "place": _number(1, _ROW), "pose": _text(NAME), "said": _text(NAME),
        "callout": _number(0, _MANY, default=1), "called": _TIME, "spoken": _HELD, "hold": _HELD,
        "planned": _HELD, "verdict": _one_of("clean", "missed", optional=True),
        "lost_at": _number(0.0, _LONG, optional=True, default=None),
    },
    "takes": {
        "n": _N, "id": _text(ID, least=1), "film": _text(NAME), "folder": _text(NAME),
        "filmed": _TIME, "zone": _ZONE_EAST, "day": _DAY, "tempo": _TEMPO, "offset": _SECONDS,
        "rate": _number(0.01, 10.0), "refused": _text(NAME),
    },
    "offsets": {
        "take": _N, "place": _number(1, _ROW), "pose": _text(ID), "name": _text(NAME),
        "hit": _SECONDS, "film": _SECONDS,
        "said": _one_of("unread", "on", "early", "late", "slow"),
        "late": _PLACE, "doubt": _PLACE, "took": _PLACE, "counted": _HELD, "why": _text(NAME),
        "arrived": _PLACE,
    },
    "tally": {
        "kind": _text(ID), "item": _text(NAME), "day": _DAY, "name": _text(2 * NAME + 1),
        "passes": _number(0, _MANY), "drilled": _number(0, _MANY), "last": _TIME,
        "judged": _SUM, "clean": _SUM, "judged_full": _SUM, "clean_full": _SUM, "quality": _SUM,
        "best": _number(0.01, 10.0, optional=True),
    },
}  # fmt: skip


def is_ours(db: sqlite3.Connection) -> bool:
    """Whether the file has exactly the tables, indexes and nothing else of its version."""
    (version,) = db.execute("PRAGMA user_version").fetchone()
    return 0 <= version <= schema.VERSION and _shape_of(db) == shape(version)


@lru_cache
def shape(version: int) -> frozenset[tuple[str, ...]]:
    """Type, name, table and SQL of all that a logbook of this version has."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    try:
        for step in schema.STEPS[:version]:
            db.executescript(step)
        return _shape_of(db)
    finally:
        db.close()


def _shape_of(db: sqlite3.Connection) -> frozenset[tuple[str, ...]]:
    rows = db.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall()
    return frozenset((*row[:3], " ".join(str(row[3] or "").split())) for row in rows)


def bad_table(db: sqlite3.Connection) -> str:
    """The first table with a value that cannot be; "" for none."""
    for table, columns in COLUMNS.items():
        conditions = " AND ".join(_condition(f'"{n}"', c) for n, c in columns.items())
        bad = f"SELECT 1 FROM {table} WHERE ({conditions}) IS NOT TRUE LIMIT 1"
        if db.execute(bad).fetchone():
            return table
    return ""


def _condition(name: str, column: Column) -> str:
    unless = f"{name} IS NULL OR " if column.optional else ""
    return f"({unless}{column.good.format(c=name)})"


def mended(table: str, row: dict[str, Any]) -> dict[str, Any] | None:
    """A row of an untrusted file as it may stand in ours; None where it cannot be put right."""
    result = {}
    for name, value in row.items():
        column = COLUMNS[table][name]
        good = value if value is None and column.optional else column.mend(value)
        if good is LOST:
            return None
        result[name] = good
    return result
