"""Reading what can still be read out of a file that is no logbook of ours, or a damaged one.

It stays as it was found: a copy is read, without triggers, views or functions, for so long and no
longer, one row after the other, and each row is looked at before it is taken over.
"""

from __future__ import annotations

import shutil
import sqlite3
import struct
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from rehearse.practice import checking, schema

MAGIC = b"SQLite format 3\0"
#: Endings of the files that SQLite keeps beside a database, its own first.
BESIDE = ("", "-wal", "-shm", "-journal")
#: Seconds that reading may take, and most bytes of one value.
_SECONDS, _VALUE = 20.0, 10_000_000
#: Steps of SQLite's machine between two looks at the clock.
_STEPS = 10_000
_TABLES = ("sessions", "passes", "taken", "plans", "rounds", "calls", "takes", "offsets")


def head_of(path: Path) -> bytes:
    """The 100 bytes of a database's header; fewer when the file is shorter."""
    with path.open("rb") as stream:
        return stream.read(100)


def salvage(aside: Path, db: sqlite3.Connection, largest: int) -> int:
    """Copy every readable row of a file set aside into `db`; returns how many passes it has.

    Args:
        largest: bytes beyond which the file is not read at all.
    """
    db.execute("PRAGMA foreign_keys = OFF")
    with tempfile.TemporaryDirectory(prefix="rehearse-") as folder:
        copy = _whole_copy(aside, Path(folder), largest)
        if copy is not None:
            with closing(_open_untrusted(copy)) as source:
                _copy_all(source, db)
    db.execute("PRAGMA foreign_keys = ON")
    (saved,) = db.execute("SELECT count(*) FROM passes").fetchone()
    return int(saved)


def _copy_all(source: sqlite3.Connection, db: sqlite3.Connection) -> None:
    db.execute("BEGIN IMMEDIATE")
    try:
        for table in _TABLES:
            # From both ends: reading stops at the first page that cannot be read.
            for order in ("", " ORDER BY 1 DESC"):
                _copy_rows(source, db, table, order)
        _mend_sessions(db)
        schema.rebuild(db)
        db.execute("COMMIT")
    except BaseException:
        db.execute("ROLLBACK")
        raise


def _whole_copy(aside: Path, folder: Path, largest: int) -> Path | None:
    """A copy to read from, filled up with zeros to the length its header promises; None for none.

    SQLite reads nothing at all from a file that is too short; with empty pages it reads the rest.
    """
    copy = folder / "copy.sqlite"
    for ending in BESIDE[:2]:  # a rollback journal would undo what can be read
        beside = aside.with_name(aside.name + ending)
        if beside.is_file():
            if beside.stat().st_size > largest:
                return None
            shutil.copyfile(beside, copy.with_name(copy.name + ending))
    if not copy.exists():
        return None
    head = head_of(copy)
    if len(head) == 100 and head.startswith(MAGIC):
        size, pages = struct.unpack(">H", head[16:18])[0], struct.unpack(">I", head[28:32])[0]
        promised = (65536 if size == 1 else size) * pages
        if copy.stat().st_size < promised <= largest:
            with copy.open("r+b") as stream:
                stream.truncate(promised)
    return copy


def _open_untrusted(copy: Path) -> sqlite3.Connection:
    source = sqlite3.connect(copy, isolation_level=None)
    source.text_factory = lambda raw: raw.decode("utf-8", "replace")
    source.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _VALUE)
    deadline = time.monotonic() + _SECONDS
    source.set_progress_handler(lambda: time.monotonic() > deadline, _STEPS)
    source.set_authorizer(_allowed)
    return source


def _allowed(action: int, *what: str | None) -> int:
    """Reading tables and what tells their columns; no function, no view, nothing written."""
    if action in (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ) and what[3] is None:
        return sqlite3.SQLITE_OK
    if action == sqlite3.SQLITE_PRAGMA and what[0] == "table_info":
        return sqlite3.SQLITE_OK
    return sqlite3.SQLITE_DENY


def _copy_rows(source: sqlite3.Connection, db: sqlite3.Connection, table: str, order: str) -> None:
    there = _columns(source, table)
    columns = [c for c in checking.COLUMNS[table] if c in there]
    if not columns or not _is_plain(source, table):
        return
    names = ", ".join(f'"{c}"' for c in columns)
    marks = ", ".join("?" * len(columns))
    insert = f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({marks})"
    for values in _each(source, f"SELECT {names} FROM {table}{order}"):
        row = checking.mended(table, dict(zip(columns, values, strict=True)))
        if row is not None:
            try:
                db.execute(insert, tuple(row.values()))
            except (sqlite3.IntegrityError, UnicodeError):
                continue  # a column that must be there is not, or holds half a letter


def _is_plain(source: sqlite3.Connection, table: str) -> bool:
    """Whether it is a table: a view or a virtual table of the same name would be run."""
    found = list(_each(source, f"SELECT type, sql FROM sqlite_master WHERE name = '{table}'"))
    sql = " ".join(str(found[0][1]).upper().split()) if len(found) == 1 else ""
    return sql.startswith("CREATE TABLE ") and found[0][0] == "table"


def _columns(source: sqlite3.Connection, table: str) -> list[str]:
    """Of an older file there are fewer."""
    return [row[1] for row in _each(source, f"PRAGMA table_info({table})")]


def _each(source: sqlite3.Connection, select: str) -> Iterator[tuple[Any, ...]]:
    """Rows until the first that cannot be read."""
    try:
        yield from source.execute(select)
    except (sqlite3.Error, UnicodeError, ValueError, OverflowError, MemoryError):
        return


def _mend_sessions(db: sqlite3.Connection) -> None:
    """Give passes and rounds whose session is lost one made from their own times."""
    for table in ("passes", "rounds"):
        db.execute(
            "INSERT INTO sessions (n, started, ended, zone, day, dry_run)"
            f" SELECT session, min(started), max(ended), zone, day, min(dry_run) FROM {table}"
            " WHERE session NOT IN (SELECT n FROM sessions) GROUP BY session"
        )
    db.execute("DELETE FROM offsets WHERE take NOT IN (SELECT n FROM takes)")
    db.execute("DELETE FROM calls WHERE round NOT IN (SELECT n FROM rounds)")
    db.execute("DELETE FROM taken WHERE pass NOT IN (SELECT n FROM passes)")
