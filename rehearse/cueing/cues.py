"""What to show at each moment of the music: the next pose, its countdown, what is held.

A cue sheet is compiled once from a routine and its beat map and then only looked up: `at` is
called at every paint and must stay far below a frame (≤ 50 µs).
"""

from __future__ import annotations

import contextlib
import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol

from rehearse.cueing.count_in import count_before
from rehearse.cueing.cue_state import Cue, CueState, TimedMove, TimedSection
from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Move, Place, Placed, Routine, Section
from rehearse.routine.moves import MoveCatalogue, load_moves
from rehearse.routine.moving import Timed, moves_before, way_off
from rehearse.routine.pose import Pose
from rehearse.routine.way import Way, done, places_of, way_into
from rehearse.words import _, shown

#: The edge light fills over at most this many counts (seconds / 2 in free time).
RIM_COUNTS = 8.0
#: How long after the beat a pose counts as just hit, in counts.
HIT_COUNTS = 0.25
#: A countdown this close to a whole count shows that count: the ear does not tell 20 ms.
_ROUNDING = 0.02
#: Seconds within which two places in the music are the same.
_SAME = 1e-6


class PoseSource(Protocol):
    """Whatever can look up a pose by name (a catalogue)."""

    def find(self, name: str) -> Pose:
        """The pose of that name or synonym; KeyError when there is none."""


