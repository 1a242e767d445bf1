"""The reading of what the own camera filmed: a pass, its poses, early or late at each.

`finish` made a kept film of it; here it is read like any other, laid on the music by `known_clock`.
Run it in a worker process.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from rehearse.film.film_reading import FilmRequest, read_film
from rehearse.film.keep import PROXY, SOUND, Kept, take_stills
from rehearse.film.known_clock import CLOCK_ALONE, WITH_SOUND, KnownPlace
from rehearse.film.take import Read, take_of, wanted
from rehearse.routine.folder import OpenedFolder
from rehearse.routine.model import Placed
from rehearse.work.progress import Report, between

#: Seconds at the end of a pass in which a hit is none of it: nobody holds it any more.
_LAST = 0.3


def poses_in(opened: OpenedFolder, start: float, end: float) -> tuple[Placed, ...]:
    """The poses hit in a stretch of the track, seconds, in their order."""
    hits = ((placed, opened.beatmap.time_of(placed.hit)) for placed in opened.routine.poses)
    return tuple(placed for placed, hit in hits if start <= hit <= end - _LAST)


def of_pass(opened: OpenedFolder, known: KnownPlace) -> OpenedFolder:
    """The routine with no poses but those of the pass."""
    poses = poses_in(opened, known.start, known.end)
    return replace(opened, routine=replace(opened.routine, poses=poses))


def request(opened: OpenedFolder, known: KnownPlace, folder: str) -> FilmRequest:
    """What is to be read of a pass.

    Args:
        opened: as `of_pass` has it. folder: what is kept of the film, relative to the routine's.

    Raises:
        UserError: as `wanted`.
    """
    sound = opened.folder / folder / SOUND
    known = replace(known, sound=sound if sound.is_file() else None)
    return replace(wanted(opened, tempo=known.tempo), clap=None, clock=known)


def read_own_film(routine: Path, folder: str, asked: FilmRequest, report: Report) -> Kept:
    """Read a finished recording and take its stills.

    Raises:
        UserError: as `read_film`.
    """
    film = routine / folder / PROXY
    reading = read_film(film, asked, between(report, 0.0, 0.95))
    try:
        take_stills(routine / folder, reading, between(report, 0.95, 1.0))
        told = ""
    except OSError as error:  # the readings are there
        told = error.strerror or ""
    return Kept(film.parent.name, folder, reading, told)


def own_take(opened: OpenedFolder, kept: Kept) -> Read:
    """The take that a reading of the own camera's film is.

    Args:
        opened: as `of_pass` has it.

    Raises:
        UserError: the film is gone.
    """
    apart = CLOCK_ALONE if kept.reading.alignment.by == "clock" else WITH_SOUND
    film = opened.folder / kept.folder / PROXY
    read = take_of(film, opened, kept, apart=apart)
    name = f"camera {read.take.filmed:%Y-%m-%d %H.%M}"
    return replace(read, take=replace(read.take, film=name))
