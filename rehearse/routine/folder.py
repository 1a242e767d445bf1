"""The routine folder: opened with every fault at once, saved without losing what was there.

`routine.yaml` names by `beats` the map its counts were written for. When `beats.yaml` has
another one – a save cut short between the two files, or a map the coach corrected – the poses
keep their places in the music and their counts are rewritten.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from rehearse.files.atomic import save_atomic, user_error_of
from rehearse.files.door import path_inside
from rehearse.files.inside import inside
from rehearse.files.user_error import UserError, UserErrors, halves
from rehearse.files.yamlfile import Document, dump_yaml, load_yaml
from rehearse.music.beatmap import BeatMap
from rehearse.music.cut import FOLDER as CUTS
from rehearse.music.mapfile import load_map, save_map
from rehearse.routine.model import FORMAT, Routine
from rehearse.routine.poses import load_catalogue
from rehearse.routine.remap import remap
from rehearse.routine.routinedata import routine_data
from rehearse.routine.routinefile import read_routine
from rehearse.routine.versions import (
    BEATS,
    FOLDER,
    ROUTINE,
    Version,
    fingerprint,
    list_versions,
    when_of,
)
from rehearse.words import _

#: Folders in it that the program writes into.
ROOMS = (FOLDER, "pictures", "rules", "voice", "takes", CUTS)
#: What the program itself reads or writes in the folder; a link there must not lead out.
_OWN_FILES = (
    *(ROUTINE, BEATS, "practice.sqlite", "practice.sqlite-wal", "practice.sqlite-shm"),
    *("practice.sqlite-journal", "checks.yaml", "remarks.yaml"),
    *ROOMS,
)

_BROKEN_OFF = _("The last change of the cut was broken off – the music before it is used.")

#: Seconds that a stage part may outlast the map unnoticed: rounding.
_SLACK = 0.05

T = TypeVar("T")


@dataclass(frozen=True)
class OpenedFolder:
    """A routine folder as read.

    Args:
        folder: the folder itself.
        routine, beatmap: its content; every position of the routine is in the map.
        warnings: sentences for the athlete about what is odd but did no harm.
    """

    folder: Path
    routine: Routine
    beatmap: BeatMap
    warnings: tuple[str, ...] = ()


def open_folder(path: Path) -> OpenedFolder:
    """Read the routine folder at `path`; nothing in it is changed.

    Raises:
        UserErrors: everything wrong with its files, with file, line and what to write instead.
    """
    path = Path(path)
    try:
        return _open(find_folder(path))
    except OSError as error:  # a folder one may not look into
        raise user_error_of(error, Path(error.filename or path)) from error


def _open(folder: Path) -> OpenedFolder:
    errors = _links_out(folder)
    if errors:
        raise UserErrors(errors)
    look = _no_map if _was_never_mapped(folder) else _map_of
    beatmap, told = _noting(errors, look, folder) or (None, ())
    document = _noting(errors, _document_of, folder)
    if document is None:
        raise UserErrors(errors)
    if beatmap is None:
        _noting(errors, read_routine, document, folder, None, load_catalogue())
        raise UserErrors(errors)
    meant, warnings = _map_meant(folder, document, beatmap)
    if meant.track_hash != beatmap.track_hash and (folder / CUTS).is_dir():
        # A change of the cut that was broken off between the two files: it has not happened.
        beatmap, warnings = meant, (*warnings, _BROKEN_OFF)
    routine = _on_map(read_routine(document, folder, meant, load_catalogue()), meant, beatmap)
    odd = (*told, *warnings, *_missing(folder, routine), *_too_long(routine, beatmap))
    return OpenedFolder(folder, routine, beatmap, odd)


def _was_never_mapped(folder: Path) -> bool:
    """Whether comparison rounds are all there is so far: no song, or none that has a map yet."""
    if (folder / BEATS).exists() or list_versions(folder, BEATS):
        return False
    try:
        data = load_yaml(folder / ROUTINE).data
    except (UserError, OSError):
        return False
    if not isinstance(data, dict) or data.get("beats"):
        return False
    return not data.get("track") or not (data.get("poses") or data.get("sections"))


def _no_map(folder: Path) -> tuple[BeatMap, tuple[str, ...]]:
    return BeatMap("", 0.0), ()


def _too_long(routine: Routine, beatmap: BeatMap) -> Iterator[str]:
    """A stage part of a longer song that is not mapped yet, or written too long by hand."""
    stage, last = routine.stage, beatmap.duration
    if stage is not None and 0 < last < stage.end - _SLACK:
        yield (
            _(
                "The stage part ends at {end:.2f} s, the mapped music at {last:.2f} s –"
                " map the song, or set the end, on the Music page.",
                end=stage.end,
                last=last,
            )
        )


def good_save(folder: Path) -> Version | None:
    """The newest earlier save that opens, for a folder whose `routine.yaml` does not.

    None where there is none, or where nothing may be put in the place of what is there: a file
    of a newer version, and a beat map that is itself at fault.
    """
    try:
        beatmap, _unused = _map_of(folder)
        if _is_newer(folder / ROUTINE):
            return None
        versions = list_versions(folder)
    except (UserError, OSError):
        return None
    for version in versions:
        try:
            read_save(load_yaml(version.path), folder, beatmap)
        except UserError:
            continue
        return version
    return None


def _is_newer(path: Path) -> bool:
    try:
        data = load_yaml(path).data
    except UserError:
        return False
    made = data.get("format") if isinstance(data, dict) else None
    return isinstance(made, int) and made > FORMAT


def read_save(document: Document, folder: Path, beatmap: BeatMap) -> tuple[Routine, BeatMap]:
    """An earlier save of the routine, and the map its counts mean now.

    That is the map of today, for which its counts are rewritten; of a save on other music, such as
    another cut of the song, its own map.

    Args:
        document: the save. folder: the routine's folder. beatmap: the map of today.

    Raises:
        UserErrors: all that is wrong with it.
    """
    meant, _unused = _map_meant(folder, document, beatmap)
    routine = read_routine(document, folder, meant, load_catalogue())
    if meant.track_hash != beatmap.track_hash:
        return routine, meant
    return _on_map(routine, meant, beatmap), beatmap


def _on_map(routine: Routine, meant: BeatMap, beatmap: BeatMap) -> Routine:
    return routine if meant is beatmap else remap(routine, meant, beatmap)


def save_folder(folder: Path, routine: Routine, beatmap: BeatMap) -> None:
    """Write routine and map of a folder that is new, or is known to be there.

    Args:
        folder: the routine's folder, made when missing.

    Raises:
        UserError: as `save_changes`.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise user_error_of(error, folder) from error
    save_changes(folder, routine, beatmap, map_too=True)


