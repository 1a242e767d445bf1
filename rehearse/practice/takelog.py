"""Filmed runs in the logbook: what was read at each pose, kept with the pose's id.

A film that is read again replaces what was read of it before; takes are never counted as passes.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta, timezone
from typing import Any, Literal

#: Takes of which a habit is made.
USUAL = 4
Said = Literal["on", "early", "late", "slow", "unread"]


@dataclass(frozen=True)
class PoseRead:
    """What a film says of one pose.

    Args:
        pose: the placed pose's id. name: as it was called then.
        hit: second of the track. film: second of the film at which the hit lies.
        said: on the hit within its doubt, early, late, a slow arrival, or not to be read.
        late: seconds late, early below 0; None where there is no number.
        doubt: seconds told beside it; None as `late`.
        took: seconds that the fast part of the way took; None: not read.
        counted: seconds that a count lasts there at the take's tempo, 0 in free time.
        why: why it is not to be read; empty where it is.
        arrived: second of the film at which it arrived; None: not read.
    """

    pose: str
    name: str
    hit: float
    film: float
    said: Said
    late: float | None = None
    doubt: float | None = None
    took: float | None = None
    counted: float = 0.0
    why: str = ""
    arrived: float | None = None


@dataclass(frozen=True)
class TakeDone:
    """One filmed run.

    Args:
        id: of the film's own bytes. film: its name. folder: what is kept of it, in the routine's
            folder; empty: nothing.
        filmed: when. tempo: it was danced at.
        offset: track second at film second 0; rate: track seconds a film second.
        refused: why nothing is said of it; empty where something is.
        poses: in their order.
    """

    id: str
    film: str
    folder: str
    filmed: datetime
    tempo: float
    offset: float
    rate: float
    refused: str
    poses: tuple[PoseRead, ...]


_TAKE = (*("id", "film", "folder", "filmed", "zone", "day", "tempo", "offset", "rate", "refused"),)
_READ = tuple(field.name for field in fields(PoseRead))


def _names(columns: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in columns)


_KEEP = (
    f"INSERT INTO takes ({_names(_TAKE)}) VALUES ({', '.join('?' * len(_TAKE))})"
    " ON CONFLICT (id) DO UPDATE SET "
    + ", ".join(f'"{name}" = excluded."{name}"' for name in _TAKE[1:])
)
_POSE = f"INSERT INTO offsets (take, place, {_names(_READ)}) VALUES (?, ?{', ?' * len(_READ)})"


def keep_take(db: sqlite3.Connection, done: TakeDone) -> None:
    """Write a take, in place of what was written of it before."""
    zone = round((done.filmed.utcoffset() or timedelta()).total_seconds() / 60)
    day = done.filmed.date().isoformat()
    db.execute(
        _KEEP,
        (
            *(done.id, done.film, done.folder, done.filmed.timestamp(), zone, day),
            *(done.tempo, done.offset, done.rate, done.refused),
        ),
    )
    (number,) = db.execute("SELECT n FROM takes WHERE id = ?", (done.id,)).fetchone()
    db.execute("DELETE FROM offsets WHERE take = ?", (number,))
    db.executemany(
        _POSE,
        (
            (number, place, *(getattr(read, name) for name in _READ))
            for place, read in enumerate(done.poses, 1)
        ),
    )


def takes_of(db: sqlite3.Connection, *, limit: int | None = None) -> tuple[TakeDone, ...]:
    """The newest takes, at most `limit`, the oldest of them first.

    Raises:
        sqlite3.Error: they cannot be read.
    """
    found = db.execute(
        f"SELECT n, {_names(_TAKE)} FROM takes ORDER BY filmed DESC, n DESC LIMIT ?",
        (-1 if limit is None else limit,),
    ).fetchall()
    return tuple(_to_take(db, row) for row in reversed(found))


def takes_until(db: sqlite3.Connection, day: date) -> tuple[TakeDone, ...]:
    """The newest takes filmed up to a day, oldest first; enough of them to say what is usual.

    Raises:
        sqlite3.Error: they cannot be read.
    """
    takes = takes_of(db, limit=2 * USUAL)
    return tuple(take for take in takes if take.filmed.date() <= day)


def _to_take(db: sqlite3.Connection, row: tuple[Any, ...]) -> TakeDone:
    values = dict(zip(_TAKE, row[1:], strict=True))
    del values["day"]
    zone = timezone(timedelta(minutes=values.pop("zone")))
    values["filmed"] = datetime.fromtimestamp(values["filmed"], zone)
    poses = db.execute(
        f"SELECT {_names(_READ)} FROM offsets WHERE take = ? ORDER BY place", (row[0],)
    )
    return TakeDone(**values, poses=tuple(PoseRead(*pose) for pose in poses))
