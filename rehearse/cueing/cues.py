"""What to show at each moment of the music: the next pose, its countdown, what is held.

A cue sheet is compiled once from a routine and its beat map and then only looked up: `at` is
called at every paint and must stay far below a frame (≤ 50 µs).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, replace
from typing import Protocol

from rehearse.cueing.clicks import count_before
from rehearse.cueing.moment import Cue, Moment, TimedSection
from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Routine, Section
from rehearse.routine.poses import Pose

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
    """The cues of a routine, ordered by hit, ready to be looked up by time."""

    cues: tuple[Cue, ...]
    sections: tuple[TimedSection, ...]
    beatmap: BeatMap
    start: float
    end: float
    hits: tuple[float, ...]

    @classmethod
    def compile(cls, routine: Routine, beatmap: BeatMap, catalogue: PoseSource) -> CueSheet:
        """Resolve every pose and section of `routine` against `beatmap`.

        Poses or sections at counts that the map does not have are left out: the routine's
        checks name them, and a rehearsal goes on with the others.
        """
        cues: list[Cue] = []
        for placed in routine.poses:
            try:
                pose, times = catalogue.find(placed.pose), placed.times(beatmap)
            except KeyError:
                continue
            facing, level = placed.facing or pose.facing, placed.level or pose.level
            cues.append(Cue(0, placed, pose, facing, level, *times))
        cues.sort(key=lambda c: c.hit)
        ordered = tuple(replace(cue, index=i) for i, cue in enumerate(cues))
        stage = routine.stage
        start, end = (stage.start, stage.end) if stage else (0.0, beatmap.duration)
        hits = tuple(cue.hit for cue in ordered)
        return cls(ordered, _timed(routine, beatmap), beatmap, start, end, hits)

    def closes(self, end: float) -> float:
        """Before which second a hit belongs to a pass that ends at `end` (s of the track).

        One on its very end belongs to what comes behind, unless the music ends there too.
        """
        return end + _SAME if end >= self.end - _SAME else end - _SAME

    def at(self, time: float, until: float = math.inf) -> Moment:
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
        since = time - last.hit if last else math.inf
        return Moment(
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
        )

    def before(self, start: float, counts_left: float, interval: float) -> Moment:
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
        )

    def ready(self, start: float) -> Moment:
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


def _numeral(counts: float | None, seconds: float | None) -> str:
    if counts is not None:
        return str(max(1, math.ceil(counts - _ROUNDING)))
    if seconds is None:
        return ""
    return f"{seconds:.0f}" if seconds >= 9.95 else f"{max(seconds, 0.0):.1f}"


def _travel(cue: Cue | None, last: Cue | None, time: float) -> float:
    if cue is None:
        return 0.0
    start = max(cue.start, last.hit) if last else cue.start
    return _clamp((time - start) / max(cue.hit - start, 1e-9))


def _clamp(value: float) -> float:
    return min(1.0, max(0.0, value))
