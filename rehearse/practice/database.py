"""Opening practice.sqlite, whatever is found in its place.

A newer one is refused untouched. One that is damaged, that is no file at all, or that was not
made by this program is renamed, never deleted, and every pass that can be read out of it is taken
over into a fresh one. One that cannot be used where it is – locked, read-only, on a full disk –
is left alone: `Unwritable` says so, and this machine keeps the passes meanwhile.
"""

from __future__ import annotations

import contextlib
import sqlite3
import stat
import struct
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rehearse.files.inside import inside
from rehearse.files.user_error import UserError
from rehearse.practice import checking, schema
from rehearse.practice.salvage import BESIDE, MAGIC, head_of, salvage
from rehearse.words import _, ngettext

#: Seconds that a write waits for another program's, and that a look does.
PATIENCE, GLANCE = 2.0, 0.5
#: Bytes of a logbook; a hundred thousand passes take a tenth.
LARGEST = 1 << 30
#: Refusals that say: not now, or not here. Every other one says: not this file.
_ELSEWHERE = {
    sqlite3.SQLITE_PERM, sqlite3.SQLITE_ABORT, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_NOMEM, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_INTERRUPT, sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_FULL, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PROTOCOL, sqlite3.SQLITE_NOLFS,
    sqlite3.SQLITE_AUTH,
}  # fmt: skip
#: The end of a journal that names a file for SQLite to look at and to delete (file format, 3).
_NAMES_ANOTHER = bytes.fromhex("d9d505f920a163d7")


class Unwritable(UserError):
    """The logbook cannot be used where it is; it may still be read."""


@dataclass(frozen=True)
class OpenedDatabase:
    """An open logbook file, and one sentence when something had to be put right."""

    db: sqlite3.Connection
    notice: str = ""


def open_database(path: Path, patience: float | None = None) -> OpenedDatabase:
    """Open or make the logbook file, brought up to this program's version.

    Args:
        patience: seconds to wait where another program holds it; None: `PATIENCE`.

    Raises:
        UserError: written by a newer version, or a link out of its folder (both left untouched).
        Unwritable: it cannot be used where it is.
    """
    try:
        problem = _look_at(path)
        if problem:
            return replace_file(path, problem)
        try:
            return OpenedDatabase(
                _connect(path, PATIENCE if patience is None else patience, check=True)
            )
        except (sqlite3.Error, UnicodeError, ValueError, OverflowError) as error:
            if is_damage(error):
                return replace_file(path, _("the logbook was damaged"))
            raise user_error_of(error, path) from error
        except _Foreign:
            return replace_file(path, _("the logbook was not made by this program"))
    except OSError as error:
        raise Unwritable(
            _("the logbook cannot be opened here"),
            where=path.name,
            do=_("check its rights and the disk"),
        ) from error


class _Foreign(Exception):
    """The file has tables or triggers of its own."""


def _look_at(path: Path) -> str:
    """What is wrong with the file before SQLite has seen it, in words; "" for nothing."""
    _put_aside_beside(path)
    try:
        found = path.lstat()
    except FileNotFoundError:
        return ""
    if stat.S_ISLNK(found.st_mode):
        try:
            found = inside(path.parent, path.name).stat()
            _put_aside_beside(path.resolve())
        except FileNotFoundError:
            return _("the logbook was a link to nothing")
        except ValueError as error:
            what, _unused, do = str(error).partition("; ")
            raise UserError(what, where=path.parent, do=do) from error
    if not stat.S_ISREG(found.st_mode):
        return _("the logbook was no file")
    if found.st_size > LARGEST:
        return _("the logbook was too large to be one")
    if found.st_size:
        header = head_of(path)
        if len(header) < 100 or not header.startswith(MAGIC):
            return _("the logbook was damaged")
        _refuse_newer(struct.unpack(">I", header[60:64])[0], path)
    return ""


def _put_aside_beside(path: Path) -> None:
    """What SQLite would write or read beside the file is a file of its own, or goes out of its way.

    A link there would be written through, and a journal may name any file of this machine.
    """
    for ending in BESIDE[1:]:
        beside = path.with_name(path.name + ending)
        with contextlib.suppress(FileNotFoundError):
            if not stat.S_ISREG(beside.lstat().st_mode) or _names_another(beside, ending):
                beside.rename(beside.with_name(f"{path.stem} damaged {_stamp()}{ending}"))


def _names_another(beside: Path, ending: str) -> bool:
    if ending != "-journal":
        return False
    with beside.open("rb") as stream:
        stream.seek(max(0, beside.stat().st_size - 8))
        return stream.read(8) == _NAMES_ANOTHER


def open_for_reading(path: Path) -> sqlite3.Connection:
    """Open an existing logbook without changing anything beside it.

    Raises:
        UserError: there is none, it is damaged or of a newer version.
    """
    if not path.is_file():
        raise UserError(_("nothing has been practised here yet"), where=path.parent.name)
    try:
        try:
            return _read_only(path, "mode=ro")
        except sqlite3.OperationalError:
            # In a folder that cannot be written SQLite reads a log-keeping file only as immutable.
            return _read_only(path, "immutable=1")
    except sqlite3.Error as error:
        raise user_error_of(error, path) from error


