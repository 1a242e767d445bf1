"""A cut: a stage version made of parts of one song, or of several, joined on counts.

Conventions: `start` and `end` are seconds of the song, `heard` times are seconds of the cut. Where
one part ends the next begins: both lie on beats, so that the beat goes on. The sound changes over a
little before that beat, where the one before has died away and the next attack has not begun. What
stands in the song up to `EARLY` seconds before a part's first beat – an onset is often a little
before its beat – belongs to that part. Several songs are laid one behind the other first: then "the
song" is all of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import PurePosixPath
from typing import TypeVar

from rehearse.music.beatmap import SAME_PLACE, BeatMap, Build, Confidence, Part, Stretch
from rehearse.music.settle import settle

#: Seconds by which an accent or a pose may stand before the beat that a part begins with.
EARLY = 0.03
#: The folder, inside the routine's, for the song's own map and the sound of the cut.
FOLDER = "cut"
#: Parts of one cut, songs they may be of; the shortest part, seconds.
MOST_PARTS, MOST_SONGS, SHORTEST = 24, 8, 0.5
#: Bounds of what a join may be: seconds of its fade, counts it may lie off its place, seconds by
#: which the part behind it may be moved, decibels by which that part may begin louder or softer.
LONGEST_FADE, FARTHEST, MOST_SLIP, MOST_LEVEL = 4.0, 2, 0.05, 6.0
#: Of a build that a join cuts short this share must be left.
_LEFT = 0.5

Span = TypeVar("Span", Stretch, Build, Part, Confidence)


@dataclass(frozen=True)
class CutPart:
    """One part of the song, and how it is joined to the part before.

    Args:
        start, end: seconds of the song, start < end.
        shift: counts by which the join lies after its place in the eight (−2..2); it moved the end
            of the part before and the start of this one alike.
        slip: seconds by which this part is moved later so that the beats meet.
        fade: seconds over which the sound changes over. ahead: seconds before `start` at which the
            change is done.
        level: decibels added where the part begins, gone `RELAXED` seconds later.

    All but start and end mean nothing in the first part.
    """

    start: float
    end: float
    shift: int = 0
    slip: float = 0.0
    fade: float = 0.02
    ahead: float = 0.008
    level: float = 0.0


#: Seconds after which a part has its own level again.
RELAXED = 8.0


@dataclass(frozen=True)
class SourceSong:
    """One of several songs that stand one behind the other in the song that is cut.

    Args:
        song: its file's name; the first one's file is in the routine's folder.
        hash: its `Track.content_hash`.
        start, end: seconds of the song that is cut; the first begins at 0.
    """

    song: str
    hash: str
    start: float
    end: float


@dataclass(frozen=True)
class Cut:
    """The recipe of a stage version.

    Args:
        song: the song's file in the routine's folder. hash: its `Track.content_hash`.
        beats: the file of the song's own map, in the folder.
        parts: at least one, in the order they are heard.
        songs: what `song` was put together from; empty: it is one song.
    """

    song: str
    hash: str
    beats: str
    parts: tuple[CutPart, ...]
    songs: tuple[SourceSong, ...] = ()

    @cached_property
    def begins(self) -> tuple[float, ...]:
        """Where each part begins, in seconds of the cut; behind them the length of the whole."""
        times = [0.0]
        for part, after in zip(self.parts, (*self.parts[1:], None), strict=True):
            slip = after.slip if after else 0.0
            times.append(round(times[-1] + part.end - part.start + slip, 6))
        return tuple(times)

    @property
    def length(self) -> float:
        """Seconds."""
        return self.begins[-1]

    @property
    def first_hash(self) -> str:
        """Of the song whose seconds are those of the song that is cut."""
        return self.songs[0].hash if self.songs else self.hash

    @property
    def joins(self) -> tuple[float, ...]:
        """Where parts meet, in seconds of the cut."""
        return self.begins[1:-1]

    def song_time(self, heard: float) -> tuple[int, float]:
        """The part heard at a time, and the seconds of the song that are heard."""
        index = sum(1 for begin in self.joins if heard + EARLY > begin)
        return index, self.parts[index].start + heard - self.begins[index]

    def heard_at(self, time: float) -> Iterator[float]:
        """Every time of the cut at which `time` of the song is heard, in the order of parts."""
        for k, part in enumerate(self.parts):
            low = part.start if k == 0 else part.start - EARLY
            high = part.end if k == len(self.parts) - 1 else part.end - EARLY
            if low - SAME_PLACE <= time < high:
                yield self.begins[k] + time - part.start


def whole(song: str, hash_: str, duration: float) -> Cut:
    """The song itself, as the cut that leaves nothing out."""
    return Cut(song, hash_, "", (CutPart(0.0, duration),))


def files_of(song: str, name: str) -> tuple[str, str]:
    """Names, in the routine's folder, of the song's own map and of the sound of a cut of it.

    Args:
        song: the song's file. name: tells this cut from others, such as digits of a hash.
    """
    stem = PurePosixPath(song).stem[:80]
    return f"{FOLDER}/{stem} beats {name}.yaml", f"{FOLDER}/{stem} cut {name}.flac"


def map_of_cut(song: BeatMap, cut: Cut, *, hash_: str = "", duration: float = 0.0) -> BeatMap:
    """The map of a cut, made from the map of the song with all its corrections.

    Beats keep their places in the bar. An eight begins where it does in the song, unless it is
    counted so anyway. Free time goes on over a join that has it on both sides.

    Args:
        song: the song's map. hash_: of the cut's sound. duration: its seconds, by its samples.
    """
    maker = _CutMapBuilder(song, cut)
    made = BeatMap(
        hash_,
        duration or cut.length,
        *maker.beats(),
        free=maker.free(),
        accents=tuple(
            sorted(replace(a, time=max(0.0, t)) for a in song.accents for t in cut.heard_at(a.time))
        ),
        builds=tuple(sorted(maker.builds(), key=lambda build: (build.start, build.end))),
        quiets=tuple(maker.spans(song.quiets)),
        parts=tuple(maker.spans(song.parts)),
        confidence=tuple(maker.spans(song.confidence)),
    )
    return settle(replace(made, restarts=maker.restarts(made)))


class _CutMapBuilder:
    """Takes the pieces of a song's map over into a cut of it."""

    def __init__(self, song: BeatMap, cut: Cut) -> None:
        self.song, self.cut = song, cut
        self.kept: list[tuple[float, int]] = []  # time in the cut, index in the song
        for k, part in enumerate(cut.parts):
            last = k == len(cut.parts) - 1
            for index, beat in enumerate(song.beats):
                if part.start - SAME_PLACE <= beat < part.end - (0.0 if last else SAME_PLACE):
                    self.kept.append((max(0.0, cut.begins[k] + beat - part.start), index))

    def beats(self) -> tuple[tuple[float, ...], tuple[int, ...]]:
        places = self.song.places
        return tuple(t for t, _ in self.kept), tuple(places[index] for _, index in self.kept)

    def restarts(self, made: BeatMap) -> tuple[float, ...]:
        """Where an eight begins in the song, and would not by counting on."""
        firsts = {k for k, count in enumerate(self.song.counts) if count.count == 1}
        found: list[float] = []
        for first, last in made.runs:
            places = made.places[first:last]
            length = 6 if max(places) in (3, 6) else 8
            begins = places.index(1) if 1 in places[:8] else 0
            count = 0
            for time, index in self.kept[first + begins : last]:
                count = count % length + 1
                if index in firsts and count != 1:
                    found.append(time)
                    count = 1
        return tuple(found)

    def free(self) -> tuple[Stretch, ...]:
        joined: list[Stretch] = []
        for stretch in self.spans(self.song.free):
            if joined and stretch.start - joined[-1].end < SAME_PLACE:
                joined[-1] = Stretch(joined[-1].start, stretch.end)
            else:
                joined.append(stretch)
        return tuple(joined)

    def builds(self) -> Iterator[Build]:
        for build in self.song.builds:
            for part, begin in zip(self.cut.parts, self.cut.begins, strict=False):
                start, end = max(build.start, part.start), min(build.end, part.end)
                if end - start < _LEFT * (build.end - build.start):
                    continue
                moved = begin - part.start
                accent = build.accent
                there = accent is not None and part.start - EARLY <= accent < part.end - EARLY
                leads = accent + moved if accent is not None and there else None
                yield replace(build, start=start + moved, end=end + moved, accent=leads)

    def spans(self, spans: tuple[Span, ...]) -> Iterator[Span]:
        """What of each stretch is heard, in the order it is heard."""
        for part, begin in zip(self.cut.parts, self.cut.begins, strict=False):
            for span in spans:
                start, end = max(span.start, part.start), min(span.end, part.end)
                if end - start > SAME_PLACE:
                    moved = begin - part.start
                    yield replace(span, start=start + moved, end=end + moved)


