"""What a phone's pictures lag behind its sound, by one clap of hands that is seen and heard.

A picture in which the hands have met says that they met since the picture before: that is as
exact as a clap can be read, half a picture either way.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from rehearse.files.user_error import UserError
from rehearse.film.clap_search import hands_heard
from rehearse.film.offsets import EXPOSURE
from rehearse.film.proxy import FilmFrames
from rehearse.film.sound import film_sound
from rehearse.film.take import SKEW, said_of
from rehearse.practice.takelog import PoseRead, TakeDone
from rehearse.words import _
from rehearse.work.progress import Report

#: Seconds that a clap takes to the phone: four metres (as the guidance has it) at 343 m/s.
WAY = 4.0 / 343.0
#: Seconds by which the way may be another one: a metre and a half.
_WAY_OFF = 1.5 / 343.0
#: Seconds that readings differ by rounding.
_SAME = 1e-6


def read_skew(film: Path, sound: Path, seen: float, report: Report) -> tuple[float | None, float]:
    """What a clap shows, as `skew_of`, and the seconds from its picture to the one before.

    Args:
        film, sound: as they are kept. seen: as for `skew_of`.

    Raises:
        UserError: no clap is heard there, or the files are damaged.
    """
    heard = hands_heard(film_sound(sound, report)[0], seen)
    if heard is None:
        do = _("go to the picture in which the hands meet")
        raise UserError(_("no clap is heard near this picture"), do=do)
    frames = FilmFrames(film)
    try:
        frame = seen - frames.beside(seen, -1)
    finally:
        frames.close()
    return skew_of(seen, heard, frame), frame


def skew_of(seen: float, heard: float, frame: float) -> float | None:
    """Seconds that pictures come late against the sound; None: none that a clap can show.

    Args:
        seen: second of the first picture in which the hands have met. heard: at which the clap is
            heard. frame: seconds from a picture to the next.
    """
    skew = seen - frame / 2 + EXPOSURE - (heard - WAY)
    return skew if abs(skew) > doubt_of(frame) else None


def doubt_of(frame: float) -> float:
    """Seconds by which a skew read from a clap may be off."""
    return frame / 2 + _WAY_OFF


def without_skew(take: TakeDone, skew: float, frame: float) -> TakeDone:
    """The take as it would have been read had sound and pictures of the phone been together."""
    return replace(take, poses=tuple(_moved(read, skew, frame) for read in take.poses))


def _moved(read: PoseRead, skew: float, frame: float) -> PoseRead:
    if read.late is None or read.doubt is None or read.arrived is None:
        return read
    raw = read.arrived - read.film
    before = SKEW if abs(read.late - raw) < _SAME else doubt_of(frame)  # a clap was read already
    late, doubt = raw - skew, read.doubt - before + doubt_of(frame)
    return replace(read, late=late, doubt=doubt, said=said_of(late, doubt))