def _read_only(path: Path, how: str) -> sqlite3.Connection:
    place = f"{path.resolve().as_uri()}?{how}"
    db = sqlite3.connect(place, uri=True, isolation_level=None, timeout=GLANCE)
    try:
        _refuse_newer(db.execute("PRAGMA user_version").fetchone()[0], path)
    except BaseException:
        db.close()
        raise
    return db


def is_damage(error: Exception) -> bool:
    """Whether the file itself is broken, as against locked, full, read-only or a fault of ours."""
    if not isinstance(error, sqlite3.Error):
        return isinstance(error, UnicodeError | ValueError | OverflowError)
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:  # refused by Python: a text that is none, a number too large
        return not isinstance(error, sqlite3.ProgrammingError)
    return code & 0xFF not in _ELSEWHERE


def user_error_of(error: Exception, path: Path) -> UserError:
    """The sentence for the database's refusal."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if is_damage(error):
        return UserError(
            _("the logbook is damaged"), where=path.name, do=_("open the routine to mend it")
        )
    if code == sqlite3.SQLITE_FULL:
        return Unwritable(_("the disk is full"), where=path.name, do=_("free some space"))
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return Unwritable(
            _("the logbook cannot be written here"), where=path.name, do=_("choose another folder")
        )
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return Unwritable(
            _("another program holds the logbook"), where=path.name, do=_("close it there")
        )
    return Unwritable(_("the logbook cannot be used now"), where=path.name, do=_("check the disk"))


def set_aside(path: Path) -> Path:
    """Rename a damaged logbook, with the files SQLite keeps beside it; returns its new name."""
    target = path.with_name(f"{path.stem} damaged {_stamp()}{path.suffix}")
    for ending in BESIDE:
        with contextlib.suppress(FileNotFoundError):
            path.with_name(path.name + ending).rename(target.with_name(target.name + ending))
    return target


def _stamp() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H%M%S.%fZ")


def _refuse_newer(version: int, path: Path) -> None:
    if schema.VERSION < version < 1000:  # higher still is no version but damage
        raise UserError(
            _("the logbook was written by a newer version"),
            where=path.name,
            do=_("update the program"),
        )


def _connect(path: Path, patience: float, *, check: bool) -> sqlite3.Connection:
    existed = path.exists() and path.stat().st_size > 0
    db = sqlite3.connect(path, isolation_level=None, timeout=patience)
    try:
        db.execute("PRAGMA trusted_schema = OFF")
        db.execute("PRAGMA foreign_keys = ON")
        (version,) = db.execute("PRAGMA user_version").fetchone()
        _refuse_newer(version, path)
        if existed and not checking.is_ours(db):
            raise _Foreign
        if existed and check:
            _check(db)
        if existed and version < schema.VERSION:
            _keep_version(db, path)
        # Before the tables: what a crash leaves half made is then never a journal to roll back.
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        if schema.migrate(db):
            # The version stands in the file's header from now on, for those who only look there.
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        if existed and check and checking.bad_table(db):
            raise sqlite3.DatabaseError("a value that cannot be")
    except BaseException:
        db.close()
        raise
    return db


def _check(db: sqlite3.Connection) -> None:
    problems = db.execute("PRAGMA quick_check(1)").fetchone()
    if problems and problems[0] != "ok":
        raise sqlite3.DatabaseError("quick_check")


def _keep_version(db: sqlite3.Connection, path: Path) -> None:
    versions = path.parent / "versions"
    versions.mkdir(exist_ok=True)
    with sqlite3.connect(versions / f"{path.stem} {_stamp()}{path.suffix}") as copy:
        db.backup(copy)
    copy.close()


def replace_file(path: Path, problem: str = _("the logbook was damaged")) -> OpenedDatabase:
    """Set a file aside and take over into a fresh one what can be read of it.

    Raises:
        Unwritable: it cannot be renamed, or no other be made.
    """
    try:
        aside = set_aside(path)
        db = _connect(path, PATIENCE, check=False)
    except OSError as error:
        raise Unwritable(
            _("the logbook is damaged and cannot be set aside"),
            where=path.name,
            do=_("free the folder"),
        ) from error
    except sqlite3.Error as error:
        raise user_error_of(error, path) from error
    try:
        saved = salvage(aside, db, LARGEST)
    except sqlite3.Error as error:
        db.close()
        raise user_error_of(error, path) from error
    sentence = UserError(
        ngettext(
            "{problem}, {saved} pass could be read from it",
            "{problem}, {saved} passes could be read from it",
            saved,
            problem=problem,
            saved=saved,
        ),
        where=path.name,
        do=_("what was there is kept as {name}", name=aside.name),
    ).sentence
    return OpenedDatabase(db, sentence)
