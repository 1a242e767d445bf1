"""A filmed run, read: laid on the music by its sound, then early or late at each hit.

Run `read_film` in a worker process: it takes about as long as the run itself.

Conventions: music seconds are the track's at full tempo; a run danced at 80 % is laid on the
stretched music, and its hits lie at their music seconds divided by 0.8.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rehearse.files.user_error import UserError
from rehearse.film.align import Alignment, find_runs
from rehearse.film.body import Body, Box, find_body
from rehearse.film.clap_search import find_clap
from rehearse.film.extra import installed
from rehearse.film.known_clock import KnownPlace, place_by_clock
from rehearse.film.movement import Motion, watch
from rehearse.film.offsets import MOST_UNREAD, Offset, Unread, read_offsets
from rehearse.film.points import Album
from rehearse.film.sound import Sound, film_sound, music_sound
from rehearse.music.decode import load_track
from rehearse.music.mapfile import check_sound
from rehearse.music.track import Track
from rehearse.playback.stretch import stretch
from rehearse.words import _, ngettext
from rehearse.work.progress import Report, between


class MusicNotFound(UserError):
    """The music is not heard in the film for certain."""


class ClapOnly(MusicNotFound):
    """Nor is it, but the clap before a run is, which may be another routine's."""


#: Tempos a run may have been danced at, the likely ones first.
TEMPOS = (1.0, 0.8, 0.9, 0.7, 0.6, 0.5, 0.95, 0.85, 0.75, 0.65, 0.55)
#: Music seconds kept before the first and after the last hit.
_BEFORE, _AFTER = 3.0, 2.0
#: What makes a film hard to read: mean grey value, pixels of the camera's shaking from one picture
#: to the next, part of the picture's height that the athlete takes up.
_DARK, _SHAKY, _SMALL = 28.0, 1.2, 0.3


@dataclass(frozen=True)
class FilmRequest:
    """What is to be read.

    Args:
        track: the song's file. hits: music seconds, rising.
        tempos: tried in this order. run: which run of the film, from 1.
        first_hit: film second of the first hit, set by hand where the sound cannot tell.
        clap: track second, as if the music had begun before, of the clap that may have been played
            before the run; None: there was none.
        by_clap: where the music is not found, lay the film by that clap; else that is only asked.
        kneels: for each hit, whether the way into it goes down to the knees; empty: none does.
        mapped: `track_hash` of the map that the hits were taken from; empty: not compared.
        clock: where the own camera's recording lies by the clock; None: it is a film like any.
    """

    track: Path
    hits: tuple[float, ...]
    tempos: tuple[float, ...] = TEMPOS
    run: int = 1
    first_hit: float | None = None
    clap: float | None = None
    by_clap: bool = False
    kneels: tuple[bool, ...] = ()
    mapped: str = ""
    clock: KnownPlace | None = None


@dataclass(frozen=True)
class FilmReading:
    """A film as read.

    Args:
        alignment: where it lies in the music of `tempo`; its windows are 0 where set by hand.
        tempo: that it was danced at. runs: in the film.
        hits: film seconds of the hits. offsets: one for each.
        refused: why the film as a whole cannot be read; empty where it can.
        box: where in the picture the athlete is; None: not found.
        followed: points of the body were followed, by the extra `film`.
    """

    alignment: Alignment
    tempo: float
    runs: int
    hits: tuple[float, ...]
    offsets: tuple[Offset, ...]
    refused: str = ""
    box: Box | None = None
    followed: bool = False

    def to_film(self, music_second: float) -> float:
        """The film second at which this second of the track sounded."""
        return self.alignment.to_film(music_second / self.tempo)

    def to_music(self, film_second: float) -> float:
        """The second of the track that sounded at this second of the film."""
        return self.alignment.to_music(film_second) * self.tempo


def read_film(film: Path, wanted: FilmRequest, report: Report) -> FilmReading:
    """Read a film.

    Args:
        report: told how far it is; may raise to stop.

    Raises:
        UserError: the film or the track cannot be opened, the track is another one than was mapped,
            or the music cannot be found in the film.
    """
    if not wanted.hits:
        raise UserError(
            _("has no poses yet"), where=_("the routine"), do=_("place them on the music first")
        )
    alignment, tempo, runs = place(film, wanted, between(report, 0.0, 0.15))
    hits = tuple(alignment.to_film(hit / tempo) for hit in wanted.hits)
    seen = _seen(alignment, hits)
    start = max(0.0, hits[seen.start] - _BEFORE)
    end = hits[seen.stop - 1] + _AFTER
    album = Album() if installed() else None
    motion = watch(film, start, end, between(report, 0.15, 0.85), album)
    report(0.86, _("Reading the hits"))
    body = find_body(motion, list(hits[seen]))
    found = [Offset(why=Unread.UNSEEN)] * len(hits[seen])
    if body is not None:
        found = read_offsets(
            motion, body, hits[seen], wanted.kneels[seen], between(report, 0.86, 0.99)
        )
    outside = Offset(why=Unread.OUTSIDE)
    offsets = [outside] * seen.start + found + [outside] * (len(hits) - seen.stop)
    refused = _refusal(found, motion, body)
    box = None if body is None else body.box
    return FilmReading(
        alignment, tempo, runs, hits, tuple(offsets), refused, box, album is not None
    )


