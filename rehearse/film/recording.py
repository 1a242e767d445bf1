"""One recording of the own camera: a hidden folder of `takes/` that becomes a kept film.

What is filmed is written in pieces that can each be read alone; at the end they are copied into an
ordinary film. Where the process that films dies, whoever finds the folder does that.
"""

from __future__ import annotations

import contextlib
import io
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from rehearse.files.atomic import appear, part_folder, user_error_of
from rehearse.files.user_error import UserError
from rehearse.film.keep import FOLDER, PROXY, SOUND, delete_kept, film_id
from rehearse.film.proxy import ProxyWriter, copy_whole
from rehearse.film.sound import RATE, Sound
from rehearse.words import _
from rehearse.work.progress import Report

#: The film while it is made; the file that says that the own camera made it, and how recordings
#: are called until they are whole.
_PIECES, MARK, _PART = "pieces.mp4", "camera.txt", "camera"
#: Bytes that stay free on the disk; seconds that a recording lasts at most.
ROOM, LONGEST = 300_000_000, 900.0
#: Pictures between two looks at the free space.
_LOOK = 60
#: Hours after which a recording that nobody finished is a leftover.
_LEFT = 24


class Recording:
    """Films into a routine's folder.

    Args:
        routine: the routine's folder.

    Raises:
        UserError: there is no room, or the folder cannot be written.
    """

    def __init__(self, routine: Path) -> None:
        takes = routine / FOLDER
        try:
            takes.mkdir(exist_ok=True)
            _check_room(takes)
            self.part = part_folder(takes, _PART)
        except OSError as error:
            raise user_error_of(error, takes) from error
        self._writer = ProxyWriter(self.part / _PIECES, live=True)
        self.zero: float | None = None  # second of the clock at which the film begins
        self._last, self._count = 0.0, 0

    def add(self, taken: float, frame: Any) -> None:
        """The next picture, taken at this second of the clock.

        Raises:
            UserError: the disk is full, or it lasts too long.
        """
        self.zero = taken if self.zero is None else self.zero
        self._count += 1
        if self._count % _LOOK == 0:
            _check_room(self.part)
        if taken - self.zero > LONGEST:
            do = _("film a shorter stretch")
            raise UserError(_("the camera has filmed for a quarter of an hour"), do=do)
        try:
            self._writer.add(frame, at=taken - self.zero)
        except OSError as error:
            raise user_error_of(error, self.part.parent) from error

    def keep(self, heard: tuple[Sound, float] | None) -> Path:
        """Close it; what was heard beside it is kept, too. Returns the hidden folder.

        Raises:
            UserError: it cannot be written.
        """
        try:
            self._writer.close()
            if heard is not None and self.zero is not None and len(heard[0]):
                _write_sound(self.part / SOUND, *heard, self.zero)
        except OSError as error:
            raise user_error_of(error, self.part.parent) from error
        return self.part

    def drop(self) -> None:
        """Nothing of it is kept."""
        with contextlib.suppress(Exception):
            self._writer.abandon()
        shutil.rmtree(self.part, ignore_errors=True)


def drop_of(routine: Path, pid: int) -> None:
    """Delete what the process of this number, which is gone, was filming."""
    for part in (routine / FOLDER).glob(f".{_PART}.{pid}-*.part"):
        shutil.rmtree(part, ignore_errors=True)


def _check_room(folder: Path) -> None:
    if shutil.disk_usage(folder).free < ROOM:
        do = _("free some space; the music goes on")
        raise UserError(_("the disk is too full for a film"), do=do)


def _write_sound(path: Path, sound: Sound, begins: float, zero: float) -> None:
    early = round((begins - zero) * RATE)
    kept = np.concatenate([np.zeros(max(0, early), np.float32), sound[max(0, -early) :]])
    packed = io.BytesIO()
    soundfile.write(packed, np.clip(kept, -1, 1), RATE, "PCM_16", format="FLAC")
    path.write_bytes(packed.getvalue())


def finish(part: Path, now: datetime, report: Report = lambda _done, _words: None) -> str:
    """Make a kept film of a recording that has ended, in whatever way.

    Args:
        part: its hidden folder. now: when it was filmed, aware.

    Returns:
        The film's folder, relative to the routine's.

    Raises:
        UserError: nothing can be read of it, or it cannot be written; the recording is gone then.
    """
    try:
        film = part / PROXY
        copy_whole(part / _PIECES, film)
        (part / _PIECES).unlink()
        (part / MARK).write_text(now.isoformat(timespec="seconds") + "\n", encoding="utf-8")
        name = film_id(film)
        shutil.rmtree(part.parent / name, ignore_errors=True)  # the same film, to the byte
        appear(part, part.parent / name)
    except OSError as error:
        shutil.rmtree(part, ignore_errors=True)
        raise user_error_of(error, part.parent) from error
    except UserError:
        shutil.rmtree(part, ignore_errors=True)
        raise
    return f"{FOLDER}/{name}"


def delete_old(
    routine: Path, days: int, now: datetime, report: Report = lambda _done, _words: None
) -> int:
    """Delete the films of the own camera that are older than `days`; readings stay. How many were.

    A film without the mark – one that was dropped on the window – is never touched.
    """
    takes, deleted = routine / FOLDER, 0
    if not takes.is_dir() or takes.is_symlink():
        return 0
    for part in takes.glob(f".{_PART}.*.part"):
        with contextlib.suppress(OSError):
            changed = datetime.fromtimestamp(part.stat().st_mtime, now.tzinfo)
            if now - changed > timedelta(hours=_LEFT):
                shutil.rmtree(part, ignore_errors=True)
    for mark in takes.glob(f"*/{MARK}"):
        try:
            filmed = datetime.fromisoformat(mark.read_text(encoding="utf-8").strip())
            age = now - filmed
        except (OSError, ValueError, TypeError):
            continue  # somebody else's: nothing is deleted that does not say how old it is
        if age > timedelta(days=days):
            with contextlib.suppress(UserError):
                delete_kept(routine, f"{FOLDER}/{mark.parent.name}")
                deleted += 1
    return deleted
