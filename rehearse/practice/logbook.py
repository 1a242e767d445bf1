"""The logbook: every pass committed the moment it ends, in the routine's own folder.

Durability: WAL with `synchronous = FULL` syncs the log at each commit, so a pass whose `record`
returned survives a killed process and a pulled plug (SQLite, "Write-Ahead Logging", 2 and 4).
A pass that cannot be written (disk full, folder read-only) waits in memory and is written with
the next one that can. Use a logbook from the thread that opened it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from rehearse.files.fault import Fault
from rehearse.practice import rows, schema
from rehearse.practice.opening import fault_of, is_damage, open_database, set_aside
from rehearse.practice.passes import Pass, Verdict, shares

FILE_NAME = "practice.sqlite"
#: A pause longer than this begins a new session.
SESSION_GAP = timedelta(minutes=30)


class Logbook:
    """The passes of one routine folder.

    Args:
        path: the file `practice.sqlite`; made when missing.

    Attributes:
        notice: one sentence when a damaged logbook had to be set aside, else empty.

    Raises:
        Fault: written by a newer version (left untouched), or the folder cannot be written.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        opened = open_database(path)
        self.db, self.notice = opened.db, opened.notice
        self._waiting: list[Pass] = []

    def close(self) -> None:
        """Write what still waits and close the file; safe to call twice."""
        try:
            if self._waiting:
                self._write()
        finally:
            self.db.close()

    def __enter__(self) -> Logbook:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # -- writing ---------------------------------------------------------------------------

    def record(self, done: Pass) -> str:
        """Keep one pass for good; the same id again changes nothing. Returns the id.

        Raises:
            Fault: it could not be written; it waits in memory and goes with the next one.
        """
        self.record_all((done,))
        return done.id

    def record_all(self, passes: Iterable[Pass]) -> None:
        """As `record`, for many passes in one commit."""
        self._waiting.extend(passes)
        self._write()

    def judge(
        self, pass_id: str, verdict: Verdict | None, *, broke_at: float | None = None
    ) -> None:
        """Set, change or (None) take back the verdict on a pass, and where it broke.

        Raises:
            KeyError: there is no such pass. Fault: it could not be written.
        """
        for k, done in enumerate(self._waiting):
            if done.id == pass_id:
                self._waiting[k] = replace(done, verdict=verdict, broke_at=broke_at)
                self._write()
                return
        row = self._find(pass_id)
        with self._transaction():
            self._judge(rows.number(row), verdict, broke_at)

    def begin_session(self, at: datetime, *, dry_run: bool = False) -> int:
        """Begin a session now, whatever the pause since the last one. Returns its number."""
        with self._transaction():
            return self._new_session(at, at, dry_run)

    def end_session(self, at: datetime, *, unwell: bool = False) -> None:
        """Close the newest session; `unwell` notes a stop for dizziness, cramp or pain."""
        with self._transaction():
            self.db.execute(
                "UPDATE sessions SET ended = max(ended, ?), stopped = ?"
                " WHERE n = (SELECT max(n) FROM sessions)",
                (at.timestamp(), "unwell" if unwell else ""),
            )

    # -- reading ---------------------------------------------------------------------------

    def history(
        self, *, limit: int | None = None, newest_first: bool = False, dry_runs: bool = True
    ) -> tuple[Pass, ...]:
        """The passes by the time they began, dry runs marked; at most `limit` of them."""
        order = "DESC" if newest_first else "ASC"
        where = "" if dry_runs else "WHERE NOT dry_run"
        found = self.db.execute(
            f"{rows.SELECT_PASS} {where} ORDER BY started {order}, n {order} LIMIT ?",
            (-1 if limit is None else limit,),
        ).fetchall()
        return self._passes(found)

    def get(self, pass_id: str) -> Pass:
        """One pass by its id.

        Raises:
            KeyError: there is none.
        """
        return self._passes([self._find(pass_id)])[0]

    def _find(self, pass_id: str) -> rows.Row:
        row: rows.Row | None = self.db.execute(
            f"{rows.SELECT_PASS} WHERE id = ?", (pass_id,)
        ).fetchone()
        if row is None:
            raise KeyError(pass_id)
        return row

    def _passes(self, found: list[rows.Row]) -> tuple[Pass, ...]:
        taken: dict[int, list[rows.Row]] = {}
        for first in range(0, len(found), 500):
            numbers = ",".join(str(rows.number(row)) for row in found[first : first + 500])
            for row in self.db.execute(rows.SELECT_TAKEN.format(numbers=numbers)):
                taken.setdefault(row[0], []).append(row)
        return tuple(rows.to_pass(row, taken.get(rows.number(row), ())) for row in found)

    # -- inside ----------------------------------------------------------------------------

    def _write(self) -> None:
        try:
            self._write_waiting()
        except sqlite3.DatabaseError as error:
            if not is_damage(error):
                raise self._kept(error) from error
            self._start_afresh()
            self._write_waiting()
        self._waiting.clear()

    def _kept(self, error: sqlite3.DatabaseError) -> Fault:
        fault = fault_of(error, self.path)
        count = len(self._waiting)
        kept = f"{count} pass{'es wait' if count > 1 else ' waits'} in memory"
        return Fault(fault.what, where=fault.where, do=f"{fault.do}, {kept}")

    def _start_afresh(self) -> None:
        # The file broke under us. Everything readable and everything waiting goes into a new one.
        self.db.close()
        if self.path.exists():
            opened = open_database(self.path)
            if not opened.notice:
                opened.db.close()
                set_aside(self.path)
                opened = open_database(self.path)
        else:
            opened = open_database(self.path)
        self.db, self.notice = opened.db, opened.notice

    def _write_waiting(self) -> None:
        with self._transaction():
            touched: set[tuple[str, str, str]] = set()
            for done in self._waiting:
                self._insert(done, touched)
            if len(self._waiting) > 500:
                schema.rebuild(self.db)
            else:
                self._recount(touched)

    def _insert(self, done: Pass, touched: set[tuple[str, str, str]]) -> None:
        session = self._session_for(done)
        cursor = self.db.execute(rows.INSERT_PASS, rows.from_pass(done, session))
        if cursor.rowcount == 0:
            return
        number = cursor.lastrowid or 0
        parts = shares(done.taken, done.verdict, done.broke_at)
        self.db.executemany(rows.INSERT_TAKEN, rows.from_taken(done, number, parts))
        touched.update(rows.items_of(done))

    def _judge(self, number: int, verdict: Verdict | None, broke_at: float | None) -> None:
        self.db.execute(
            "UPDATE passes SET verdict = ?, broke_at = ? WHERE n = ?", (verdict, broke_at, number)
        )
        row = self.db.execute(f"{rows.SELECT_PASS} WHERE n = ?", (number,)).fetchone()
        (done,) = self._passes([row])
        for pose, part in zip(done.taken, shares(done.taken, verdict, broke_at), strict=True):
            self.db.execute(
                "UPDATE taken SET judged = ?, clean = ? WHERE pass = ? AND pose = ?",
                (part.judged, part.clean, number, pose.pose),
            )
        self._recount(set(rows.items_of(done)))

    def _recount(self, touched: Iterable[tuple[str, str, str]]) -> None:
        for kind, item, day in sorted(touched):
            schema.recount(self.db, kind, item, day)

    def _session_for(self, done: Pass) -> int:
        started, ended = done.started.timestamp(), done.ended.timestamp()
        row = self.db.execute(
            "SELECT n FROM sessions WHERE dry_run = ? AND started <= ? AND ended >= ?"
            " ORDER BY n DESC LIMIT 1",
            (done.dry_run, ended, started - SESSION_GAP.total_seconds()),
        ).fetchone()
        if row is None:
            return self._new_session(done.started, done.ended, done.dry_run)
        self.db.execute("UPDATE sessions SET ended = max(ended, ?) WHERE n = ?", (ended, row[0]))
        return int(row[0])

    def _new_session(self, started: datetime, ended: datetime, dry_run: bool) -> int:
        cursor = self.db.execute(
            "INSERT INTO sessions (started, ended, zone, day, dry_run) VALUES (?, ?, ?, ?, ?)",
            (*rows.instant(started, ended), dry_run),
        )
        return cursor.lastrowid or 0

    def _transaction(self) -> _Transaction:
        return _Transaction(self.db)


class _Transaction:
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