def place(film: Path, wanted: FilmRequest, report: Report) -> tuple[Alignment, float, int]:
    """Where the film lies in the music, at which tempo, and how many runs it has.

    Raises:
        ClapOnly: the music cannot be found, but a clap can, and laying it by that was not wished.
        UserError: the music cannot be found in it, or it has no such run.
    """
    if wanted.clock is not None:
        return place_by_clock(wanted.clock, _song(wanted), report), wanted.clock.tempo, 1
    if wanted.first_hit is not None:
        if wanted.mapped:
            _song(wanted)
        tempo = wanted.tempos[0]
        offset = wanted.hits[0] / tempo - wanted.first_hit
        end = wanted.first_hit + (wanted.hits[-1] - wanted.hits[0]) / tempo
        return Alignment(offset, 1.0, 0, 0.0, 0.0, end + _AFTER, "hand"), tempo, 1
    heard, begins = film_sound(film, between(report, 0.0, 0.3))
    track = _song(wanted)
    for k, tempo in enumerate(wanted.tempos):
        share = 0.3 + 0.7 * k / len(wanted.tempos), 0.3 + 0.7 * (k + 1) / len(wanted.tempos)
        runs = find_runs(heard, begins, _at_tempo(track, tempo), between(report, *share))
        if runs:
            if not 1 <= wanted.run <= len(runs):
                one = ngettext("1 run", "{number} runs", len(runs), number=len(runs))
                raise UserError(
                    _("has {one_} of the music", one_=one),
                    where=film.name,
                    do=_("ask for one of them"),
                )
            return runs[wanted.run - 1], tempo, len(runs)
    clapped = _by_clap(heard, begins, wanted)
    if clapped is None:
        what = _("the music cannot be found in the film")
        raise MusicNotFound(
            what, where=film.name, do=_("say at which second the first pose is hit")
        )
    if not wanted.by_clap:
        what = _("the music cannot be found in the film, only the clap before a run")
        raise ClapOnly(what, where=film.name, do=_("add --clap if it is a run of this routine"))
    return clapped, wanted.tempos[0], 1


def _by_clap(heard: Sound, begins: float, wanted: FilmRequest) -> Alignment | None:
    """By the clap before the run, where the music repeats itself or is drowned."""
    at = None if wanted.clap is None else find_clap(heard, begins)
    if at is None or wanted.clap is None:
        return None
    tempo = wanted.tempos[0]
    end = at + (wanted.hits[-1] - wanted.clap) / tempo + _AFTER
    return Alignment(wanted.clap / tempo - at, 1.0, 0, 0.0, at, end, "clap")


def _song(wanted: FilmRequest) -> Track:
    track = load_track(wanted.track)
    if wanted.mapped and (error := check_sound(wanted.mapped, track)):
        raise error
    return track


def _at_tempo(track: Track, tempo: float) -> Sound:
    samples = track.samples
    if tempo != 1.0:
        samples = stretch(samples, track.sample_rate, tempo)
    return music_sound(samples, track.sample_rate)


def _seen(alignment: Alignment, hits: Sequence[float]) -> slice:
    """The hits that lie in the film's run.

    Raises:
        UserError: none does.
    """
    inside = [k for k, hit in enumerate(hits) if alignment.start - 1 <= hit <= alignment.end + 1]
    inside = [k for k in inside if hits[k] >= 0]
    if not inside:
        raise UserError(
            _("none of the routine's poses is in the film"), do=_("film the run itself")
        )
    return slice(inside[0], inside[-1] + 1)


def _refusal(offsets: Sequence[Offset], motion: Motion, body: Body | None) -> str:
    unread = sum(offset.why is not None for offset in offsets)
    if unread <= MOST_UNREAD * len(offsets):
        return ""
    reasons = list(_reasons(motion, body)) or [
        _("somebody may be in front of you, or too much else moves")
    ]
    return _(
        "{unread} of {number} poses cannot be read: {reasons}",
        unread=unread,
        number=len(offsets),
        reasons=", ".join(reasons),
    )


def _reasons(motion: Motion, body: Body | None) -> Iterator[str]:
    if float(motion.pictures[:: max(1, len(motion.pictures) // 50)].mean()) < _DARK:
        yield _("it is too dark")
    if float(np.percentile(np.abs(motion.shifts), 90)) > _SHAKY:
        yield _("the phone moves too much")
    if body is not None and body.height < _SMALL:
        yield _("you are too small in the picture")
    if body is None:
        yield _("nobody moves in time with the routine")