@dataclass(frozen=True)
class CueSheet:
    """The cues of a routine, ordered by hit, ready to be looked up by time.

    `exit` are the moves after the last hold, `leaving` the body on that way: the last pose, whose
    `way` leads off the stage.
    """

    cues: tuple[Cue, ...]
    sections: tuple[TimedSection, ...]
    beatmap: BeatMap
    start: float
    end: float
    hits: tuple[float, ...]
    exit: tuple[TimedMove, ...] = ()
    leaving: Cue | None = None

    @classmethod
    def compile(cls, routine: Routine, beatmap: BeatMap, catalogue: PoseSource) -> CueSheet:
        """Resolve every pose and section of `routine` against `beatmap`.

        Poses or sections at counts that the map does not have are left out: the routine's
        checks name them, and a rehearsal goes on with the others.
        """
        cues: list[Cue] = []
        named = _Names(routine)
        for placed in routine.poses:
            try:
                pose, times = catalogue.find(placed.pose), placed.times(beatmap)
            except KeyError:
                continue
            facing, level = placed.facing or pose.facing, placed.level or pose.level
            moves = named.all_of(moves_before(placed, beatmap, times))
            again = _again(placed, beatmap)
            cues.append(Cue(0, placed, pose, facing, level, *times, moves, again))
        cues.sort(key=lambda c: c.hit)
        ordered = tuple(_with_ways(tuple(_in_order(cues)), beatmap, named.catalogue))
        stage = routine.stage
        start, end = (stage.start, stage.end) if stage else (0.0, beatmap.duration)
        hits = tuple(cue.hit for cue in ordered)
        off = _way_off(routine, beatmap) if ordered else ()
        leaving = _leaving(ordered[-1], off, named) if off else None
        sections = _timed(routine, beatmap)
        return cls(ordered, sections, beatmap, start, end, hits, named.all_of(off), leaving)

    @cached_property
    def flashes(self) -> tuple[float, ...]:
        """Every hit and every `again`, in order (s)."""
        return tuple(sorted({*self.hits, *(t for cue in self.cues for t in cue.again)}))

    def closes(self, end: float) -> float:
        """Before which second a hit belongs to a pass that ends at `end` (s of the track).

        One on its very end belongs to what comes behind, unless the music ends there too.
        """
        return end + _SAME if end >= self.end - _SAME else end - _SAME

    def at(self, time: float, until: float = math.inf) -> CueState:
        """The moment at `time` seconds of the track (any value; outside: before or after all).

        Args:
            until: no pose whose hit lies here or later is announced (see `closes`).
        """
        k = bisect_right(self.hits, time + 1e-9)
        upcoming = self.cues[k] if k < len(self.cues) and self.hits[k] < until else None
        last = self.cues[k - 1] if k else None
        leaving = last is not None and time >= (upcoming.start if upcoming else last.end)
        beatmap = self.beatmap
        phase = beatmap.phase_at(time)
        beat = int(phase) if phase is not None else None
        interval = beatmap.interval(beat) if beat is not None else None
        counts = beatmap.counts_between(time, upcoming.hit) if upcoming else None
        seconds = upcoming.hit - time if upcoming else None
        flashed = bisect_right(self.flashes, time + 1e-9)
        since = time - self.flashes[flashed - 1] if flashed else math.inf
        move, ends, again = self._under_way(time, upcoming, None if leaving else last)
        return CueState(
            time=time,
            next=upcoming,
            held=None if leaving else last,
            counts=counts,
            seconds=seconds,
            numeral=_numeral(counts, seconds),
            travel=_travel(upcoming, last, time),
            count=beatmap.counts[beat] if beat is not None else None,
            beat_phase=phase - beat if phase is not None and beat is not None else None,
            interval=interval,
            rim=self._rim(upcoming, last, counts, seconds),
            hit=since < HIT_COUNTS * (interval or 0.5),
            section=self._section(time),
            progress=_clamp((time - self.start) / max(self.end - self.start, 1e-9)),
            move=move,
            move_numeral=_numeral(beatmap.counts_between(time, ends), ends - time) if ends else "",
            again=again,
        )

    def _under_way(
        self, time: float, upcoming: Cue | None, held: Cue | None
    ) -> tuple[TimedMove | None, float, bool]:
        """The move at `time`, when it (or the way to an `again`) ends, whether that is an again."""
        moves = upcoming.moves if upcoming else self.exit
        if held is None:
            move = next((m for m in moves if m.start <= time + 1e-9 < m.end), None)
            return move, move.end if move else 0.0, False
        ends = next((t for t in held.again if t > time + 1e-9), 0.0)
        return None, ends, ends > 0.0

    def before(self, start: float, counts_left: float, interval: float) -> CueState:
        """The moment in a count-in, `counts_left` counts before a pass that begins at `start`.

        The countdown to the first pose includes the counts still to be heard.
        """
        there = self.at(start)
        first = there.next
        late = there.held if there.held and start - there.held.hit < 1e-6 else None
        if late is not None:  # the pass begins on a hit: that is the pose to be ready for
            first = late
            counts: float | None = counts_left
            seconds: float | None = counts_left * interval
        else:
            counts = there.counts + counts_left if there.counts is not None else None
            seconds = there.seconds + counts_left * interval if there.seconds is not None else None
        back = max(1, math.ceil(counts_left - _ROUNDING))
        label = str(count_before(self.beatmap, start, back))
        travel_left = counts_left * interval
        travel = _travel(first, None, start - travel_left) if first else 0.0
        return replace(
            there,
            next=first,
            held=None if late else there.held,
            counts=counts,
            seconds=seconds,
            numeral=_numeral(counts, seconds),
            travel=travel,
            rim=self._rim(first, None, counts, seconds),
            hit=False,
            count_in=label,
            move=None,
            move_numeral="",
            again=False,
        )

    def ready(self, start: float) -> CueState:
        """The moment before anything is heard of a pass that begins at `start`: nothing lit."""
        beat = self.beatmap.beat_at(start)
        interval = self.beatmap.interval(beat) if beat is not None else 1.0
        coming = self.before(start, 0.0, interval)
        if coming.next and coming.seconds == 0.0:  # it begins on a hit: nothing to count down
            coming = replace(coming, numeral="")
        return replace(coming, count_in="", rim=0.0, travel=0.0)

    def _rim(
        self, cue: Cue | None, last: Cue | None, counts: float | None, seconds: float | None
    ) -> float:
        if cue is None or seconds is None:
            return 0.0
        if counts is not None:
            gap = self.beatmap.counts_between(last.hit, cue.hit) if last else None
            span = min(RIM_COUNTS, gap) if gap else RIM_COUNTS
            return _clamp(1.0 - counts / span)
        span = min(RIM_COUNTS / 2, cue.hit - last.hit) if last else RIM_COUNTS / 2
        return _clamp(1.0 - seconds / max(span, 1e-9))

    def _section(self, time: float) -> Section | None:
        inside = [s for s in self.sections if s.start <= time < s.end]
        return max(inside, key=lambda s: s.start).section if inside else None


