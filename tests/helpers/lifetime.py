"""A routine's life without a window, in whatever language; prints what lies on the disk after it.

`python -m tests.helpers.lifetime FOLDER DEMO` works in FOLDER on a copy of the routine DEMO and
prints a hash of every file; ids and times are made the same in every run.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import os
import re
import secrets
import shutil
import sqlite3
import sys
import uuid
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

from rehearse.handout.coach_zip import write_bundle
from rehearse.handout.handout_source import load_source
from rehearse.music.position import Count, Length
from rehearse.practice.logbook import FILE_NAME, Logbook
from rehearse.practice.passes import Pass
from rehearse.practice.scope import spots_of, taken_in, transition_scope, whole_scope
from rehearse.routine import edits
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import Facing, Level, OwnMove, OwnPose, Side
from rehearse.routine.moves import load_moves, written
from rehearse.routine.report import as_json, report
from rehearse.routine.versions import keep_as
from rehearse.words import shown

_STAMP = re.compile(r"\d{4}-\d\d-\d\dT\d+\.\d+Z")
_WHEN = datetime(2027, 4, 17, 18, 30, tzinfo=UTC)


def main(place: Path, demo: Path) -> None:
    """Edit, save, keep, drill, zip and check; print what there is now."""
    _same_every_time()
    folder = place / "routine"
    shutil.copytree(demo, folder)
    _edit(folder)
    keep_as(folder, "after Tuesday", now=_WHEN)
    _drill(folder)
    _zip(folder, place / "given.zip")
    print(json.dumps(_seen(folder, place / "given.zip"), indent=1, sort_keys=True))


def _same_every_time() -> None:
    count = itertools.count(1)
    os.urandom = lambda size: next(count).to_bytes(size, "big")
    secrets.token_hex = lambda size=8: f"{next(count):0{2 * size}x}"
    uuid.uuid4 = lambda: uuid.UUID(int=next(count))


def _edit(folder: Path) -> None:
    opened = open_folder(folder)
    routine, beatmap = opened.routine, opened.beatmap
    first, second = routine.poses[1].id, routine.poses[2].id
    routine = edits.change(routine, beatmap, first, facing=Facing.LEFT, level=Level.LUNGE)
    routine = edits.change(routine, beatmap, second, turn=Side.LEFT, hold=Length(3.5))
    routine = edits.add_own(routine, OwnPose("Laterne", Facing.BACK, Level.KNEELING))
    routine = edits.add_own_move(routine, OwnMove("Laternenschwung"))
    routine = edits.add_section(routine, beatmap, "front", Count(2, 1), Count(4, 1))
    # As the table does it: moves are written out, changed and read again.
    moves = load_moves().with_own(routine.own_moves)
    typed = f"{written(routine.poses[1].moves)}, {shown('gather')} 2"
    for request in moves.read(typed)[-1:]:
        routine = edits.add_move(routine, beatmap, second, request.kind.name, counts=1.0)
    save_folder(folder, routine, beatmap)
    again = open_folder(folder)
    assert again.routine == routine
    save_folder(folder, again.routine, again.beatmap)


def _drill(folder: Path) -> None:
    opened = open_folder(folder)
    spots = spots_of(opened.routine, opened.beatmap)
    whole = whole_scope(opened.routine, opened.beatmap)
    way = transition_scope(opened.routine, opened.beatmap, spots[2].pose)
    with Logbook(folder / FILE_NAME, identity=opened.routine.id) as logbook:
        logbook.begin_session(_WHEN)
        for number, scope in enumerate((whole, way)):
            start = _WHEN + timedelta(minutes=2 * number)
            logbook.record(
                Pass(
                    kind="run" if scope is whole else "drill",
                    section=None,
                    section_name=scope.name if scope is whole else "",
                    transition=None if scope is whole else scope.item,
                    transition_name="" if scope is whole else scope.name,
                    start=scope.start,
                    end=scope.end,
                    tempo=1.0,
                    started=start,
                    ended=start + timedelta(minutes=1),
                    complete=True,
                    verdict="clean",
                    taken=taken_in(spots, scope.start, scope.end),
                )
            )
        logbook.end_session(_WHEN + timedelta(minutes=5))


def _zip(folder: Path, path: Path) -> None:
    write_bundle(load_source(folder), path, music=False, log=False)


def _seen(folder: Path, packed: Path) -> dict[str, str]:
    opened = open_folder(folder)
    found = report(opened, "open-60")
    findings = [
        {k: f[k] for k in ("kind", "severity", "place", "pose") if k in f}
        for f in json.loads(as_json(found))["findings"]
    ]
    seen = {"findings": json.dumps(findings), "log": _rows(folder / FILE_NAME)}
    for name in ("routine.yaml", "beats.yaml"):
        seen[name] = hashlib.sha256((folder / name).read_bytes()).hexdigest()
    versions = sorted(_STAMP.sub("", p.name) for p in (folder / "versions").iterdir())
    seen["versions"] = ", ".join(versions)
    with zipfile.ZipFile(packed) as archive:
        for info in archive.infolist():
            if "versions" not in info.filename:
                seen[info.filename] = hashlib.sha256(archive.read(info)).hexdigest()
    return seen


def _rows(path: Path) -> str:
    with sqlite3.connect(path) as db:
        tables = ("passes", "taken", "tally", "sessions")
        return json.dumps([list(db.execute(f"SELECT * FROM {table}")) for table in tables])


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
