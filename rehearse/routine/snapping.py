"""From a time on the waveform to a position worth writing down."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Position, Seconds

#: An accent this near a half count is meant to be on it, in seconds: onsets and beats are each
#: found to a few hundredths (common practice, no source).
ON_THE_COUNT = 0.05
#: The same for the quarters between.
_ON_A_QUARTER = 0.03


class Snap(StrEnum):
    """What a dragged or tapped pose jumps to."""

    COUNTS = "counts"
    HALVES = "half counts"
    QUARTERS = "quarter counts"
    ACCENTS = "accents"
    NOTHING = "nothing"


_QUARTERS = {Snap.COUNTS: (0,), Snap.HALVES: (0, 2), Snap.QUARTERS: (0, 1, 2, 3)}


def snap(beatmap: BeatMap, time: float, to: Snap = Snap.COUNTS) -> Position:
    """The position nearest to `time` (seconds) on the chosen grid.

    In free time there is no grid: the answer is in seconds, to the hundredth. Times outside the
    track are brought to its nearer end.
    """
    time = min(max(0.0, time), beatmap.duration)
    if to is Snap.NOTHING:
        return beatmap.position_at(round(time, 3))
    if to is Snap.ACCENTS:
        if not beatmap.marked:
            return snap(beatmap, time, Snap.HALVES)
        accent = min(beatmap.marked, key=lambda a: abs(a.time - time))
        return place_of_accent(beatmap, accent.time)
    return _nearest(beatmap, time, _QUARTERS[to]) or Seconds(round(time, 2))


def place_of_accent(beatmap: BeatMap, time: float) -> Position:
    """Where a hit on the accent at `time` is written: its count, or seconds beside the counts."""
    near = _nearest(beatmap, time, _QUARTERS[Snap.HALVES])
    if near is not None and abs(beatmap.time_of(near) - time) <= ON_THE_COUNT:
        return near
    return beatmap.position_at(time, _ON_A_QUARTER)


def _nearest(beatmap: BeatMap, time: float, quarters: tuple[int, ...]) -> Position | None:
    if any(time in stretch for stretch in beatmap.free):
        return None
    index = int(np.searchsorted(beatmap.times, time, side="right")) - 1
    best: tuple[float, Position] | None = None
    for k in (index, index + 1):
        if not 0 <= k < len(beatmap.beats):
            continue
        step, count = beatmap.interval(k), beatmap.counts[k]
        for quarter in quarters:
            distance = abs(beatmap.beats[k] + quarter / 4 * step - time)
            # A whole interval away there is no beat: before the first one or after the last.
            if distance < step and (best is None or distance < best[0]):
                best = distance, Count(count.eight, count.count, quarter)
    return best[1] if best else None
