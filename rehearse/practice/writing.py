"""Writing passes into an open database: record, tally and session in one transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from rehearse.practice import pass_rows, schema
from rehearse.practice.passes import Pass, Verdict, shares
from rehearse.practice.roundlog import RoundDone, keep_round
from rehearse.practice.takelog import TakeDone, keep_take

#: A pause longer than this begins a new session.
SESSION_GAP = timedelta(minutes=30)
#: From so many passes at once on it is faster to count everything anew.
_MANY = 500

Items = set[tuple[str, str, str]]
#: A session closed: when, and whether for dizziness, cramp or pain.
Note = tuple[datetime, bool]


class Transaction:
    """All of a block or none of it; the commit is durable when the block is left."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db

    def __enter__(self) -> None:
        self._db.execute("BEGIN IMMEDIATE")

    def __exit__(self, kind: object, *_: object) -> None:
        if kind is None:
            try:
                self._db.execute("COMMIT")
            except sqlite3.DatabaseError:
                self._undo()
                raise
        else:
            self._undo()

    def _undo(self) -> None:
        if self._db.in_transaction:
            self._db.execute("ROLLBACK")


def write(db: sqlite3.Connection, passes: Sequence[Pass]) -> None:
    """Write passes that are not there yet, with everything counted from them."""
    touched: Items = set()
    for done in passes:
        touched |= _insert(db, done)
    if len(passes) > _MANY:
        schema.rebuild(db)
    else:
        _recount(db, touched)


def set_verdict(
    db: sqlite3.Connection, number: int, done: Pass, verdict: Verdict | None, broke_at: float | None
) -> None:
    """Set the verdict of row `number`, which holds `done`, and count anew."""
    db.execute(
        "UPDATE passes SET verdict = ?, broke_at = ? WHERE n = ?", (verdict, broke_at, number)
    )
    for pose, part in zip(done.taken, shares(done.taken, verdict, broke_at), strict=True):
        db.execute(
            "UPDATE taken SET judged = ?, clean = ? WHERE pass = ? AND pose = ?",
            (part.judged, part.clean, number, pose.pose),
        )
    _recount(db, set(pass_rows.items_of(done)))


def new_session(db: sqlite3.Connection, started: datetime, ended: datetime, dry_run: bool) -> int:
    """Begin a session; returns its number."""
    cursor = db.execute(
        "INSERT INTO sessions (started, ended, zone, day, dry_run) VALUES (?, ?, ?, ?, ?)",
        (*pass_rows.instant(started, ended), dry_run),
    )
    return cursor.lastrowid or 0


def session_at(db: sqlite3.Connection, started: datetime, ended: datetime, *, dry_run: bool) -> int:
    """The session that this span of time belongs to, lengthened to hold it, or a new one."""
    first = started.timestamp() - SESSION_GAP.total_seconds()
    row = db.execute(
        "SELECT n FROM sessions WHERE dry_run = ? AND started <= ? AND ended >= ?"
        " ORDER BY n DESC LIMIT 1",
        (dry_run, ended.timestamp(), first),
    ).fetchone()
    if row is None:
        return new_session(db, started, ended, dry_run)
    db.execute("UPDATE sessions SET ended = max(ended, ?) WHERE n = ?", (ended.timestamp(), row[0]))
    return int(row[0])


def write_notes(db: sqlite3.Connection, notes: Iterable[Note]) -> None:
    """Close the session of each moment."""
    for at, unwell in notes:
        session = session_at(db, at, at, dry_run=False)
        db.execute(
            "UPDATE sessions SET stopped = ? WHERE n = ?", ("unwell" if unwell else "", session)
        )


def write_rounds(db: sqlite3.Connection, rounds: Iterable[RoundDone]) -> None:
    """Write rounds, each in place of what was written of it before."""
    for done in rounds:
        session = session_at(db, done.started, done.ended, dry_run=done.dry_run)
        keep_round(db, done, session)


def write_takes(db: sqlite3.Connection, takes: Iterable[TakeDone]) -> None:
    """Write filmed runs, each in place of what was written of it before."""
    for done in takes:
        keep_take(db, done)


def write_plans(db: sqlite3.Connection, plans: Iterable[pass_rows.Row]) -> None:
    """Write plans (key, day, minutes, lines), each in place of what its key had before."""
    db.executemany(
        "INSERT INTO plans (key, day, minutes, lines) VALUES (?, ?, ?, ?)"
        " ON CONFLICT (key) DO UPDATE SET minutes = excluded.minutes, lines = excluded.lines",
        plans,
    )


def _insert(db: sqlite3.Connection, done: Pass) -> Items:
    if db.execute("SELECT 1 FROM passes WHERE id = ?", (done.id,)).fetchone():
        return set()
    session = session_at(db, done.started, done.ended, dry_run=done.dry_run)
    number = db.execute(pass_rows.INSERT_PASS, pass_rows.from_pass(done, session)).lastrowid or 0
    parts = shares(done.taken, done.verdict, done.broke_at)
    db.executemany(pass_rows.INSERT_TAKEN, pass_rows.from_taken(done, number, parts))
    return set(pass_rows.items_of(done))


def _recount(db: sqlite3.Connection, touched: Items) -> None:
    for kind, item, day in sorted(touched):
        schema.recount(db, kind, item, day)