def _timed(routine: Routine, beatmap: BeatMap) -> tuple[TimedSection, ...]:
    timed: list[TimedSection] = []
    for section in routine.sections:
        try:
            times = beatmap.time_of(section.start), beatmap.time_of(section.end)
        except KeyError:
            continue
        timed.append(TimedSection(section, *times))
    return tuple(sorted(timed, key=lambda s: s.start))


class _Names:
    """How the moves of a routine are called: name, side, direction."""

    def __init__(self, routine: Routine) -> None:
        self._routine = routine

    @cached_property
    def catalogue(self) -> MoveCatalogue:
        """The catalogue with the routine's own moves."""
        return load_moves().with_own(self._routine.own_moves)

    def all_of(self, timed: Iterable[Timed]) -> tuple[TimedMove, ...]:
        """Moves with what they are called."""
        named = ((self(t.move), t) for t in timed)
        return tuple(TimedMove(text, t.start, t.end, short) for (text, short), t in named)

    def __call__(self, move: Move) -> tuple[str, str]:
        """All of it, and what can be said in less: never without left or right."""
        try:
            kind = self.catalogue.find(move.move)
            name, say = shown(kind.name), shown(kind.say or kind.name)
        except KeyError:
            name = say = shown(move.move)
        side = shown(move.side) if move.side else ""
        direction = shown(move.direction)
        way = direction if move.direction in ("left", "right") else ""
        whole, short = (
            " ".join(filter(None, words)) for words in ((name, side, direction), (say, side, way))
        )
        return whole, short if short != whole else ""


def _way_off(routine: Routine, beatmap: BeatMap) -> tuple[Timed, ...]:
    try:
        return way_off(routine, beatmap)
    except KeyError:  # the checks name it
        return ()


def _leaving(last: Cue, off: tuple[Timed, ...], named: _Names) -> Cue:
    """The last pose, and instead of the way into it the way from there off the stage."""
    timed = [(t.move, t.start, t.end) for t in off]
    place, begin, end = last.way.goal if last.way else Place.CENTRE, off[0].start, off[-1].end
    figure = last.pose.seen(last.facing, last.level)
    way = Way(figure, None, begin, end, done(timed, named.catalogue), None, place, place)
    return replace(last, start=begin, hit=end, end=end, moves=named.all_of(off), way=way)


def _again(placed: Placed, beatmap: BeatMap) -> tuple[float, ...]:
    times: list[float] = []
    for position in placed.again:
        with contextlib.suppress(KeyError):  # the checks name it
            times.append(beatmap.time_of(position))
    return tuple(times)


def _in_order(cues: Iterable[Cue]) -> Iterator[Cue]:
    place = None
    for index, cue in enumerate(cues):
        here = cue.placed.place or place
        moved = here.value if here and here is not place else ""
        place = here
        yield replace(cue, index=index, moved_to=moved)


def _with_ways(cues: tuple[Cue, ...], beatmap: BeatMap, catalogue: MoveCatalogue) -> Iterator[Cue]:
    places = places_of(cues)
    for k, cue in enumerate(cues):
        last = cues[k - 1] if k else None
        moves = [(t.move, t.start, t.end) for t in moves_before(cue.placed, beatmap)]
        between = places[k - 1] if k else places[k], places[k]
        yield replace(cue, way=way_into(last, cue, moves, catalogue, between))


def _numeral(counts: float | None, seconds: float | None) -> str:
    if counts is not None:
        return str(max(1, math.ceil(counts - _ROUNDING)))
    if seconds is None:
        return ""
    return f"{seconds:.0f}" if seconds >= 9.95 else _("{seconds:.1f}", seconds=max(seconds, 0.0))


def _travel(cue: Cue | None, last: Cue | None, time: float) -> float:
    if cue is None:
        return 0.0
    start = max(cue.start, last.hit) if last else cue.start
    return _clamp((time - start) / max(cue.hit - start, 1e-9))


def _clamp(value: float) -> float:
    return min(1.0, max(0.0, value))
