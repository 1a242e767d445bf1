"""Passes as rows of the database and back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta, timezone
from typing import Any

from rehearse.practice.passes import Pass, PoseTaken, Share

Row = tuple[Any, ...]

_FIELDS = (
    "kind", "section", "section_name", "transition", "transition_name", "start", "end", "tempo",
    "cueing", "effort", "complete", "reached", "verdict", "broke_at", "dry_run", "id",
    "plan", "line",
)  # fmt: skip
_TIMES = ("started", "ended", "zone", "day")
_NAMES = ", ".join(f'"{name}"' for name in (*_FIELDS, *_TIMES))

SELECT_PASS = f"SELECT n, {_NAMES} FROM passes"
INSERT_PASS = (
    f"INSERT INTO passes (session, {_NAMES}) VALUES"
    f" (?, {', '.join('?' * (len(_FIELDS) + len(_TIMES)))}) ON CONFLICT (id) DO NOTHING"
)
_TAKEN = 'pose, name, "start", "end", origin, origin_name'
#: The poses of every pass in a set of row numbers, in order; the pass's number comes first.
SELECT_TAKEN = f"SELECT pass, {_TAKEN} FROM taken WHERE pass IN ({{numbers}}) ORDER BY pass, place"
SELECT_ALL_TAKEN = f"SELECT pass, {_TAKEN} FROM taken ORDER BY pass, place"
INSERT_TAKEN = (
    f"INSERT INTO taken ({_TAKEN}, place, day, pass, tempo,"
    " at, drilled, counted, judged, clean) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)


def instant(started: datetime, ended: datetime) -> tuple[float, float, int, str]:
    """How a span of time is stored: both ends in seconds since 1970, zone in minutes, local day."""
    offset = started.utcoffset() or timedelta()
    zone = round(offset.total_seconds() / 60)
    return started.timestamp(), ended.timestamp(), zone, started.date().isoformat()


def from_pass(done: Pass, session: int) -> Row:
    """The values of `INSERT_PASS`."""
    fields = tuple(getattr(done, name) for name in _FIELDS)
    return (session, *fields, *instant(done.started, done.ended))


def from_taken(done: Pass, number: int, parts: Sequence[Share]) -> Iterator[Row]:
    """The values of `INSERT_TAKEN` for each pose of the pass."""
    day = done.started.date().isoformat()
    for place, (pose, part) in enumerate(zip(done.taken, parts, strict=True)):
        yield (
            pose.pose, pose.name, pose.start, pose.end, pose.origin, pose.origin_name, place, day,
            number, done.tempo, done.started.timestamp(), done.kind == "drill", not done.dry_run,
            part.judged, part.clean,
        )  # fmt: skip


def number(row: Row) -> int:
    """The row's number in the database."""
    return int(row[0])


def to_pass(row: Row, taken: Sequence[Row]) -> Pass:
    """A pass from a row of `SELECT_PASS` and its rows of `SELECT_TAKEN`."""
    fields = dict(zip(_FIELDS, row[1:], strict=False))
    started, ended, minutes, _ = row[1 + len(_FIELDS) :]
    zone = timezone(timedelta(minutes=minutes))
    fields["complete"], fields["dry_run"] = bool(fields["complete"]), bool(fields["dry_run"])
    return Pass(
        **fields,
        started=datetime.fromtimestamp(started, zone),
        ended=datetime.fromtimestamp(ended, zone),
        taken=tuple(PoseTaken(*values[1:]) for values in taken),
    )


def items_of(done: Pass) -> Iterator[tuple[str, str, str]]:
    """(kind, item, day) of every tally the pass belongs to; a transition by its arrival,
    a run by its cueing."""
    day = done.started.date().isoformat()
    for pose in done.taken:
        yield "pose", pose.pose, day
        if pose.origin is not None:
            yield "transition", pose.pose, day
    if done.section is not None:
        yield "section", done.section, day
    if done.kind == "run":
        yield "run", done.cueing, day
