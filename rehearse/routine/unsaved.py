"""States that could not be written to their folder, kept on this machine until they can be.

A state is found again by what its folder held when it was read or written last, not by its path:
another stick may be mounted there by now, and the same one elsewhere.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.door import read_file
from rehearse.files.locations import state_folder
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import MAX_BYTES, dump_yaml, load_yaml
from rehearse.music.beatmap import BeatMap
from rehearse.music.mapfile import load_map, save_map
from rehearse.routine.model import Routine
from rehearse.routine.poses import load_catalogue
from rehearse.routine.routinedata import routine_data
from rehearse.routine.routinefile import read_routine
from rehearse.routine.versions import BEATS, ROUTINE, fingerprint, list_versions
from rehearse.words import _, month

_ABOUT = "about.yaml"


@dataclass(frozen=True)
class Unsaved:
    """A state that is not in its routine's folder yet.

    Args:
        folder: where that folder was. title: the routine's. kept: when, aware UTC.
        bases: SHA-256, hexadecimal, of the `routine.yaml` it was made from, and of the one that
            stood in its way. place: its own folder.
    """

    folder: Path
    title: str
    kept: datetime
    bases: tuple[str, ...]
    place: Path

    @property
    def when(self) -> str:
        """When it was kept, in words: 12 March, 14:03."""
        local = self.kept.astimezone()
        return _(
            "{day:02d} {month}, {time}",
            day=local.day,
            month=month(local.month),
            time=f"{local:%H:%M}",
        )


def keep_unsaved(
    folder: Path,
    bases: Sequence[str],
    routine: Routine,
    beatmap: BeatMap | None,
    instead: Unsaved | None = None,
) -> Unsaved:
    """Keep a state on this machine.

    Args:
        folder: where it should lie. bases: as in `Unsaved`, that it was made from first.
        instead: what was kept of the same work before, whose place it takes.

    Raises:
        UserError: this machine cannot keep it either.
    """
    now = datetime.now(UTC)
    place = instead.place if instead else state_folder() / "unsaved" / os.urandom(8).hex()
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise user_error_of(error, place) from error
    if beatmap is not None:
        save_map(place / BEATS, beatmap)
    data = routine_data(routine, fingerprint(beatmap) if beatmap else "")
    save_atomic(place / ROUTINE, dump_yaml(data))
    about = {
        "folder": str(folder),
        "title": routine.title,
        "bases": list(bases),
        "kept": now.isoformat(),
    }
    save_atomic(place / _ABOUT, dump_yaml(about))
    return Unsaved(folder, routine.title, now, tuple(bases), place)


def list_unsaved() -> tuple[Unsaved, ...]:
    """All states kept on this machine, newest first."""
    try:
        places = sorted((state_folder() / "unsaved").iterdir())
    except OSError:
        return ()
    found = (_read_about(place) for place in places)
    return tuple(sorted((u for u in found if u), key=lambda u: u.kept, reverse=True))


def _read_about(place: Path) -> Unsaved | None:
    try:
        about = load_yaml(place / _ABOUT).data
        kept = datetime.fromisoformat(about["kept"])
        bases = tuple(map(str, about["bases"]))
        return Unsaved(Path(about["folder"]), str(about["title"]), kept, bases, place)
    except (UserError, KeyError, TypeError, ValueError):
        return None


def unsaved_of(folder: Path, known: Sequence[Unsaved] | None = None) -> Unsaved | None:
    """The newest state kept for the routine in `folder`, wherever that lies now."""
    states = list_unsaved() if known is None else known
    if not states:
        return None
    held = set(_saves(folder))
    return next((state for state in states if held & set(state.bases)), None)


def _saves(folder: Path) -> list[str]:
    """SHA-256 of the present routine and of its earlier saves."""
    found = []
    for path in (folder / ROUTINE, *(v.path for v in list_versions(folder))):
        with contextlib.suppress(UserError):
            found.append(hashlib.sha256(read_file(path, MAX_BYTES)).hexdigest())
    return found


def read_unsaved(state: Unsaved, folder: Path) -> tuple[Routine, BeatMap | None]:
    """What was kept, its references looked for in `folder`.

    Raises:
        UserError: it cannot be read.
    """
    beatmap = load_map(state.place / BEATS) if (state.place / BEATS).exists() else None
    document = load_yaml(state.place / ROUTINE)
    return read_routine(document, folder, beatmap, load_catalogue()), beatmap


def forget_unsaved(state: Unsaved) -> None:
    """It is in its folder now."""
    shutil.rmtree(state.place, ignore_errors=True)
