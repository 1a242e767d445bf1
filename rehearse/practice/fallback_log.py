"""Where passes go when the routine's folder cannot be written, and how they come home.

A stick that is write-protected, a shared folder without permission, a logbook that another program
holds must not stop the practice: a copy of the logbook on this machine takes the passes and gives
them back, each once, as soon as the folder can be written again. It is named after the routine
itself: another stick that is put in the same place gets nothing that is not its own.
"""

from __future__ import annotations

import contextlib
import hashlib
import re
import sqlite3
from collections.abc import Iterable, Sequence
from pathlib import Path

from rehearse.files.user_error import UserError
from rehearse.practice import schema
from rehearse.practice.database import OpenedDatabase, open_database, open_for_reading
from rehearse.practice.passes import Pass
from rehearse.practice.roundlog import RoundDone
from rehearse.practice.takelog import TakeDone
from rehearse.practice.writing import (
    Note,
    Transaction,
    write,
    write_notes,
    write_rounds,
    write_takes,
)
from rehearse.words import _

_PLAIN = re.compile(r"[0-9A-Za-z-]{4,64}")


def fallback_path(path: Path, identity: str = "") -> Path:
    """The place on this machine that stands in for the logbook at `path`.

    Args:
        identity: the routine's own name, `Routine.id`; without one the path itself tells.
    """
    from platformdirs import user_data_path

    if identity:
        plain = _PLAIN.fullmatch(identity)
        name = f"routine {identity if plain else hashlib.sha256(identity.encode()).hexdigest()}"
    else:
        name = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:16]
    return Path(user_data_path("rehearse")) / "logbooks" / f"{name}.sqlite"


def open_fallback(path: Path, fallback: Path, why: UserError) -> OpenedDatabase:
    """Open the stand-in, filled with what the folder's logbook holds when it is new.

    Args:
        why: what keeps the logbook from being used. Where this machine cannot keep passes either,
            they live as long as the program.
    """
    do = _("passes are kept on this machine and go into it when it can be written")
    try:
        fallback.parent.mkdir(parents=True, exist_ok=True)
        if not fallback.exists():
            with contextlib.suppress(UserError, sqlite3.Error):
                _copy(path, fallback)
        db = open_database(fallback).db
    except (OSError, UserError):
        db = sqlite3.connect(":memory:", isolation_level=None)
        schema.migrate(db)
        do = _("this machine cannot keep passes either: they last until the program ends")
    return OpenedDatabase(db, UserError(why.what, where=why.where, do=do).sentence)


def set_by(
    fallback: Path,
    passes: Sequence[Pass],
    notes: Sequence[Note] = (),
    rounds: Iterable[RoundDone] = (),
    takes: Iterable[TakeDone] = (),
) -> bool:
    """Keep passes, with their newest verdicts, in the stand-in; False: it cannot."""
    try:
        fallback.parent.mkdir(parents=True, exist_ok=True)
        db = open_database(fallback).db
    except (OSError, UserError):
        return False
    try:
        with Transaction(db):
            write(db, passes)
            for done in passes:
                db.execute(
                    "UPDATE passes SET verdict = ?, broke_at = ? WHERE id = ?",
                    (done.verdict, done.broke_at, done.id),
                )
            write_notes(db, notes)
            write_rounds(db, rounds)
            write_takes(db, takes)
    except sqlite3.Error:
        return False
    finally:
        db.close()
    return True


def forget_fallback(fallback: Path) -> None:
    """Remove the stand-in once everything in it is safe."""
    for ending in ("", "-wal", "-shm"):
        with contextlib.suppress(OSError):
            fallback.with_name(fallback.name + ending).unlink(missing_ok=True)


def _copy(path: Path, fallback: Path) -> None:
    source = open_for_reading(path)
    target = sqlite3.connect(fallback)
    try:
        source.backup(target)
    except sqlite3.Error:
        target.close()
        forget_fallback(fallback)
        raise
    finally:
        source.close()
        target.close()
