"""Counts where none were found: four taps give a song, or a stretch of free time, its counts.

Some music has no beat that can be heard out of it – held chords, a voice, wind –, and yet a body
moves in counts. There the taps' own tempo is carried on, evenly, as a dancer would count over it.
Where the song has a beat after all at the tempo that was tapped, that beat is followed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from rehearse.music import grid
from rehearse.music.beatmap import BeatMap, Reading, Stretch
from rehearse.music.correct import BY_HAND, take_reading
from rehearse.music.taps import regular_beats

#: Mean certainty from which beats near the tapped tempo are followed, and the widest step among
#: them, in steps of the median: where a beat is lost for longer, it is not one to count by.
_FOLLOWED, _WIDEST = 0.55, 1.5
_BAR = 4


def take_tapped(beatmap: BeatMap, reading: Reading, taps: Sequence[float]) -> BeatMap:
    """The map counted as taps mean it, the first of them on a 1.

    Taps in free time give it counts: all of the song where that has none to speak of, else the
    stretch that was tapped in. Elsewhere the song is counted as `reading` has it.

    Args:
        reading: of the whole song, at the tempo that was tapped.
        taps: seconds of the track heard at each tap, at least four.

    Raises:
        UserError: too few or too uneven taps, or no beats in the reading.
    """
    meant = regular_beats(taps)
    stretch = _tapped_in(beatmap, float(meant[0]))
    if stretch is None:
        return take_reading(beatmap, reading)
    rows = [r for r in zip(reading.times, reading.places, strict=True) if r[0] in stretch]
    if not _can_be_followed(reading, [time for time, _unused in rows], stretch):
        rows = _steady(meant, stretch)
    free = tuple(s for s in beatmap.free if not stretch.start <= s.start < stretch.end)
    changed = grid.replace_beats(
        replace(beatmap, free=free), stretch, [t for t, _unused in rows], [p for _unused, p in rows]
    )
    changed = _eight_at(changed, float(meant[0]))
    return grid.with_confidence(changed, stretch, BY_HAND)


def _tapped_in(beatmap: BeatMap, time: float) -> Stretch | None:
    """What gets counts by taps at `time`; None where it has some."""
    if not beatmap.has_counts:
        return grid.whole(beatmap)
    return next((s for s in beatmap.free if time in s), None)


def _can_be_followed(reading: Reading, times: Sequence[float], stretch: Stretch) -> bool:
    if len(times) < 2:
        return False
    edges = np.array([stretch.start, *times, stretch.end])
    steps = np.diff(edges)
    if steps.max() > _WIDEST * np.median(steps):
        return False
    inside = [
        (min(c.end, stretch.end) - max(c.start, stretch.start), c.value) for c in reading.confidence
    ]
    sure = sum(length * value for length, value in inside if length > 0)
    return sure >= _FOLLOWED * (stretch.end - stretch.start)


def _steady(meant: grid.Times, stretch: Stretch) -> list[tuple[float, int]]:
    """The tapped counts carried on at their own tempo to both ends of the stretch."""
    step = float(np.polyfit(np.arange(len(meant)), meant, 1)[0])
    # Beside a stretch that is counted a count of less than half the step would be a stumble.
    low, high = stretch.start + (step / 2 if stretch.start else 0.0), stretch.end - step / 2
    first = int(np.ceil((low - meant[0]) / step))
    last = int(np.floor((high - meant[0]) / step))
    return [(float(meant[0]) + k * step, k % _BAR + 1) for k in range(first, last + 1)]


def _eight_at(beatmap: BeatMap, time: float) -> BeatMap:
    """A new eight on the beat at `time`, unless one begins there."""
    index = beatmap.nearest(time)
    if index < 0 or beatmap.counts[index].count == 1:
        return beatmap
    return replace(beatmap, restarts=tuple(sorted({*beatmap.restarts, beatmap.beats[index]})))
