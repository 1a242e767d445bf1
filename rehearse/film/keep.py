"""What is kept of a film in the routine's folder: `takes/<name>/` with the film for looking at,
a still of every hit and of every arrival, and, by choice, the film itself.

It is put together in a hidden folder and appears whole or not at all. Readings go into the
logbook; a film that is read again gets the same name, and replaces what was kept of it.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import numpy as np
import soundfile
from PIL import Image

from rehearse.files.atomic import appear, part_folder, user_error_of
from rehearse.files.inside import inside
from rehearse.files.media import FILM, open_media
from rehearse.files.user_error import UserError
from rehearse.film.body import Box
from rehearse.film.film_reading import FilmReading, FilmRequest, read_film
from rehearse.film.movement import frames_between
from rehearse.film.proxy import FilmFrames, ProxyWriter
from rehearse.film.sound import RATE, film_sound
from rehearse.words import _
from rehearse.work.progress import Report, between

FOLDER, PROXY, SOUND = "takes", "film.mp4", "sound.flac"
#: Pixels of a still's width.
_STILL = 640
#: Part of the athlete's height that is left round them on a still.
_ROOM = 0.12
#: Bytes from either end of a film that name it, besides its size.
_NAMED_BY = 1 << 20
#: Seconds kept before the first and after the last hit, and before the clap.
_AROUND, _BEFORE_CLAP = 4.0, 2.0


@dataclass(frozen=True)
class Kept:
    """A film as read and kept.

    Args:
        id: names the film whatever it is called. folder: what is kept of it, relative to the
            routine's folder; empty: nothing could be kept, and `told` says why.
    """

    id: str
    folder: str
    reading: FilmReading
    told: str = ""


def film_id(path: Path) -> str:
    """A name for a film's bytes: SHA-256 over its size and both ends, 16 hex digits.

    Raises:
        OSError: it cannot be read.
    """
    size = path.stat().st_size
    digest = hashlib.sha256(str(size).encode())
    with path.open("rb") as file:
        digest.update(file.read(_NAMED_BY))
        file.seek(max(0, size - _NAMED_BY))
        digest.update(file.read(_NAMED_BY))
    return digest.hexdigest()[:16]


def read_and_keep(
    film: Path, wanted: FilmRequest, routine: Path, copy: bool, report: Report
) -> Kept:
    """Read a film and keep in the routine's folder what is needed to look at it.

    A folder that cannot be written does not lose the reading.

    Args:
        routine: the routine's folder. copy: keep the film itself, too.

    Raises:
        UserError: as `read_film`.
    """
    reading = read_film(film, wanted, between(report, 0.0, 0.6))
    try:
        name = film_id(film)
    except OSError as error:  # such as a phone that was unplugged
        raise user_error_of(error, film) from error
    try:
        with _appearing(routine / FOLDER, name) as part:
            start = _begins(reading, wanted.clap)
            write_proxy(film, reading, part / PROXY, between(report, 0.6, 0.95), start=start)
            _keep_sound(film, part / SOUND, between(report, 0.95, 0.96))
            take_stills(part, reading, between(report, 0.96, 0.99))
            if copy:
                report(0.99, _("Copying the film"))
                shutil.copyfile(film, part / f"original{film.suffix.lower()}")
    except OSError as error:
        why = user_error_of(error, routine / FOLDER).what
        return Kept(name, "", reading, _("{why}: the film cannot be kept for looking at", why=why))
    return Kept(name, f"{FOLDER}/{name}", reading)


@contextlib.contextmanager
def _appearing(into: Path, name: str) -> Iterator[Path]:
    into.mkdir(exist_ok=True)
    part = part_folder(into, name)
    try:
        yield part
        if (into / name).exists():
            shutil.rmtree(into / name)
        appear(part, into / name)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _begins(reading: FilmReading, clap: float | None) -> float:
    """The film second from which it is kept: before the first hit, and the clap, is there one."""
    first = next(hit for hit in reading.hits if hit >= 0) - _AROUND
    if clap is not None and (clapped := reading.to_film(clap) - _BEFORE_CLAP) > -_BEFORE_CLAP:
        first = min(first, clapped)
    return max(0.0, first)


def _keep_sound(film: Path, path: Path, report: Report) -> None:
    """The film's sound at 8 kHz, its first sample at second 0 of the film."""
    sound, begins = film_sound(film, report)
    early = round(begins * RATE)
    kept = np.concatenate([np.zeros(max(0, early), np.float32), sound[max(0, -early) :]])
    packed = io.BytesIO()
    soundfile.write(packed, np.clip(kept, -1, 1), RATE, "PCM_16", format="FLAC")
    path.write_bytes(packed.getvalue())


