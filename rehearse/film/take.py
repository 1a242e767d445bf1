"""A take: one filmed run of a routine, read, kept and written as the logbook has it.

Conventions: seconds; early and late are the film's, at the tempo the run was danced at.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rehearse.cueing.clap import clap_before
from rehearse.files.atomic import user_error_of
from rehearse.files.user_error import UserError
from rehearse.film.film_reading import TEMPOS, FilmRequest
from rehearse.film.keep import Kept, read_and_keep
from rehearse.film.offsets import Offset
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length
from rehearse.practice.takelog import PoseRead, Said, TakeDone
from rehearse.routine.folder import OpenedFolder
from rehearse.routine.model import Level, Placed, Routine
from rehearse.routine.poses import load_catalogue
from rehearse.words import _
from rehearse.work.pool import run_apart
from rehearse.work.progress import Report

#: Seconds by which a phone's sound and pictures may be apart (common practice, no source).
SKEW = 0.010
#: Seconds by which a hit that was set by hand may be off: a picture of a film of 30 a second.
BY_HAND = 0.033


@dataclass(frozen=True)
class Read:
    """A film that was read: as the logbook has it, and how it was done."""

    take: TakeDone
    kept: Kept


def wanted(opened: OpenedFolder, *, tempo: float | None = None, run: int = 1) -> FilmRequest:
    """What is to be read of a film of this routine.

    Args:
        tempo: it was danced at; None: tried out.

    Raises:
        UserError: the routine has no poses, or its song is missing.
    """
    routine, beatmap = opened.routine, opened.beatmap
    song = opened.folder / routine.track
    if not song.is_file():
        raise UserError(
            _("the song is missing"), where=routine.track, do=_("put it back into the folder")
        )
    if not routine.poses:
        raise UserError(_("the routine has no poses yet"), do=_("place them on the music first"))
    hits = tuple(beatmap.time_of(placed.hit) for placed in routine.poses)
    tempos = TEMPOS if tempo is None else (tempo,)
    start = routine.stage.start if routine.stage else 0.0
    clap = start - clap_before(beatmap, start)
    kneels = kneeling(routine)
    return FilmRequest(song, hits, tempos, run, clap=clap, kneels=kneels, mapped=beatmap.track_hash)


def kneeling(routine: Routine) -> tuple[bool, ...]:
    """For each pose of a routine whether the way into it goes down to the knees."""
    catalogue, low, before = load_catalogue().of(routine), [], Level.STANDING
    for placed in routine.poses:
        try:
            level = placed.level or catalogue.find(placed.pose).level
        except KeyError:  # the checks name it
            level = before
        low.append(level is Level.KNEELING and before is not Level.KNEELING)
        before = level
    return tuple(low)


def read_take(
    film: Path, opened: OpenedFolder, asked: FilmRequest, report: Report, *, copy: bool = False
) -> Read:
    """Read a film of a routine and keep it, in a process of its own that can be ended.

    Raises:
        UserError: as `read_film`.
    """
    asks = (film, asked, opened.folder, copy)
    return take_of(film, opened, run_apart(read_and_keep, *asks, where=film.name, report=report))


def take_of(film: Path, opened: OpenedFolder, kept: Kept, *, apart: float | None = None) -> Read:
    """The take that a reading of this film is.

    Args:
        apart: seconds by which sound and pictures may be apart; None: as in a phone's film.

    Raises:
        UserError: the film is gone.
    """
    reading = kept.reading
    if apart is None:
        apart = BY_HAND if reading.alignment.by == "hand" else SKEW
    poses = tuple(
        _read(placed, opened.beatmap, film_second, offset, reading.tempo, apart)
        for placed, film_second, offset in zip(
            opened.routine.poses, reading.hits, reading.offsets, strict=True
        )
    )
    try:
        filmed = datetime.fromtimestamp(film.stat().st_mtime).astimezone()
    except OSError as error:
        raise user_error_of(error, film) from error
    place = reading.to_music(0.0), reading.to_music(1.0) - reading.to_music(0.0)
    take = TakeDone(
        kept.id, film.name, kept.folder, filmed, reading.tempo, *place, reading.refused, poses
    )
    return Read(take, kept)


def _read(
    placed: Placed, beatmap: BeatMap, film_second: float, offset: Offset, tempo: float, apart: float
) -> PoseRead:
    second = beatmap.time_of(placed.hit)
    try:
        counted = (beatmap.shift(second, Length(1)) - second) / tempo
    except KeyError:
        counted = 0.0
    late, told = offset.early_or_late, None
    if offset.doubt is not None:
        told = 2 * offset.doubt + apart
    return PoseRead(
        placed.id, placed.pose, second, film_second, _said(offset, told), late, told,
        offset.took, counted, offset.why or "", offset.arrived,
    )  # fmt: skip


def _said(offset: Offset, told: float | None) -> Said:
    if offset.why is not None:
        return "unread"
    if offset.slow or offset.early_or_late is None or told is None:
        return "slow"
    return said_of(offset.early_or_late, told)


def said_of(late: float, doubt: float) -> Said:
    """What is said of a reading, seconds late with its doubt: on the hit where that allows it."""
    if abs(late) <= doubt:
        return "on"
    return "late" if late > 0 else "early"