def told_back(song: BeatMap, cut: Cut, corrected: BeatMap) -> BeatMap:
    """The song's map with what was corrected in the map of a cut of it.

    Beats, places and free time of each part are taken where they differ from what the song's map
    gives; accents are taken as they stand. Of a stretch that is heard twice the last counts.
    """
    made = map_of_cut(song, cut)
    same = (made.beats, made.places, made.free, made.restarts, made.accents)
    now = (corrected.beats, corrected.places, corrected.free, corrected.restarts, corrected.accents)
    if same == now:
        return song
    for part, begin in zip(cut.parts, cut.begins, strict=False):
        song = _with_part(song, part, part.start - begin, corrected)
    return settle(song)


def _with_part(song: BeatMap, part: CutPart, back: float, corrected: BeatMap) -> BeatMap:
    def inside(time: float) -> bool:
        return part.start - SAME_PLACE <= time < part.end - SAME_PLACE

    rows = {t: p for t, p in zip(song.beats, song.places, strict=True) if not inside(t)}
    for beat, place in zip(corrected.beats, corrected.places, strict=True):
        if inside(beat + back):
            rows[round(beat + back, 6)] = place
    beats = sorted(rows)
    free = list(_outside(song.free, part))
    free += [
        Stretch(max(s.start + back, part.start), min(s.end + back, part.end))
        for s in corrected.free
        if s.end + back > part.start and s.start + back < part.end
    ]
    restarts = {t for t in song.restarts if not inside(t)}
    restarts |= {round(t + back, 6) for t in corrected.restarts if inside(t + back)}
    accents = [a for a in song.accents if not inside(a.time + EARLY)]
    accents += [
        replace(a, time=round(a.time + back, 6))
        for a in corrected.accents
        if inside(a.time + back + EARLY)
    ]
    return replace(
        song,
        beats=tuple(beats),
        places=tuple(rows[b] for b in beats),
        free=tuple(_joined(sorted(free))),
        restarts=tuple(sorted(restarts & set(beats))),
        accents=tuple(sorted(accents)),
    )


def _outside(free: tuple[Stretch, ...], part: CutPart) -> Iterator[Stretch]:
    for s in free:
        for start, end in ((s.start, min(s.end, part.start)), (max(s.start, part.end), s.end)):
            if end - start > SAME_PLACE:
                yield Stretch(start, end)


def _joined(free: list[Stretch]) -> Iterator[Stretch]:
    last: Stretch | None = None
    for stretch in free:
        if last is not None and stretch.start - last.end < SAME_PLACE:
            last = Stretch(last.start, max(last.end, stretch.end))
            continue
        if last is not None:
            yield last
        last = stretch
    if last is not None:
        yield last
