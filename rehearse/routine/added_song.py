"""Another song added to the one that is cut, so that parts of both can be chosen and joined.

The two are laid one behind the other, a pause between them, in a file of their own in the routine's
folder; its map is made of both maps. The first song keeps its seconds, so that every pose keeps its
place, and from there on everything that can be done with one song can be done with both.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path, PurePosixPath

import numpy as np

from rehearse.files.user_error import UserError
from rehearse.music.analysis.analyse import analyse
from rehearse.music.beatmap import BeatMap, Build, Stretch
from rehearse.music.cut import FOLDER, MOST_SONGS, SourceSong
from rehearse.music.cutsound import write_sound
from rehearse.music.decode import load_track
from rehearse.music.settle import settle
from rehearse.music.song_import import song_name
from rehearse.music.track import Samples, Track
from rehearse.routine.cutting import Source, load_source
from rehearse.words import _
from rehearse.work.progress import Report, between

#: Seconds of silence between two songs; nothing of it is counted.
PAUSE = 2.0
#: Seconds of all songs together.
MOST = 1800.0
#: Decibels by which an added song is made louder or softer at most.
_MOST_GAIN = 12.0
#: Seconds of the blocks in which level is measured, and decibels under the mean that do not count.
_BLOCK, _GATE = 0.4, 10.0


def add_song(folder: Path, source: Source, path: Path, report: Report) -> Source:
    """The song that is cut with another one behind it.

    The other song is brought to the first one's sample rate and level; both files stay as they are.

    Args:
        folder: the routine's. source: the song that is cut now. path: the other song.
        report: told how far it is; may raise to stop.

    Raises:
        UserError: one of them cannot be read, the other one is in it already, they are too long
            together, or the folder cannot be written.
    """
    track = load_source(folder, source, between(report, 0.0, 0.15, _("Reading the song")))
    other = load_track(path, between(report, 0.15, 0.3, _("Reading the other song")))
    songs = source.songs or (
        SourceSong(source.song, track.content_hash, 0.0, round(track.duration, 6)),
    )
    _refuse(songs, track, other, path)
    beatmap = analyse(other, between(report, 0.3, 0.75))
    after = _as_loud(_at_rate(other, track.sample_rate), track)
    start = round(track.duration + PAUSE, 6)
    at = round(start * track.sample_rate)
    samples = np.zeros((at + len(after), 2), np.float32)
    samples[: track.frames] = track.samples
    samples[at:] = after
    file = _file(source.song, song_name(path), track.content_hash + other.content_hash)
    told = between(report, 0.75, 0.9, _("Writing both songs"))
    write_sound(folder / file, samples, track.sample_rate, told)
    both = load_track(folder / file, between(report, 0.9, 1.0, _("Reading both songs")))
    added = SourceSong(song_name(path), other.content_hash, start, round(both.duration, 6))
    merged = one_behind_the_other(source.beatmap, beatmap, start, both, len(songs) + 1)
    return Source(file, merged, (*songs, added))


def _refuse(songs: tuple[SourceSong, ...], track: Track, other: Track, path: Path) -> None:
    if other.content_hash in {song.hash for song in songs}:
        raise UserError(
            _("is in the cut already"), where=path.name, do=_("choose parts of it on the wave")
        )
    if len(songs) >= MOST_SONGS:
        raise UserError(
            _("a cut is of {most_songs} songs at most", most_songs=MOST_SONGS),
            do=_("use the whole song, and add others again"),
        )
    if track.duration + PAUSE + other.duration > MOST:
        raise UserError(
            _("is too long: the songs would be longer than 30 minutes together"),
            where=path.name,
            do=_("cut out what you use"),
        )


def one_behind_the_other(
    first: BeatMap, second: BeatMap, start: float, both: Track, number: int
) -> BeatMap:
    """The map of two songs, the second beginning at `start`; between them is free time.

    Args:
        both: the sound of the two. number: the second's; its parts are named by it.
    """
    moved = _moved(second, start, number)
    pause = Stretch(max([*first.beats[-1:], first.duration - PAUSE]) + 0.02, start)
    free = [s for s in first.free if s.start < pause.start]
    if free and free[-1].end >= pause.start:
        pause = Stretch(free.pop().start, start)
    return settle(
        replace(
            moved,
            track_hash=both.content_hash,
            duration=both.duration,
            beats=first.beats + moved.beats,
            places=first.places + moved.places,
            free=_joined((*free, pause, *moved.free)),
            restarts=first.restarts + moved.restarts,
            accents=first.accents + moved.accents,
            builds=first.builds + moved.builds,
            quiets=first.quiets + moved.quiets,
            parts=first.parts + moved.parts,
            confidence=first.confidence + moved.confidence,
        )
    )


def _moved(beatmap: BeatMap, by: float, number: int) -> BeatMap:
    def build(each: Build) -> Build:
        accent = None if each.accent is None else each.accent + by
        return Build(each.start + by, each.end + by, accent)

    return replace(
        beatmap,
        beats=tuple(t + by for t in beatmap.beats),
        free=tuple(Stretch(s.start + by, s.end + by) for s in beatmap.free),
        restarts=tuple(t + by for t in beatmap.restarts),
        accents=tuple(replace(a, time=a.time + by) for a in beatmap.accents),
        builds=tuple(map(build, beatmap.builds)),
        quiets=tuple(Stretch(s.start + by, s.end + by) for s in beatmap.quiets),
        # "2A", since the A of one song is not the A of the other.
        parts=tuple(
            replace(p, start=p.start + by, end=p.end + by, label=f"{number}{p.label}")
            for p in beatmap.parts
        ),
        confidence=tuple(
            replace(c, start=c.start + by, end=c.end + by) for c in beatmap.confidence
        ),
    )


def _joined(free: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
    joined: list[Stretch] = []
    for stretch in sorted(free):
        if joined and stretch.start <= joined[-1].end:
            joined[-1] = Stretch(joined[-1].start, max(joined[-1].end, stretch.end))
        else:
            joined.append(stretch)
    return tuple(joined)


def _at_rate(track: Track, rate: int) -> Samples:
    if track.sample_rate == rate:
        return track.samples
    import soxr

    return np.asarray(soxr.resample(track.samples, track.sample_rate, rate), np.float32)


def _as_loud(samples: Samples, like: Track) -> Samples:
    """Brought to the level of another song, as far as that is sensible."""
    decibels = _level(like.samples, like.sample_rate) - _level(samples, like.sample_rate)
    decibels = min(_MOST_GAIN, max(-_MOST_GAIN, decibels))
    return samples * np.float32(10.0 ** (decibels / 20.0))


def _level(samples: Samples, rate: int) -> float:
    """Level in decibels of what is not quiet: the gate of ITU-R BS.1770-4, without its filter."""
    size = round(_BLOCK * rate)
    blocks = samples[: len(samples) // size * size].reshape(-1, size * 2)
    power = np.mean(blocks.astype(np.float64) ** 2, axis=1) + 1e-12
    kept = power[power >= power.mean() * 10.0 ** (-_GATE / 10.0)]
    return float(10.0 * np.log10(kept.mean()))


def _file(song: str, other: str, made_of: str) -> str:
    stems = (PurePosixPath(song).stem[:40].strip(), PurePosixPath(other).stem[:40].strip())
    digest = hashlib.sha256(made_of.encode()).hexdigest()[:8]
    return f"{FOLDER}/{' + '.join(stems)} {digest}.flac"
