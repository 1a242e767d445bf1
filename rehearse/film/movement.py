"""The pictures of a film between two moments, small and grey, and what moved in them.

Conventions: film time is the container's, in seconds; a picture's time is its time stamp, which
phones set to the start of its exposure.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.files.media import FILM, Media, open_media
from rehearse.files.user_error import UserError
from rehearse.film.optical_flow import Pairs
from rehearse.film.points import SIDE as POINTS_SIDE
from rehearse.film.points import Album
from rehearse.words import _
from rehearse.work.progress import Report

#: Pixels of the long side of the pictures that are compared; half of it of those that are kept.
SIDE = 240
#: Pictures a second and pixels of one above which every second picture is left out, where the
#: code allows it.
_FAST, _LARGE = 45.0, 2_500_000
#: Pictures that are looked at, at most: five minutes at 60 a second.
_MOST = 20_000
#: Seconds before the wanted part that a jump into the film aims for.
_BEFORE = 0.5

Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Motion:
    """What moved in a film.

    Args:
        times: film seconds of the pictures, shape (n,), rising.
        fine, coarse, flow: change in grey steps, in fine and coarse detail, and pixels moved
            between a picture and the next in each cell, shape (n - 1, rows, columns).
        shifts: pixels the camera moved from a picture to the next, shape (n - 1, 2).
        pictures: the pictures at half of `SIDE`, uint8, shape (n, height, width).
        album: the pictures to follow points in; None: without the extra `film`.
    """

    times: npt.NDArray[np.float64]
    fine: Floats
    coarse: Floats
    flow: Floats
    shifts: Floats
    pictures: npt.NDArray[np.uint8]
    album: Album | None = None


def watch(
    path: Path, start: float, end: float, report: Report, album: Album | None = None
) -> Motion:
    """Read the pictures of a film from second `start` to `end`.

    Args:
        album: gets the pictures to follow points in.

    Raises:
        UserError: no pictures there, too many, or as `open_media`.
    """
    times: list[float] = []
    rows: list[tuple[Floats, Floats, Floats, tuple[float, float]]] = []
    kept: list[npt.NDArray[np.uint8]] = []
    pairs: Pairs | None = None
    with open_media(path, FILM) as film:
        for frame in frames_between(film, start, end):
            time, picture = frame.time, _grey(frame, SIDE)
            if times and time <= times[-1]:
                continue
            if album is not None:
                album.add(_grey(frame, POINTS_SIDE))
            if pairs is not None and picture.shape != pairs.shape:
                what = _("changes the size of its pictures")
                raise UserError(what, where=path.name, do=_("film it again"))
            pairs = pairs or Pairs(picture.shape)
            moved = pairs.add(picture.astype(np.float32))
            if moved is not None:
                rows.append(moved)
            times.append(time)
            kept.append(_half(picture))
            if len(times) > _MOST:
                what = _("has too many pictures")
                raise UserError(what, where=path.name, do=_("film at 30 or 60 pictures a second"))
            report((time - start) / max(end - start, 1e-3), _("Watching the film"))
    if len(rows) < 2:
        what = _("has no pictures where the routine is danced")
        raise UserError(what, where=path.name, do=_("copy it again from the phone"))
    fine, coarse, flow, shifts = (np.array(part, np.float32) for part in zip(*rows, strict=True))
    return Motion(np.array(times), fine, coarse, flow, shifts, np.array(kept), album)


def _grey(frame: Any, side: int) -> npt.NDArray[np.uint8]:
    """A frame in grey, its long side of about so many pixels, turned as it is looked at."""
    scale = side / max(frame.width, frame.height)
    width, height = (max(16, 2 * round(x * scale / 2)) for x in (frame.width, frame.height))
    grey = frame.reformat(width, height, "gray", interpolation="AREA").to_ndarray()
    return np.ascontiguousarray(np.rot90(grey, frame.rotation // 90 % 4))


def frames_between(film: Media, start: float, end: float, *, every: bool = False) -> Iterator[Any]:
    """Frames of a film's pictures with time stamps from `start` to `end`, in their order.

    Args:
        every: also of a film that is so fast and large that every second one would do.

    Raises:
        UserError: it has no pictures.
    """
    stream = film.picture
    if stream is None:
        raise UserError(_("has no pictures"), where=film.path.name, do=_("choose the film itself"))
    stream.thread_type = "AUTO"
    stream.codec_context.thread_count = 2
    rate = float(stream.average_rate or 0)
    if not every and rate > _FAST and stream.width * stream.height > _LARGE:
        stream.codec_context.skip_frame = "NONREF"
    if start > 2 * _BEFORE:
        film.container.seek(round((start - _BEFORE) / float(stream.time_base or 1)), stream=stream)
    for _unused, frames in film.decoded(stream):
        for frame in frames:
            if frame.pts is None or frame.time < start:
                continue
            if frame.time > end:
                return
            yield frame


def _half(picture: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    height, width = picture.shape[0] // 2 * 2, picture.shape[1] // 2 * 2
    rows = picture[0:height:2].astype(np.uint16) + picture[1:height:2]
    half: npt.NDArray[np.uint8] = ((rows[:, 0:width:2] + rows[:, 1:width:2]) // 4).astype(np.uint8)
    return half
