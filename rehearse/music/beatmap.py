"""The beat map: what the athlete can hear in one track, as data.

Conventions: every time is in seconds of the decoded track (sample index / sample rate).
Stretches are half-open, [start, end). Strengths and confidences are 0..1.
"""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from rehearse.music.position import Count, Length, Position, Seconds

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

#: Two times closer than this are the same place (a sample at 44.1 kHz is 0.023 ms).
SAME_PLACE = 0.0005


@dataclass(frozen=True, order=True)
class Stretch:
    """A stretch of the track, [start, end) in seconds."""

    start: float
    end: float

    def __contains__(self, time: float) -> bool:
        return self.start <= time < self.end


#: Part of a song in free time up to which it has counts to lay a routine on.
MOSTLY = 0.5
#: Strengths from which an accent is light, medium and strong.
LIGHT, MEDIUM, STRONG = 0.05, 0.3, 0.65
#: Names of the grades, the strongest first.
GRADES = ("strong", "medium", "light")


@dataclass(frozen=True, order=True)
class Accent:
    """A hit in the music: its onset in seconds and its strength, 0..1, how far it stands out."""

    time: float
    strength: float

    @property
    def grade(self) -> str:
        """One of `GRADES`."""
        return GRADES[(self.strength < STRONG) + (self.strength < MEDIUM)]


@dataclass(frozen=True, order=True)
class Build:
    """A rise in loudness, brightness or density, and the accent it ends in."""

    start: float
    end: float
    accent: float | None = None


@dataclass(frozen=True, order=True)
class Confidence:
    """How sure the beats of a stretch are, 0..1."""

    start: float
    end: float
    value: float


@dataclass(frozen=True, order=True)
class Part:
    """A stretch of the song between two places where the music changes; `label` like 'A'."""

    start: float
    end: float
    label: str = ""


@dataclass(frozen=True)
class Reading:
    """One way to count a song.

    Args:
        words: what it does to the best reading.
        likelihood: 0..1; those of one song add up to 1 at most.
        times, places: of every count: seconds, place in the bar.
        confidence: how sure its stretches are.
    """

    words: str
    likelihood: float
    times: tuple[float, ...]
    places: tuple[int, ...]
    confidence: tuple[Confidence, ...] = ()


