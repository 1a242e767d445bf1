"""Where passes go when the routine's folder cannot be written, and how they come home.

A stick that is write-protected or a shared folder without permission must not stop the practice:
a copy of the logbook on this machine takes the passes and gives them back, each once, as soon as
the folder can be written again.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Sequence
from pathlib import Path

from rehearse.files.fault import Fault
from rehearse.practice.opening import Opened, open_database, open_for_reading
from rehearse.practice.passes import Pass
from rehearse.practice.writing import Transaction, write


def spare_path(path: Path) -> Path:
    """The place on this machine that stands in for the logbook at `path`."""
    from platformdirs import user_data_path

    name = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:16]
    return Path(user_data_path("rehearse")) / "logbooks" / f"{name}.sqlite"


def open_spare(path: Path, spare: Path) -> Opened:
    """Open the stand-in, filled with what the folder's logbook holds when it is new.

    Raises:
        Fault: this machine cannot keep it either.
    """
    try:
        spare.parent.mkdir(parents=True, exist_ok=True)
        if not spare.exists() and path.exists():
            _copy(path, spare)
    except OSError as error:
        raise Fault("passes cannot be kept anywhere", where=path.name, do="free a disk") from error
    sentence = Fault(
        "the logbook cannot be written in this folder",
        where=path.name,
        do="passes are kept on this machine and go into it when it can be",
    ).sentence
    return Opened(open_database(spare).db, sentence)


def set_by(spare: Path, passes: Sequence[Pass]) -> bool:
    """Keep passes, with their newest verdicts, in the stand-in; False when it cannot either."""
    try:
        spare.parent.mkdir(parents=True, exist_ok=True)
        db = open_database(spare).db
    except (OSError, Fault):
        return False
    try:
        with Transaction(db):
            write(db, passes)
            for done in passes:
                db.execute(
                    "UPDATE passes SET verdict = ?, broke_at = ? WHERE id = ?",
                    (done.verdict, done.broke_at, done.id),
                )
    except sqlite3.DatabaseError:
        return False
    finally:
        db.close()
    return True


def forget_spare(spare: Path) -> None:
    """Remove the stand-in once everything in it is safe."""
    for ending in ("", "-wal", "-shm"):
        spare.with_name(spare.name + ending).unlink(missing_ok=True)


def _copy(path: Path, spare: Path) -> None:
    source = open_for_reading(path)
    target = sqlite3.connect(spare)
    try:
        source.backup(target)
    finally:
        source.close()
        target.close()
