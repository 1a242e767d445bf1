"""The logbook: every pass committed the moment it ends, in the routine's own folder.

Durability: WAL with `synchronous = FULL` syncs the log at each commit, so a pass whose `record`
returned survives a killed process and a pulled plug (SQLite, "Write-Ahead Logging", 2 and 4).
What cannot be written (the disk is full, the folder is gone or locked) waits and is written with
the next thing that can; meanwhile this machine keeps it in a file of its own, from which it is
taken home when the logbook can be written again. Use a logbook from the thread that opened it;
the window has `keeper.Keeper` for that.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import TypeVar

from rehearse.files.user_error import UserError
from rehearse.practice import pass_rows, writing
from rehearse.practice.database import (
    OpenedDatabase,
    Unwritable,
    is_damage,
    open_database,
    replace_file,
    user_error_of,
)
from rehearse.practice.fallback_log import fallback_path, forget_fallback, open_fallback, set_by
from rehearse.practice.passes import Pass, Verdict
from rehearse.practice.roundlog import RoundDone, rounds_of
from rehearse.practice.takelog import TakeDone, takes_of
from rehearse.practice.writing import Note, Transaction
from rehearse.words import _, ngettext

FILE_NAME = "practice.sqlite"
#: What reading a damaged file may raise.
_BROKEN = (sqlite3.Error, UnicodeError, ValueError, OverflowError, TypeError)

T = TypeVar("T")


class Logbook:
    """The passes of one routine folder.

    Args:
        path: the file `practice.sqlite`; made when missing.
        fallback: what stands in for it while its folder cannot be written; None: the usual place.
        identity: the routine's own name, after which the usual place is called.
        insist: stand in for a logbook of a newer version, too, instead of refusing it.

    Attributes:
        notice: one sentence when the file was damaged or cannot be written, else empty.

    Raises:
        UserError: written by a newer version (left untouched), unless `insist`.
    """

    def __init__(
        self, path: Path, fallback: Path | None = None, *, identity: str = "", insist: bool = False
    ) -> None:
        self.path = path
        self._fallback = fallback or fallback_path(path, identity)
        self._waiting: list[Pass] = []
        self._notes: list[Note] = []
        self._plans: dict[str, pass_rows.Row] = {}
        self._rounds: dict[str, RoundDone] = {}
        self._takes: dict[str, TakeDone] = {}
        self._is_set_by = False
        opened = self._open(insist)
        self.db, self.notice = opened.db, opened.notice
        self._file = _file_at(path)
        if not self.is_away and self._fallback.exists():
            self._take_home()

    @property
    def is_away(self) -> bool:
        """Whether the folder cannot be written and this machine keeps the passes."""
        return self._away

    @property
    def has_waiting(self) -> bool:
        """Whether something is not yet where it belongs."""
        return bool(self._away or self._holds_back)

    @property
    def _holds_back(self) -> bool:
        return bool(self._waiting or self._notes or self._plans or self._rounds or self._takes)

    def close(self) -> None:
        """Write what still waits and close the file; safe to call twice.

        Raises:
            UserError: something could not be written; it is kept on this machine where that can be.
        """
        try:
            if self._holds_back:
                self._write()
        finally:
            self.db.close()

    def __enter__(self) -> Logbook:
        return self

    def __exit__(self, *_unused: object) -> None:
        self.close()

    # -- writing ---------------------------------------------------------------------------

    def record(self, done: Pass) -> str:
        """Keep one pass for good; the same id again changes nothing. Returns the id.

        Raises:
            UserError: it could not be written; it waits in memory and goes with the next one.
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
            KeyError: there is no such pass. UserError: it could not be written.
        """
        for k, done in enumerate(self._waiting):
            if done.id == pass_id:
                self._waiting[k] = replace(done, verdict=verdict, broke_at=broke_at)
                self._write()
                return
        self._guarded(lambda: self._judge(pass_id, verdict, broke_at))
        self._check_place()

    def _judge(self, pass_id: str, verdict: Verdict | None, broke_at: float | None) -> None:
        row = self._find(pass_id)
        (done,) = self._passes([row])
        with Transaction(self.db):
            writing.set_verdict(self.db, pass_rows.number(row), done, verdict, broke_at)

    def begin_session(self, at: datetime, *, dry_run: bool = False) -> int:
        """Begin a session now, whatever the pause since the last one. Returns its number."""
        with Transaction(self.db):
            return writing.new_session(self.db, at, at, dry_run)

    def end_session(self, at: datetime, *, unwell: bool = False) -> None:
        """Close the session of this moment; `unwell` notes a stop for dizziness, cramp or pain.

        Raises:
            UserError: it could not be written; it waits as a pass does.
        """
        self._notes.append((at, unwell))
        self._write()

    def keep_plan(self, plan: pass_rows.Row) -> None:
        """Keep a plan (key, day, minutes, lines) in place of what its key had before.

        Raises:
            UserError: it could not be written; it waits as a pass does.
        """
        self._plans[plan[0]] = plan
        self._write()

    def keep_round(self, done: RoundDone) -> None:
        """Keep a round as far as it has come, in place of what was kept of it before.

        Raises:
            UserError: it could not be written; it waits as a pass does.
        """
        self._rounds[done.id] = done
        self._write()

    def keep_take(self, done: TakeDone) -> None:
        """Keep what was read of a film, in place of what was read of it before.

        Raises:
            UserError: it could not be written; it waits as a pass does.
        """
        self._takes[done.id] = done
        self._write()

    def retry(self) -> bool:
        """Try again to bring home what waits; whether nothing does any more."""
        with contextlib.suppress(UserError, OSError):
            if self._away:
                self._come_home()
            elif self.has_waiting:
                self._write()
        return not self.has_waiting

    # -- reading ---------------------------------------------------------------------------

    def read(self, read: Callable[[Logbook], T]) -> T:
        """What `read` makes of this logbook; a file that breaks under it is mended first.

        Raises:
            UserError: it cannot be read.
        """
        return self._guarded(lambda: read(self))

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

        Raises:
            UserError: they cannot be read.
        """
        order = "DESC" if newest_first else "ASC"
        where = "" if dry_runs else "WHERE NOT dry_run"
        select = f"{pass_rows.SELECT_PASS} {where} ORDER BY started {order}, n {order} LIMIT ?"
        return self._guarded(lambda: self._select(select, -1 if limit is None else limit, taken))

    def _select(self, select: str, value: object, taken: bool = True) -> tuple[Pass, ...]:
        found = self.db.execute(select, (value,)).fetchall()
        return self._passes(found) if taken else tuple(pass_rows.to_pass(row, ()) for row in found)

    def rounds(
        self, *, since: date | None = None, until: date | None = None
    ) -> tuple[RoundDone, ...]:
        """The rounds by the time they began, dry runs marked; of the days from `since` to `until`.

        Raises:
            UserError: they cannot be read.
        """
        return self._guarded(lambda: rounds_of(self.db, since=since, until=until))

    def takes(self, *, limit: int | None = None) -> tuple[TakeDone, ...]:
        """The newest filmed runs, at most `limit`, the oldest of them first.

        Raises:
            UserError: they cannot be read.
        """
        return self._guarded(lambda: takes_of(self.db, limit=limit))

    def passes_of_plan(self, key: str) -> tuple[Pass, ...]:
        """The passes that belong to one day's plan, in the order they were written."""
        return self._select(f"{pass_rows.SELECT_PASS} WHERE plan = ? ORDER BY n", key)

    def get(self, pass_id: str) -> Pass:
        """One pass by its id.

        Raises:
            KeyError: there is none.
        """
        return self._passes([self._find(pass_id)])[0]

    def _find(self, pass_id: str) -> pass_rows.Row:
        row: pass_rows.Row | None = self.db.execute(
            f"{pass_rows.SELECT_PASS} WHERE id = ?", (pass_id,)
        ).fetchone()
        if row is None:
            raise KeyError(pass_id)
        return row

    def _passes(self, found: list[pass_rows.Row]) -> tuple[Pass, ...]:
        taken: dict[int, list[pass_rows.Row]] = {}
        for first in range(0, len(found), 500):
            numbers = ",".join(str(pass_rows.number(row)) for row in found[first : first + 500])
            for row in self.db.execute(pass_rows.SELECT_TAKEN.format(numbers=numbers)):
                taken.setdefault(row[0], []).append(row)
        return tuple(pass_rows.to_pass(row, taken.get(pass_rows.number(row), ())) for row in found)

    # -- inside ----------------------------------------------------------------------------

    def _open(self, insist: bool) -> OpenedDatabase:
        self._away = False
        try:
            return open_database(self.path)
        except Unwritable as error:
            why: UserError = error
        except UserError as error:
            if not insist:
                raise
            why = error
        self._away = True
        return open_fallback(self.path, self._fallback, why)

    def _come_home(self) -> None:
        """Go over to the folder's own logbook if that can be written again.

        Raises:
            UserError: it still cannot.
        """
        opened = open_database(self.path, 0.2)
        self.db.close()
        self.db, self.notice, self._away = opened.db, opened.notice, False
        self._file = _file_at(self.path)
        self._take_home()

    def _take_home(self) -> None:
        """Bring back what this machine kept while the folder could not be written.

        Where that fails it stays here for the next time.
        """
        try:
            with contextlib.closing(open_database(self._fallback).db) as kept:
                passes, notes, plans = _all_of(kept)
                rounds, takes = rounds_of(kept), takes_of(kept)
            self.record_all(passes)
            known = {done.id: done for done in self.history(taken=False)}
            for done in passes:
                if done.verdict is not None and known[done.id].verdict != done.verdict:
                    self.judge(done.id, done.verdict, broke_at=done.broke_at)
            with Transaction(self.db):
                writing.write_plans(self.db, plans)
                writing.write_rounds(self.db, rounds)
                writing.write_takes(self.db, takes)
                writing.write_notes(self.db, notes)
        except (UserError, KeyError, *_BROKEN):
            return
        forget_fallback(self._fallback)

    def _guarded(self, action: Callable[[], T]) -> T:
        """Do something with the file; if it proves to be damaged, once more with a mended one.

        Raises:
            UserError: it cannot be done.
        """
        try:
            return action()
        except _BROKEN as error:
            if not is_damage(error):
                raise user_error_of(error, self.path) from error
        try:
            self._start_afresh()
            return action()
        except _BROKEN as error:
            raise user_error_of(error, self.path) from error

    def _write(self) -> None:
        try:
            self._guarded(self._write_waiting)
        except UserError as error:
            raise self._kept(error) from error
        self._waiting.clear()
        self._notes.clear()
        self._plans.clear()
        self._rounds.clear()
        self._takes.clear()
        self._check_place()
        if self._is_set_by:
            self._is_set_by = False
            forget_fallback(self._fallback)

    def _check_place(self) -> None:
        # A file whose folder was removed takes every write, and is gone when the program ends.
        if self.is_away or _file_at(self.path) == self._file:
            return
        self._set_by(self.history(), self.rounds(), self.takes())
        raise UserError(
            _("the routine's folder is gone"),
            where=self.path.parent.name,
            do=_("bring it back, passes are kept on this machine meanwhile"),
        )

    def _write_waiting(self) -> None:
        with Transaction(self.db):
            writing.write(self.db, self._waiting)
            writing.write_notes(self.db, self._notes)
            writing.write_plans(self.db, self._plans.values())
            writing.write_rounds(self.db, self._rounds.values())
            writing.write_takes(self.db, self._takes.values())

    def _kept(self, error: UserError) -> UserError:
        count = len(self._waiting)
        kept = ngettext(
            "{count} pass waits in memory", "{count} passes wait in memory", count, count=count
        )
        kept = kept if count else _("it waits in memory")
        if self._set_by(self._waiting, self._rounds.values(), self._takes.values()):
            kept = ngettext(
                "{count} pass is kept on this machine meanwhile",
                "{count} passes are kept on this machine meanwhile",
                count,
                count=count,
            )
            kept = kept if count else _("it is kept on this machine meanwhile")
        return UserError(error.what, where=error.where, do=f"{error.do}, {kept}")

    def _set_by(
        self, passes: Sequence[Pass], rounds: Iterable[RoundDone], takes: Iterable[TakeDone]
    ) -> bool:
        """Keep what was done on this machine until it is at home; False: it cannot."""
        done = not self.is_away and set_by(self._fallback, passes, self._notes, rounds, takes)
        self._is_set_by = self._is_set_by or done
        return done

    def _start_afresh(self) -> None:
        # The file broke under us. Everything readable and everything waiting goes into a new one.
        self.db.close()
        place = self._fallback if self._away else self.path
        try:
            opened = open_database(place)
            if not opened.notice:  # it looks whole from outside
                opened.db.close()
                opened = replace_file(place)
        except Unwritable as error:
            self._away = True
            opened = open_fallback(self.path, self._fallback, error)
        self.db, self.notice = opened.db, opened.notice
        self._file = _file_at(self.path)


def _all_of(db: sqlite3.Connection) -> tuple[list[Pass], list[Note], list[pass_rows.Row]]:
    """The passes, the stops for dizziness and the plans of a stand-in."""
    found = db.execute(f"{pass_rows.SELECT_PASS} ORDER BY n").fetchall()
    taken: dict[int, list[pass_rows.Row]] = {}
    for row in db.execute(pass_rows.SELECT_ALL_TAKEN):
        taken.setdefault(row[0], []).append(row)
    passes = [pass_rows.to_pass(row, taken.get(pass_rows.number(row), ())) for row in found]
    ends = db.execute("SELECT ended FROM sessions WHERE stopped = 'unwell'").fetchall()
    notes = [(datetime.fromtimestamp(ended).astimezone(), True) for (ended,) in ends]
    plans = db.execute("SELECT key, day, minutes, lines FROM plans ORDER BY n").fetchall()
    return passes, notes, plans


def _file_at(path: Path) -> tuple[int, int]:
    """What tells the file at `path` from any other; zeros for none."""
    try:
        found = path.stat()
    except OSError:
        return 0, 0
    return found.st_dev, found.st_ino
