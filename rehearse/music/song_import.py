"""Bringing a song into a routine's folder: read first, then copied, and nothing is written over."""

from __future__ import annotations

import filecmp
import re
from pathlib import Path

from rehearse.files.atomic import user_error_of, written_aside
from rehearse.music.track import Track
from rehearse.words import _
from rehearse.work.progress import Report

#: What no file system takes in a name.
UNSAFE = re.compile(r'[/\\:*?"<>|\x00-\x1f\x7f]+')
#: Names in a routine's folder that are taken, whatever song comes.
_TAKEN = (
    *("routine.yaml", "beats.yaml", "checks.yaml", "practice.sqlite"),
    *("versions", "pictures", "rules", "voice", "cut"),
)
#: Bytes of a song's name and of its ending that are kept: file systems take 255.
_LONGEST, _LONGEST_ENDING = 200, 20
#: Bytes copied between two chances to stop.
_CHUNK = 1 << 22


def song_name(song: Path, number: int = 1) -> str:
    """What a song is called in a routine's folder; from `number` 2 on it is added.

    No name of the routine's own files, none that is hidden, unreadable elsewhere or too long.
    """
    stem = _readable(song.stem, _LONGEST).lstrip(".").strip() or "song"
    ending = _readable(song.suffix, _LONGEST_ENDING)
    if f"{stem}{ending}".casefold() in _TAKEN:
        stem = f"song {stem}"
    return f"{stem}{ending}" if number < 2 else f"{stem} {number}{ending}"


def _readable(text: str, longest: int) -> str:
    whole = UNSAFE.sub(" ", text.encode("utf-8", "replace").decode())
    return whole.encode()[:longest].decode("utf-8", "ignore")


def import_song(song: Path, folder: Path, report: Report) -> tuple[str, Track]:
    """Decode `song` and put a copy of it into `folder`, unless it is there already.

    Args:
        report: told how far it is; may raise to stop, then nothing is left behind.

    Returns:
        The name of the song's file in `folder`, and the track.

    Raises:
        UserError: it is no song (see `load_track`), or the copy cannot be written.
    """
    from rehearse.music.decode import load_track  # NumPy is not needed when the window opens

    track = load_track(song, report)
    name, number = song_name(song), 2
    try:
        while (target := folder / name).exists():
            if filecmp.cmp(song, target, shallow=False):
                return name, track
            name = song_name(song, number)
            number += 1
        _copy(song, target, report)
    except OSError as error:
        raise user_error_of(error, Path(error.filename or folder)) from error
    return name, track


def _copy(song: Path, target: Path, report: Report) -> None:
    """Whole or not at all."""
    with (
        written_aside(target) as scratch,
        song.open("rb") as source,
        scratch.open("wb") as copy,
    ):
        while chunk := source.read(_CHUNK):
            copy.write(chunk)
            report(1.0, _("Copying the song"))