def save_routine(folder: Path, routine: Routine, beatmap: BeatMap | None = None) -> None:
    """Write `routine.yaml` alone; as `save_changes`."""
    save_changes(folder, routine, beatmap, map_too=False)


def save_changes(folder: Path, routine: Routine, beatmap: BeatMap | None, *, map_too: bool) -> None:
    """Write what changed, keeping the save before it in `versions/`.

    The folder is never made: one that is gone lies on a stick that was pulled out, or under
    another name. The map goes first: a routine that names another map than it finds is put
    right on opening with the map kept in `versions/`, so that no crash can part the two.

    Args:
        folder: the routine's folder.
        routine: what to write.
        beatmap: the map its counts mean, so that the two can be told to belong together.
        map_too: whether the map is another one than that in `beats.yaml`.

    Raises:
        UserError: the folder is gone or cannot be written, or the disk is full; the old file is
            whole.
    """
    if not folder.is_dir():
        do = _("plug its drive in, or put it back where it was")
        raise UserError(_("the routine's folder is not there any more"), where=folder, do=do)
    if beatmap is not None and not beatmap.duration:
        beatmap = None  # a folder of rounds alone has no map
    if map_too and beatmap is not None:
        save_map(folder / BEATS, beatmap, versions=folder / FOLDER)
    data = dump_yaml(routine_data(routine, fingerprint(beatmap) if beatmap else ""))
    save_atomic(folder / ROUTINE, data, versions=folder / FOLDER)