def write_proxy(
    film: Path, reading: FilmReading, path: Path, report: Report, *, start: float
) -> None:
    """The film for looking at, from second `start` to a little after the last hit.

    Raises:
        OSError: it cannot be written. UserError: the film cannot be read.
    """
    end = reading.hits[-1] + _AROUND
    writer = ProxyWriter(path)
    try:
        with open_media(film, FILM) as media:
            for frame in frames_between(media, start, end):
                writer.add(frame)
                report((frame.time - start) / (end - start), _("Making the film small"))
        writer.close()
    except BaseException:
        with contextlib.suppress(Exception):
            writer.abandon()
        raise


def still_names(k: int) -> tuple[str, str]:
    """File names of the stills of pose `k` (from 0): at its hit, and at its arrival."""
    return f"{k + 1:03d} hit.jpg", f"{k + 1:03d} arrived.jpg"


def take_stills(part: Path, reading: FilmReading, report: Report) -> None:
    """A still of each hit and of each arrival, from the film kept in `part`.

    Raises:
        OSError: they cannot be written. UserError: the film cannot be read.
    """
    frames = FilmFrames(part / PROXY)
    try:
        for k, (hit, offset) in enumerate(zip(reading.hits, reading.offsets, strict=True)):
            report(k / len(reading.hits), _("Taking stills"))
            at_hit, arrived = still_names(k)
            _still(frames, hit, reading.box, part / at_hit)
            if offset.arrived is not None:
                _still(frames, offset.arrived, reading.box, part / arrived)
    finally:
        frames.close()


def _still(frames: FilmFrames, second: float, box: Box | None, path: Path) -> None:
    found = frames.at(second)
    if found is None or abs(found[0] - second) > 0.5:
        return
    picture = Image.fromarray(found[1])
    if box is not None:
        picture = picture.crop(_around(box, picture.width, picture.height))
    picture.thumbnail((_STILL, _STILL))
    picture.save(path, quality=85)


def _around(box: Box, width: int, height: int) -> tuple[int, int, int, int]:
    """The athlete with some room, in pixels; as wide as high at least, arms reach out."""
    left, top, right, bottom = box[0] * width, box[1] * height, box[2] * width, box[3] * height
    more = _ROOM * (bottom - top)
    wide = max(0.0, (bottom - top) - (right - left)) / 2 + more
    return (
        round(max(0.0, left - wide)),
        round(max(0.0, top - more)),
        round(min(float(width), right + wide)),
        round(min(float(height), bottom + more)),
    )


def kept_file(routine: Path, folder: str, name: str) -> Path | None:
    """A file of what is kept of a film; None where it is not kept.

    Args:
        folder: as the logbook has it. That may come from anyone: a name that leads anywhere but
            into a folder of `takes/`, by dots or through a link, keeps nothing.
    """
    try:
        path = inside(routine, f"{folder}/{name}")
    except ValueError:
        return None
    return path if _is_kept(routine, folder) and path.is_file() else None


def _is_kept(routine: Path, folder: str) -> bool:
    parts = PurePosixPath(folder).parts
    place = routine / folder
    return len(parts) == 2 and parts[0] == FOLDER and parts[1] != ".." and not place.is_symlink()


def delete_kept(routine: Path, folder: str) -> None:
    """Delete what is kept of a film; the readings stay in the logbook.

    Raises:
        UserError: it cannot be deleted, or is anything else than a folder of `takes/`.
    """
    place = routine / folder
    if not _is_kept(routine, folder):
        raise UserError(
            _("is no kept film"), where=folder, do=_("delete it by hand if you know it")
        )
    try:
        shutil.rmtree(place)
    except FileNotFoundError:
        return
    except OSError as error:
        raise user_error_of(error, place) from error
