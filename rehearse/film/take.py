"""A take: one filmed run of a routine, its readings laid on the poses.

Conventions: seconds; `early_or_late` is the film's, at the tempo the run was danced at.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rehearse.files.user_error import UserError
from rehearse.film.offsets import Offset
from rehearse.film.reading import TEMPOS, Reading, Wanted, read_film
from rehearse.film.sound import Report
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length
from rehearse.routine.folder import OpenedFolder
from rehearse.routine.model import Placed
from rehearse.work import child
from rehearse.work.pool import Workers

#: Seconds by which a phone's sound and pictures may be apart (common practice, no source); a clap
#: that is heard and seen takes it out.
SKEW = 0.010


@dataclass(frozen=True)
class Hit:
    """One pose of a take.

    Args:
        pose_id, name, place: of the routine. second: of the music. film: second of the hit there.
        count: seconds that a count lasts there at the take's tempo; 0 in free time.
        offset: what was read.
    """

    pose_id: str
    name: str
    place: str
    second: float
    film: float
    count: float
    offset: Offset

    @property
    def told(self) -> float | None:
        """Seconds of doubt that are told beside the reading; None where there is none."""
        return None if self.offset.doubt is None else 2 * self.offset.doubt + SKEW

    @property
    def is_late(self) -> bool:
        """Whether it was late by more than its doubt."""
        return self._clear > 0

    @property
    def is_early(self) -> bool:
        """Whether it was early by more than its doubt."""
        return self._clear < 0

    @property
    def _clear(self) -> float:
        late = self.offset.early_or_late
        return late if late is not None and abs(late) > (self.told or 0.0) else 0.0


@dataclass(frozen=True)
class Take:
    """A filmed run.

    Args:
        film: the file. filmed: when, by the file's own time. reading: the whole.
        hits: the poses in their order.
    """

    film: Path
    filmed: datetime
    reading: Reading
    hits: tuple[Hit, ...]

    @property
    def refused(self) -> str:
        """Why nothing is said about it; empty where something is."""
        return self.reading.refused


def wanted(opened: OpenedFolder, *, tempo: float | None = None, run: int = 1) -> Wanted:
    """What is to be read of a film of this routine.

    Args:
        tempo: it was danced at; None: tried out.
    """
    routine, beatmap = opened.routine, opened.beatmap
    song = opened.folder / routine.track
    if not song.is_file():
        raise UserError(
            "the song is missing", where=routine.track, do="put it back into the folder"
        )
    hits = tuple(beatmap.time_of(placed.hit) for placed in routine.poses)
    return Wanted(song, hits, TEMPOS if tempo is None else (tempo,), run)


def read_take(film: Path, opened: OpenedFolder, asked: Wanted, report: Report) -> Take:
    """Read a film of a routine, in a process of its own that can be ended.

    Raises:
        Fault: as `read_film`.
    """
    if child.is_one():
        return take_of(film, opened, read_film(film, asked, report))
    workers = Workers(1)
    try:
        reading = workers.submit(read_film, film, asked, on_progress=report).result()
    finally:
        workers.close()
    return take_of(film, opened, reading)


def take_of(film: Path, opened: OpenedFolder, reading: Reading) -> Take:
    """The take that a reading of this film is."""
    hits = tuple(
        _hit(placed, opened.beatmap, film_second, offset, reading.tempo)
        for placed, film_second, offset in zip(
            opened.routine.poses, reading.hits, reading.offsets, strict=True
        )
    )
    filmed = datetime.fromtimestamp(film.stat().st_mtime).astimezone()
    return Take(film, filmed, reading, hits)


def _hit(placed: Placed, beatmap: BeatMap, film_second: float, offset: Offset, tempo: float) -> Hit:
    second = beatmap.time_of(placed.hit)
    try:
        count = (beatmap.shift(second, Length(1)) - second) / tempo
    except KeyError:
        count = 0.0
    place = str(placed.hit)
    return Hit(placed.id, placed.pose, place, second, film_second, count, offset)
