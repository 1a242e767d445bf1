"""The logbook: every pass committed the moment it ends, in the routine's own folder.

Durability: WAL with `synchronous = FULL` syncs the log at each commit, so a pass whose `record`
returned survives a killed process and a pulled plug (SQLite, "Write-Ahead Logging", 2 and 4).
A pass that cannot be written (the disk is full, the folder is gone or locked) waits and is written
with the next one that can; meanwhile this machine keeps it in a file of its own, from which it is
taken home when the logbook is next opened. Use a logbook from the thread that opened it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from rehearse.files.fault import Fault
from rehearse.practice import rows, writing
from rehearse.practice.opening import (
    Opened,
    Unwritable,
    fault_of,
    is_damage,
    open_database,
    set_aside,
)
from rehearse.practice.passes import Pass, Verdict
from rehearse.practice.spare import forget_spare, open_spare, set_by, spare_path
from rehearse.practice.writing import Transaction

FILE_NAME = "practice.sqlite"


class Logbook:
    """The passes of one routine folder.

    Args:
        path: the file `practice.sqlite`; made when missing.
        spare: what stands in for it while its folder cannot be written; None: the usual place.

    Attributes:
        notice: one sentence when the file was damaged or cannot be written, else empty.

    Raises:
        Fault: written by a newer version (left untouched).
    """

    def __init__(self, path: Path, spare: Path | None = None) -> None:
        self.path = path
        self._spare = spare or spare_path(path)
        self._waiting: list[Pass] = []
        self._is_set_by = False
        opened = self._open()
        self.db, self.notice = opened.db, opened.notice
        self._file = _file_at(path)
        if not self.is_away and self._spare.exists():
            self._take_home()

    @property
    def is_away(self) -> bool:
        """Whether the folder cannot be written and this machine keeps the passes."""
        return self._away

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
        (done,) = self._passes([row])
        try:
            with Transaction(self.db):
                writing.set_verdict(self.db, rows.number(row), done, verdict, broke_at)
        except sqlite3.DatabaseError as error:
            raise fault_of(error, self.path) from error
        self._check_place()

    def begin_session(self, at: datetime, *, dry_run: bool = False) -> int:
        """Begin a session now, whatever the pause since the last one. Returns its number."""
        with Transaction(self.db):
            return writing.new_session(self.db, at, at, dry_run)

    def end_session(self, at: datetime, *, unwell: bool = False) -> None:
        """Close the session of this moment; `unwell` notes a stop for dizziness, cramp or pain."""
        with Transaction(self.db):
            session = writing.session_at(self.db, at, at, dry_run=False)
            self.db.execute(
                "UPDATE sessions SET stopped = ? WHERE n = ?", ("unwell" if unwell else "", session)
            )

    # -- reading ---------------------------------------------------------------------------

    def history(
        self,
        *,
        limit: int | None = None,
        newest_first: bool = False,
        dry_runs: bool = True,
        taken: bool = True,
    ) -> tuple[Pass, ...]:
        """The passes by the time they began, dry runs marked; at most `limit` of them.

        Without the poses they took in (`taken`) they are read in a third of the time.
        """
        order = "DESC" if newest_first else "ASC"
        where = "" if dry_runs else "WHERE NOT dry_run"
        found = self.db.execute(
            f"{rows.SELECT_PASS} {where} ORDER BY started {order}, n {order} LIMIT ?",
            (-1 if limit is None else limit,),
        ).fetchall()
        return self._passes(found) if taken else tuple(rows.to_pass(row, ()) for row in found)

    def passes_of_plan(self, key: str) -> tuple[Pass, ...]:
        """The passes that belong to one day's plan, in the order they were written."""
        found = self.db.execute(f"{rows.SELECT_PASS} WHERE plan = ? ORDER BY n", (key,)).fetchall()
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

    def _open(self) -> Opened:
        self._away = False
        try:
            return open_database(self.path)
        except Unwritable:
            self._away = True
            return open_spare(self.path, self._spare)

    def _take_home(self) -> None:
        """Bring back what this machine kept while the folder could not be written."""
        with_spare = open_database(self._spare)
        here, self.db = self.db, with_spare.db
        kept = self.history()
        plans = self.db.execute("SELECT key, day, minutes, lines FROM plans ORDER BY n").fetchall()
        self.db = here
        with_spare.db.close()
        self.record_all(kept)
        known = {done.id: done for done in self.history()}
        for done in kept:
            if done.verdict is not None and known[done.id].verdict != done.verdict:
                self.judge(done.id, done.verdict, broke_at=done.broke_at)
        with Transaction(self.db):
            writing.write_plans(self.db, plans)
        forget_spare(self._spare)

    def _write(self) -> None:
        try:
            self._write_waiting()
        except sqlite3.DatabaseError as error:
            if not is_damage(error):
                raise self._kept(error) from error
            self._start_afresh()
            self._write_waiting()
        self._waiting.clear()
        self._check_place()
        if self._is_set_by:
            self._is_set_by = False
            forget_spare(self._spare)

    def _check_place(self) -> None:
        # A file whose folder was removed takes every write, and is gone when the program ends.
        if self.is_away or _file_at(self.path) == self._file:
            return
        self._set_by(self.history())
        raise Fault(
            "the routine's folder is gone",
            where=self.path.parent.name,
            do="bring it back, passes are kept on this machine meanwhile",
        )

    def _write_waiting(self) -> None:
        with Transaction(self.db):
            writing.write(self.db, self._waiting)

    def _kept(self, error: sqlite3.DatabaseError) -> Fault:
        fault = fault_of(error, self.path)
        count = len(self._waiting)
        kept = f"{count} pass{'es wait' if count > 1 else ' waits'} in memory"
        if self._set_by(self._waiting):
            kept = f"{count} pass{'es are' if count > 1 else ' is'} kept on this machine meanwhile"
        return Fault(fault.what, where=fault.where, do=f"{fault.do}, {kept}")

    def _set_by(self, passes: Sequence[Pass]) -> bool:
        """Keep passes on this machine until they are at home; False when that cannot be either."""
        done = not self.is_away and set_by(self._spare, passes)
        self._is_set_by = self._is_set_by or done
        return done

    def _start_afresh(self) -> None:
        # The file broke under us. Everything readable and everything waiting goes into a new one.
        self.db.close()
        opened = open_database(self.path)
        if not opened.notice:
            opened.db.close()
            set_aside(self.path)
            opened = open_database(self.path)
        self.db, self.notice = opened.db, opened.notice
        self._file = _file_at(self.path)


def _file_at(path: Path) -> tuple[int, int]:
    """What tells the file at `path` from any other; zeros for none."""
    try:
        found = path.stat()
    except OSError:
        return 0, 0
    return found.st_dev, found.st_ino
