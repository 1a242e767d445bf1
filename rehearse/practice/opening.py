"""Opening practice.sqlite: refuse a newer one untouched, set a damaged one aside, lose nothing.

A damaged file is renamed, never deleted, and every pass that can still be read out of it is taken
over into a fresh one.
"""

from __future__ import annotations

import sqlite3
import struct
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rehearse.files.fault import Fault
from rehearse.practice import schema
from rehearse.practice.salvage import BESIDE, MAGIC, head_of, salvage

_CORRUPT = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class Unwritable(Fault):
    """The folder or its logbook is read-only; it may still be read."""


@dataclass(frozen=True)
class Opened:
    """An open logbook file, and one sentence when something had to be put right."""

    db: sqlite3.Connection
    notice: str = ""


def open_database(path: Path) -> Opened:
    """Open or make the logbook file, brought up to this program's version.

    Raises:
        Fault: written by a newer version (left untouched). Unwritable: the folder is read-only.
    """
    if path.exists() and path.stat().st_size:
        header = head_of(path)
        if len(header) < 100 or not header.startswith(MAGIC):
            return _replace(path)
        _refuse_newer(struct.unpack(">I", header[60:64])[0], path)
    try:
        return Opened(_connect(path, check=True))
    except sqlite3.DatabaseError as error:
        if is_damage(error):
            return _replace(path)
        raise fault_of(error, path) from error


def open_for_reading(path: Path) -> sqlite3.Connection:
    """Open an existing logbook without changing anything beside it.

    Raises:
        Fault: there is none, it is damaged or of a newer version.
    """
    if not path.exists():
        raise Fault("nothing has been practised here yet", where=path.parent.name)
    try:
        try:
            return _read_only(path, "mode=ro")
        except sqlite3.OperationalError:
            # In a folder that cannot be written SQLite reads a log-keeping file only as immutable.
            return _read_only(path, "immutable=1")
    except sqlite3.DatabaseError as error:
        raise fault_of(error, path) from error


def _read_only(path: Path, how: str) -> sqlite3.Connection:
    db = sqlite3.connect(f"{path.resolve().as_uri()}?{how}", uri=True, isolation_level=None)
    _refuse_newer(db.execute("PRAGMA user_version").fetchone()[0], path)
    return db


def is_damage(error: sqlite3.Error) -> bool:
    """Whether the file itself is broken, as against locked, full or read-only."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in _CORRUPT


def fault_of(error: sqlite3.Error, path: Path) -> Fault:
    """The sentence for the database's refusal."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if is_damage(error):
        return Fault("the logbook is damaged", where=path.name, do="open the routine to mend it")
    if code == sqlite3.SQLITE_FULL:
        return Fault("the disk is full", where=path.name, do="free some space")
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return Unwritable(
            "the logbook cannot be written here", where=path.name, do="choose another folder"
        )
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return Fault("another program holds the logbook", where=path.name, do="close it there")
    return Fault(f"the logbook cannot be used ({error})", where=path.name, do="check the disk")


def set_aside(path: Path) -> Path:
    """Rename a damaged logbook, with the files SQLite keeps beside it; returns its new name."""
    stamp = datetime.now(UTC).strftime("%Y-%m-%dT%H%M%S.%fZ")
    target = path.with_name(f"{path.stem} damaged {stamp}{path.suffix}")
    for ending in BESIDE:
        old = path.with_name(path.name + ending)
        if old.exists():
            old.rename(target.with_name(target.name + ending))
    return target


def _refuse_newer(version: int, path: Path) -> None:
    if version > schema.VERSION:
        raise Fault(
            "the logbook was written by a newer version", where=path.name, do="update the program"
        )


def _connect(path: Path, *, check: bool) -> sqlite3.Connection:
    existed = path.exists() and path.stat().st_size > 0
    db = sqlite3.connect(path, isolation_level=None, timeout=5.0)
    try:
        db.execute("PRAGMA foreign_keys = ON")
        (version,) = db.execute("PRAGMA user_version").fetchone()
        _refuse_newer(version, path)
        if existed and check:
            _check(db)
        if existed and version < schema.VERSION:
            _keep_version(db, path)
        schema.migrate(db)
        # Set last: the version then stands in the file's header even before the first checkpoint.
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
    except BaseException:
        db.close()
        raise
    return db


def _check(db: sqlite3.Connection) -> None:
    problems = db.execute("PRAGMA quick_check(1)").fetchone()
    if problems and problems[0] != "ok":
        error = sqlite3.DatabaseError(problems[0])
        error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
        raise error


def _keep_version(db: sqlite3.Connection, path: Path) -> None:
    versions = path.parent / "versions"
    versions.mkdir(exist_ok=True)
    stamp = datetime.now(UTC).strftime("%Y-%m-%dT%H%M%S.%fZ")
    with sqlite3.connect(versions / f"{path.stem} {stamp}{path.suffix}") as copy:
        db.backup(copy)
    copy.close()


def _replace(path: Path) -> Opened:
    try:
        aside = set_aside(path)
        db = _connect(path, check=False)
        saved = salvage(aside, db)
    except OSError as error:
        raise Fault(
            "the logbook is damaged and cannot be set aside", where=path.name, do="free the folder"
        ) from error
    except sqlite3.DatabaseError as error:
        raise fault_of(error, path) from error
    sentence = Fault(
        f"the logbook was damaged, {saved} passes could be read from it",
        where=path.name,
        do=f"the damaged file is kept as {aside.name}",
    ).sentence
    return Opened(db, sentence)