def find_folder(path: Path) -> Path:
    """The routine folder that `path` names: itself, or the one its `routine.yaml` lies in.

    Raises:
        UserError: there is none.
    """
    folder = path.parent if path.name == ROUTINE and path.is_file() else path
    if folder.is_file():
        do = _("choose the folder it is in")
        if is_zip(folder):
            do = _("unpack it, or open it in the window with Open a zipped routine")
        raise UserError(_("is a file, not a routine's folder"), where=path, do=do)
    if not folder.is_dir():
        raise UserError(_("there is no such folder"), where=path, do=_("check the name"))
    if not (folder / ROUTINE).exists() and not list_versions(folder):
        raise UserError(
            _("has no {routine} in it", routine=ROUTINE),
            where=folder,
            do=_("choose the routine's own folder"),
        )
    return folder


def is_zip(path: Path) -> bool:
    """Whether `path` is a file that may be the zip of a routine folder, by its name."""
    return path.suffix.lower() == ".zip" and path.is_file()


def _noting(errors: list[UserError], function: Callable[..., T], *args: Any) -> T | None:
    try:
        return function(*args)
    except UserError as error:
        errors += error.errors if isinstance(error, UserErrors) else (error,)
        return None


def _noted(function: Callable[..., Any], *args: Any) -> UserError | None:
    try:
        function(*args)
    except UserError as error:
        return error
    return None


def _links_out(folder: Path) -> list[UserError]:
    errors = []
    for name in _OWN_FILES:
        try:
            inside(folder, name)
        except ValueError as error:
            what, do = halves(error)
            errors.append(UserError(what, where=folder, do=do))
    return errors


def _document_of(folder: Path) -> Document:
    """The routine's document; where the file is gone or empty the fault names the last save."""
    path = folder / ROUTINE
    if _has_content(path) or not (versions := list_versions(folder)):
        return load_yaml(path)
    raise UserError(
        _("is empty") if path.exists() else _("is missing"),
        where=path.name,
        do=_(
            "the window offers the save kept until {when_of}: rehearse open",
            when_of=when_of(versions[0]),
        ),
    )


def _has_content(path: Path) -> bool:
    """False too for the empty file that a full disk or a power cut can leave."""
    return path.exists() and not (path.is_file() and path.stat().st_size == 0)


def _map_of(folder: Path) -> tuple[BeatMap, tuple[str, ...]]:
    """The folder's map; where the file is gone or empty its latest save, and a warning."""
    there = (folder / BEATS).exists()
    if _has_content(folder / BEATS):
        return load_map(folder / BEATS), ()
    for version in list_versions(folder, BEATS):
        try:
            found = load_map(version.path)
        except UserError:
            continue
        what = _("{beats} is {value}", beats=BEATS, value=_("empty") if there else _("missing"))
        return found, (
            _(
                "{what} – the beat map kept until {when_of} is used.",
                what=what,
                when_of=when_of(version),
            ),
        )
    if there:
        return load_map(folder / BEATS), ()
    raise UserError(
        _("has no {beats} in it, the beat map that its counts are told by", beats=BEATS),
        where=folder,
        do=_("copy it there from where the folder came from"),
    )


def _map_meant(
    folder: Path, document: Document, beatmap: BeatMap
) -> tuple[BeatMap, tuple[str, ...]]:
    """The map the routine's counts were written for, and a warning when it is lost."""
    name = document.data.get("beats") if isinstance(document.data, dict) else None
    if not name or name == fingerprint(beatmap):
        return beatmap, ()
    for version in list_versions(folder, BEATS):
        if _name_of(version.path) == name:
            return load_map(version.path), ()
    return beatmap, (
        _(
            "{beats} has changed since the poses were written – look whether they "
            "are where you want them.",
            beats=BEATS,
        ),
    )


@lru_cache(maxsize=512)
def _name_of(path: Path) -> str:
    """The fingerprint of a map in `versions/`, which nothing is written over; empty: unreadable."""
    try:
        return fingerprint(load_map(path))
    except UserError:
        return ""


def _missing(folder: Path, routine: Routine) -> list[str]:
    warnings = []
    if routine.track and not (folder / routine.track).is_file():
        warnings.append(
            _("The song {track} is not in the folder – copy it there.", track=routine.track)
        )
    for picture, name in routine.pictures:
        if not (folder / picture).exists():
            warnings.append(
                _(
                    "The picture {picture} of {name} is not in the folder.",
                    picture=picture,
                    name=name,
                )
            )
        else:
            from rehearse.routine.photos import check_picture

            if error := _noted(check_picture, path_inside(folder, picture)):
                warnings.append(error.sentence)
    return warnings
