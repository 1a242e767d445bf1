"""The zip for the coach: the routine folder as it is, opened elsewhere without a word."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import tempfile
import time
import zipfile
from contextlib import closing
from pathlib import Path

from rehearse.files.atomic import user_error_of, written_aside
from rehearse.files.inside import inside, safe_name
from rehearse.files.user_error import UserError
from rehearse.handout.handout_source import HandoutSource
from rehearse.practice.database import open_for_reading
from rehearse.routine.remarks import FILE_NAME as REMARKS
from rehearse.routine.versions import keep_copied
from rehearse.routine.zip_import import bundle_name
from rehearse.words import _
from rehearse.work.progress import Report

_PACKED = {".mp3", ".m4a", ".ogg", ".flac", ".jpg", ".jpeg", ".png", ".webp", ".opus"}
#: Bytes packed at a time.
_BLOCK = 1 << 20
_LOG, _CHECKS = "practice.sqlite", "checks.yaml"
_FOLDERS = ("pictures", "voice", "rules")


def bundle_files(source: HandoutSource, *, music: bool, log: bool) -> list[Path]:
    """What goes into the zip, relative to the routine's folder, in the order it is written."""
    folder = source.folder
    names = [Path("routine.yaml")]
    if source.routine.track:  # rounds alone have no map either
        names.append(Path("beats.yaml"))
    found = [
        folder / _CHECKS,
        folder / REMARKS,
        *(folder / picture for picture, _unused in source.routine.pictures),
    ]
    for room in _FOLDERS:
        found += sorted((folder / room).rglob("*"))
    names += [p.relative_to(folder) for p in found if _is_own(folder, p)]
    # Where the folder cannot be written its earlier saves must do when the copy comes back.
    with contextlib.suppress(UserError):
        names += [v.path.relative_to(folder) for v in keep_copied(folder)]
    cut = source.routine.cut
    # The cut can be changed there too: that takes the song and its map.
    made_of: tuple[str, ...] = (
        () if cut is None else (cut.beats, cut.song) if music else (cut.beats,)
    )
    if cut is not None and music:
        made_of += tuple(song.song for song in cut.songs[:1])  # to go back to it alone
    names += [Path(name) for name in made_of if _is_own(folder, folder / name)]
    if music and source.routine.track:
        names.append(Path(source.routine.track))
    if log and (folder / _LOG).is_file():
        names.append(Path(_LOG))
    return list(dict.fromkeys(names))


def missing_pictures(source: HandoutSource) -> tuple[str, ...]:
    """A sentence for each own picture that the routine names and its folder lacks."""
    named = dict.fromkeys(picture for picture, _unused in source.routine.pictures)
    lost = [name for name in named if not _is_own(source.folder, source.folder / name)]
    return tuple(
        _("The picture {name} is not in the folder, and so not in the zip.", name=name)
        for name in lost
    )


def _is_own(folder: Path, path: Path) -> bool:
    real = path.resolve()
    hidden = path.name.startswith(".")
    return path.is_file() and not hidden and real.is_relative_to(folder.resolve())


def write_bundle(
    source: HandoutSource, path: Path, *, music: bool, log: bool, report: Report | None = None
) -> None:
    """Write the zip; in it one folder, named as the zip where it can be, which opens as it is.

    Raises:
        UserError: a file of the routine cannot be read, or the zip not be written.
    """
    names = bundle_files(source, music=music, log=log)
    root = safe_name(bundle_name(path)) or "routine"
    try:
        with (
            written_aside(path) as part,
            zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive,
        ):
            for k, name in enumerate(names):
                if report:
                    report(k / len(names), _("packing {name}", name=name.name))
                _pack(archive, source.folder, name, f"{root}/{name.as_posix()}")
    except OSError as error:
        raise user_error_of(error, path) from error


def _pack(archive: zipfile.ZipFile, folder: Path, name: Path, as_name: str) -> None:
    """Add one file of the routine; a song goes through in blocks and is never held whole."""
    packed = name.suffix.lower() in _PACKED
    method = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
    try:
        real = inside(folder, name.as_posix())
        if name.name == _LOG:
            archive.writestr(as_name, _log_copy(real), method)
            return
        source = real.open("rb")
    except ValueError as error:
        raise UserError(str(error), where="routine.yaml") from error
    except OSError as error:
        raise user_error_of(error, folder / name) from error
    # Not the file's own time: a zip knows no year before 1980.
    entry = zipfile.ZipInfo(as_name, time.localtime()[:6])
    entry.compress_type, entry.external_attr = method, 0o600 << 16
    with source, archive.open(entry, "w") as sink:
        shutil.copyfileobj(source, sink, _BLOCK)


def _log_copy(path: Path) -> bytes:
    """A whole copy of the logbook even while passes are being written to it."""
    with tempfile.TemporaryDirectory(prefix="rehearse-") as folder:
        copy = Path(folder) / _LOG
        try:
            with (
                closing(open_for_reading(path)) as source,
                closing(sqlite3.connect(copy)) as target,
            ):
                source.backup(target)
                target.execute("PRAGMA journal_mode=DELETE")
        except (sqlite3.Error, UserError) as error:
            raise UserError(
                _("the logbook cannot be read"), where=path.name, do=_("leave it out")
            ) from error
        return copy.read_bytes()
