"""Reading what can still be read out of a damaged logbook, which itself stays as it was found."""

from __future__ import annotations

import shutil
import sqlite3
import struct
import tempfile
from collections.abc import Callable
from pathlib import Path

from rehearse.practice import schema
from rehearse.practice.rows import Row

MAGIC = b"SQLite format 3\0"
#: Endings of the files that SQLite keeps beside a database, its own first.
BESIDE = ("", "-wal", "-shm", "-journal")


def head_of(path: Path) -> bytes:
    """The 100 bytes of a database's header; fewer when the file is shorter."""
    with path.open("rb") as stream:
        return stream.read(100)


def salvage(aside: Path, db: sqlite3.Connection) -> int:
    """Copy every readable row of the damaged file into `db`; returns how many passes it has."""
    with tempfile.TemporaryDirectory() as folder:
        source = sqlite3.connect(_whole_copy(aside, Path(folder)), isolation_level=None)
        try:
            db.execute("BEGIN IMMEDIATE")
            for table in ("sessions", "passes", "taken", "plans"):
                for order in ("", " ORDER BY 1 DESC"):
                    _copy_rows(source, db, table, order)
            _mend_sessions(db)
            schema.rebuild(db)
            db.execute("COMMIT")
        finally:
            source.close()
    (saved,) = db.execute("SELECT count(*) FROM passes").fetchone()
    return int(saved)


def _whole_copy(aside: Path, folder: Path) -> Path:
    """A copy to read from, filled up with zeros to the length its header promises.

    SQLite reads nothing at all from a file that is too short; with empty pages it reads the rest.
    """
    copy = folder / "copy.sqlite"
    for ending in BESIDE:
        beside = aside.with_name(aside.name + ending)
        if beside.exists():
            shutil.copyfile(beside, copy.with_name(copy.name + ending))
    head = head_of(copy)
    if len(head) == 100 and head.startswith(MAGIC):
        size, pages = struct.unpack(">H", head[16:18])[0], struct.unpack(">I", head[28:32])[0]
        promised = (65536 if size == 1 else size) * pages
        if copy.stat().st_size < promised <= 1 << 32:
            with copy.open("r+b") as stream:
                stream.truncate(promised)
    return copy


def _copy_rows(source: sqlite3.Connection, db: sqlite3.Connection, table: str, order: str) -> None:
    columns = [c for c in _columns(db, table) if c in _columns(source, table)]
    if not columns:
        return
    names = ", ".join(f'"{c}"' for c in columns)
    marks = ", ".join("?" * len(columns))
    insert = f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({marks})"
    _each(source, f"SELECT {names} FROM {table}{order}", lambda row: db.execute(insert, row))


def _columns(db: sqlite3.Connection, table: str) -> list[str]:
    """Of an older file there are fewer."""
    try:
        return [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
    except sqlite3.Error:
        return []


def _each(source: sqlite3.Connection, select: str, take: Callable[[Row], object]) -> None:
    """Hand on rows until the first that cannot be read."""
    try:
        for row in source.execute(select):
            take(row)
    except sqlite3.Error:
        return


def _mend_sessions(db: sqlite3.Connection) -> None:
    """Give passes whose session is lost one made from their own times."""
    db.execute(
        "INSERT INTO sessions (n, started, ended, zone, day, dry_run)"
        " SELECT session, min(started), max(ended), zone, day, min(dry_run) FROM passes"
        " WHERE session NOT IN (SELECT n FROM sessions) GROUP BY session"
    )
    db.execute("DELETE FROM taken WHERE pass NOT IN (SELECT n FROM passes)")