@dataclass(frozen=True)
class BeatMap:
    """Beats, bars, free time, accents, builds, quiet stretches and parts of one track.

    Args:
        track_hash: `Track.content_hash` of the audio described.
        duration: seconds of the track.
        beats: strictly increasing times in [0, duration).
        places: for each beat its place in the bar, 1 = first.
        free: stretches of free time, ordered, not overlapping, without a beat inside.
        restarts: times of beats at which a new eight begins, whatever the bar says.
        accents, builds, quiets, parts, confidence: ordered by time.
    """

    track_hash: str
    duration: float
    beats: tuple[float, ...] = ()
    places: tuple[int, ...] = ()
    free: tuple[Stretch, ...] = ()
    restarts: tuple[float, ...] = ()
    accents: tuple[Accent, ...] = ()
    builds: tuple[Build, ...] = ()
    quiets: tuple[Stretch, ...] = ()
    parts: tuple[Part, ...] = ()
    confidence: tuple[Confidence, ...] = field(default=())

    @cached_property
    def marked(self) -> tuple[Accent, ...]:
        """The medium and strong accents: those that poses are put on and kept on."""
        return tuple(a for a in self.accents if a.strength >= MEDIUM)

    @cached_property
    def times(self) -> npt.NDArray[np.float64]:
        """The beats as an array, shape (n,)."""
        import numpy as np  # the window opens without it

        return np.asarray(self.beats, dtype=np.float64)

    @cached_property
    def runs(self) -> tuple[tuple[int, int], ...]:
        """Index ranges [first, last) of beats that follow each other without free time."""
        if not self.beats:
            return ()
        cuts = {bisect_left(self.beats, s.start) for s in self.free}
        edges = sorted({0, len(self.beats)} | {c for c in cuts if 0 < c < len(self.beats)})
        return tuple(itertools.pairwise(edges))

    @property
    def has_counts(self) -> bool:
        """Whether a routine can be laid on its counts: most of the song has some."""
        free = sum(s.end - s.start for s in self.free)
        return bool(self.beats) and free <= MOSTLY * self.duration

    @cached_property
    def counts(self) -> tuple[Count, ...]:
        """The count of every beat. Eights run on through the track, numbered from 1.

        A new eight begins at the first bar of each run, at every restart and after eight counts
        (six in bars of three). Beats before a run's first bar are its pick-up: the last counts
        of the eight before (eight 0 at the start of the track).
        """
        result: list[Count] = []
        eight = 0
        for first, last in self.runs:
            eight = self._count_run(first, last, eight, result)
        return tuple(result)

    def _count_run(self, first: int, last: int, eight: int, out: list[Count]) -> int:
        places = self.places[first:last]
        start = first + (places.index(1) if 1 in places[:8] else 0)
        length = 6 if max(places, default=4) in (3, 6) else 8
        pickup = start - first
        if pickup and out:
            eight += 1
        out.extend(Count(eight, length - pickup + 1 + k) for k in range(pickup))
        count = 0
        for index in range(start, last):
            if count == 0 or count == length or index in self._restarted:
                eight, count = eight + 1, 0
            count += 1
            out.append(Count(eight, count))
        return eight

    @cached_property
    def _restarted(self) -> frozenset[int]:
        """Indices of the beats at which a new eight begins."""
        return frozenset(self.nearest(time) for time in self.restarts)

    @cached_property
    def _index(self) -> dict[tuple[int, int], int]:
        return {(c.eight, c.count): i for i, c in enumerate(self.counts)}

    @cached_property
    def intervals(self) -> tuple[float, ...]:
        """Seconds from each beat to the next of its run (of a run's last beat: as before it)."""
        steps = [b - a for a, b in itertools.pairwise(self.beats)]
        steps.append(0.5)
        for first, last in self.runs:
            steps[last - 1] = steps[last - 2] if last - first > 1 else 0.5
        return tuple(steps[: len(self.beats)])

    def interval(self, index: int) -> float:
        """Seconds from beat `index` to the next of its run."""
        return self.intervals[index]

    @cached_property
    def _free_starts(self) -> tuple[float, ...]:
        return tuple(stretch.start for stretch in self.free)

    @cached_property
    def _run_of(self) -> tuple[int, ...]:
        return tuple(k for k, (first, last) in enumerate(self.runs) for _ in range(first, last))

    def time_of(self, position: Position) -> float:
        """Seconds of a position.

        Raises:
            KeyError: the map has no such count.
        """
        if isinstance(position, Seconds):
            return position.value
        index = self._index[(position.eight, position.count)]
        return self.beats[index] + position.quarter / 4 * self.interval(index)

    def position_at(self, time: float, tolerance: float = SAME_PLACE) -> Position:
        """The count (or quarter of one) within `tolerance` seconds of `time`, else its seconds."""
        index = bisect_right(self.beats, time + tolerance) - 1
        for k in (index, index + 1):
            if not 0 <= k < len(self.beats):
                continue
            step = self.interval(k) / 4
            quarter = round((time - self.beats[k]) / step)
            if 0 <= quarter <= 3 and abs(self.beats[k] + quarter * step - time) <= tolerance:
                count = self.counts[k]
                return Count(count.eight, count.count, quarter)
        return Seconds(round(float(time), 6))

    def beat_at(self, time: float) -> int | None:
        """Index of the beat sounding at `time`: the last at or before it, None in free time.

        Before the first beat, inside a free stretch and more than one interval after the last
        beat of a run there is no beat.
        """
        index = bisect_right(self.beats, time + SAME_PLACE / 5) - 1
        if index < 0:
            return None
        if self.free:
            stretch = bisect_right(self._free_starts, time) - 1
            if stretch >= 0 and time < self.free[stretch].end:
                return None
        ends_run = self.runs[self._run_of[index]][1] == index + 1
        return None if ends_run and time >= self.beats[index] + self.intervals[index] else index

    def phase_at(self, time: float) -> float | None:
        """Beats since the first beat of the track, with fraction; None in free time."""
        index = self.beat_at(time)
        if index is None:
            return None
        return index + (time - self.beats[index]) / self.intervals[index]

    def shift(self, time: float, length: Length) -> float:
        """The time `length` after `time` (negative values: before it).

        Counts are walked along the beats; where the beats end or free time begins they go on at
        the tempo last heard (120 BPM where there is none).
        """
        if not length.in_counts:
            return time + length.value
        index = self.beat_at(time)
        if index is None:
            return time + length.value * self._nearest_interval(time)
        first, last = self.runs[self._run_of[index]]
        target = index + (time - self.beats[index]) / self.intervals[index] + length.value
        if target < first:
            return self.beats[first] + (target - first) * self.interval(first)
        if target > last - 1:
            return self.beats[last - 1] + (target - last + 1) * self.interval(last - 1)
        whole = int(target)
        return self.beats[whole] + (target - whole) * self.interval(whole)

    def counts_between(self, start: float, end: float) -> float | None:
        """Counts from `start` to `end` when one run of beats holds both, else None."""
        a, b = self.phase_at(start), self.phase_at(end)
        if a is None or b is None:
            return None
        runs = self._run_of
        return b - a if runs[max(0, int(a))] == runs[max(0, int(b))] else None

    def nearest(self, time: float) -> int:
        """Index of the beat nearest to `time`, the earlier of two equally near.

        −1 when the map has no beat.
        """
        after = bisect_left(self.beats, time)
        if after == len(self.beats) or (
            after and time - self.beats[after - 1] <= self.beats[after] - time
        ):
            after -= 1
        return after

    def _nearest_interval(self, time: float) -> float:
        if not self.beats:
            return 0.5
        return self.interval(self.nearest(time))
