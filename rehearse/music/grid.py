"""Changing the beats of a stretch and keeping the rest of the map in agreement with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap, Confidence, Stretch
from rehearse.words import _

Times = npt.NDArray[np.float64]

#: An eight restarts on the same beat after a correction when that moved no further, in beats.
SAME_BEAT = 0.45


def whole(beatmap: BeatMap) -> Stretch:
    """The whole track as a stretch."""
    return Stretch(0.0, beatmap.duration)


def replace_beats(
    beatmap: BeatMap, stretch: Stretch, times: Sequence[float], places: Sequence[int]
) -> BeatMap:
    """The map with the beats of `stretch` replaced.

    New beats outside the track, or not after the kept ones, are left out; free time gives way
    to new beats; an eight that restarted on a beat that is gone restarts on the one nearest.
    """
    before = [k for k, t in enumerate(beatmap.beats) if t < stretch.start]
    after = [k for k, t in enumerate(beatmap.beats) if t >= stretch.end]
    low = beatmap.beats[before[-1]] if before else -1.0
    high = beatmap.beats[after[0]] if after else beatmap.duration
    new: list[tuple[float, int]] = []
    for time, place in zip(times, places, strict=True):
        time = round(float(time), 6)
        if max(low, 0.0 if not new else new[-1][0]) < time < high or (time == 0.0 and not new):
            new.append((time, int(place)))
    rows = (
        [(beatmap.beats[k], beatmap.places[k]) for k in before]
        + new
        + [(beatmap.beats[k], beatmap.places[k]) for k in after]
    )
    free = beatmap.free
    if new:
        free = cut_free(free, Stretch(new[0][0], new[-1][0] + 1e-6))
    changed = replace(
        beatmap,
        beats=tuple(time for time, _unused in rows),
        places=tuple(place for _unused, place in rows),
        free=free,
    )
    return replace(changed, restarts=moved_restarts(beatmap, changed))


def cut_free(free: Sequence[Stretch], out: Stretch) -> tuple[Stretch, ...]:
    """Free time less the stretch `out`; slivers under 0.1 s go with it."""
    rest: list[Stretch] = []
    for stretch in free:
        for start, end in (
            (stretch.start, min(stretch.end, out.start)),
            (max(stretch.start, out.end), stretch.end),
        ):
            if end - start >= 0.1 or (start, end) == (stretch.start, stretch.end):
                rest.append(Stretch(round(start, 6), round(end, 6)))
    return tuple(dict.fromkeys(rest))


def with_confidence(beatmap: BeatMap, stretch: Stretch, value: float) -> BeatMap:
    """The map with the confidence of `stretch` set to `value`."""
    # Half-way between two beats may be half a millionth: the map is kept as it is written.
    stretch = Stretch(round(stretch.start, 6), round(stretch.end, 6))
    rest: list[Confidence] = []
    for old in beatmap.confidence:
        if old.start < stretch.start:
            rest.append(replace(old, end=min(old.end, stretch.start)))
        if old.end > stretch.end:
            rest.append(replace(old, start=max(old.start, stretch.end)))
    rest.append(Confidence(stretch.start, stretch.end, value))
    kept = sorted(c for c in set(rest) if c.end > c.start)
    return replace(beatmap, confidence=tuple(kept))


def bounds(beatmap: BeatMap, first: int, last: int) -> tuple[float, float]:
    """How far the run of beats [first, last) could reach: to free time or the track's ends."""
    low = max((s.end for s in beatmap.free if s.end <= beatmap.beats[first]), default=0.0)
    high = min(
        (s.start for s in beatmap.free if s.start > beatmap.beats[last - 1]),
        default=beatmap.duration,
    )
    return low, high


def bar_length(beatmap: BeatMap, first: int, last: int) -> int:
    """Beats in a bar among beats [first, last): the highest place, at least 1."""
    return max(beatmap.places[first:last], default=1)


def run_of(beatmap: BeatMap, index: int) -> tuple[int, int]:
    """The run of beats [first, last) that holds beat `index`."""
    return next(run for run in beatmap.runs if run[0] <= index < run[1])


def nearest_beat(beatmap: BeatMap, time: float) -> int:
    """Index of the beat closest to `time`.

    Raises:
        UserError: the map has no beats.
    """
    if not beatmap.beats:
        raise UserError(_("the map has no beats yet"), do=_("tap along to set them"))
    return int(np.argmin(np.abs(beatmap.times - time)))


def moved_restarts(old: BeatMap, new: BeatMap) -> tuple[float, ...]:
    """Beats of `new` at which eights restart, each close to one of `old` where they did."""
    moved = set()
    for time in old.restarts:
        if not new.beats:
            continue
        index = nearest_beat(new, time)
        if abs(new.beats[index] - time) <= SAME_BEAT * new.interval(index):
            moved.add(new.beats[index])
    return tuple(sorted(moved))
