"""Corrections of a beat map: each a pure function from map to map, to be undone as one step.

Conventions: `stretch` is the part of the track that is corrected, the whole track when None.
Corrections that find nothing to do where they were asked to raise a `UserError` that says so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from rehearse.files.user_error import UserError
from rehearse.music import grid
from rehearse.music.beatmap import SAME_PLACE, Accent, BeatMap, Reading, Stretch
from rehearse.music.taps import regular_beats
from rehearse.words import _

#: How near an accent must be to be struck, seconds.
ACCENT_REACH = 0.25
#: Certainty of beats that the athlete set by hand.
BY_HAND = 1.0


def double_tempo(beatmap: BeatMap, stretch: Stretch | None = None) -> BeatMap:
    """Twice as many beats: one more halfway to each next beat."""
    for first, last, low, high in _runs(beatmap, stretch):
        bar = grid.bar_length(beatmap, first, last)
        rows: list[tuple[float, int]] = []
        for k in range(first, last):
            beat, place = beatmap.beats[k], beatmap.places[k]
            rows.append((beat, (2 * place - 2) % bar + 1))
            rows.append((beat + beatmap.interval(k) / 2, (2 * place - 1) % bar + 1))
        beatmap = _put(beatmap, low, high, rows)
    return beatmap


def halve_tempo(beatmap: BeatMap, stretch: Stretch | None = None) -> BeatMap:
    """Half as many beats: the first of the bar and every second from there stay."""
    for first, last, low, high in _runs(beatmap, stretch):
        ones = [k for k in range(first, last) if beatmap.places[k] == 1]
        one = ones[0] if ones else first
        bar = grid.bar_length(beatmap, first, last)
        kept = [k for k in range(first, last) if (k - one) % 2 == 0]
        places = [(k - one) // 2 % bar + 1 for k in kept]
        times = [beatmap.beats[k] for k in kept]
        beatmap = grid.replace_beats(beatmap, Stretch(low, high), times, places)
    return beatmap


def shift_beats(beatmap: BeatMap, counts: float, stretch: Stretch | None = None) -> BeatMap:
    """Move the grid along itself by `counts` beats (0.5: onto the off-beat; 1: the 1 a beat later).

    The moved beats keep their places in the bar and follow the tempo where it changes.
    """
    for first, last, low, high in _runs(beatmap, stretch):
        bar = grid.bar_length(beatmap, first, last)
        reach = int(abs(counts)) + 1
        indices = np.arange(first - reach, last + reach)
        # The grid reaches beyond its old ends by what it moves within a beat, no further.
        phase, part = indices + counts, math.fmod(counts, 1.0)
        indices = indices[(phase >= first + min(0.0, part)) & (phase <= last - 1 + max(0.0, part))]
        times = _at_phase(beatmap, first, indices + counts)
        places = [_place_at(beatmap, first, last, k) % bar + 1 for k in indices.tolist()]
        beatmap = _put(beatmap, low, high, list(zip(times.tolist(), places, strict=True)))
    return beatmap


def nudge(beatmap: BeatMap, seconds: float, stretch: Stretch | None = None) -> BeatMap:
    """Move beats by `seconds` (negative: earlier)."""
    for first, last, low, high in _runs(beatmap, stretch):
        times = [t + seconds for t in beatmap.beats[first:last]]
        places = beatmap.places[first:last]
        rows = [(t, p) for t, p in zip(times, places, strict=True) if 0.0 <= t < beatmap.duration]
        around = Stretch(min(low, beatmap.beats[first]), high)
        beatmap = grid.replace_beats(
            beatmap, around, [t for t, _unused in rows], [p for _unused, p in rows]
        )
    return beatmap


def set_one(beatmap: BeatMap, time: float) -> BeatMap:
    """Make the beat closest to `time` a first of the bar; bars run on from it both ways.

    Certainty is that of the beats times that of their places. With the places settled, their half
    of the doubt goes: the square root is left.
    """
    index = grid.nearest_beat(beatmap, time)
    first, last = grid.run_of(beatmap, index)
    bar = grid.bar_length(beatmap, first, last)
    low, high = beatmap.beats[first], beatmap.beats[last - 1]
    settled = tuple(
        replace(c, value=round(math.sqrt(c.value), 4)) if c.start <= high and c.end > low else c
        for c in beatmap.confidence
    )
    return replace(_with_places(beatmap, first, last, index, bar), confidence=settled)


def set_bar(beatmap: BeatMap, beats: int, stretch: Stretch | None = None) -> BeatMap:
    """Make bars of `beats` beats (2 to 7), from the first 1 onward and back from it."""
    if not 2 <= beats <= 7:
        raise UserError(
            _("a bar of {beats} beats cannot be set", beats=beats), do=_("choose 2 to 7")
        )
    for first, last, _unused, _unused in _runs(beatmap, stretch):
        places = beatmap.places[first:last]
        one = first + (places.index(1) if 1 in places else 0)
        beatmap = _with_places(beatmap, first, last, one, beats)
    return beatmap


def tap_along(beatmap: BeatMap, taps: Sequence[float], onsets: Sequence[float] = ()) -> BeatMap:
    """Replace the beats from the first tap to the last by what was tapped; the first tap is a 1.

    Args:
        beatmap: the map.
        taps: seconds of the track heard at each tap.
        onsets: seconds of onsets in the music there; they show by how much the hand was early.

    Raises:
        UserError: too few or too uneven taps.
    """
    beats = regular_beats(taps, onsets)
    beats = beats[(beats >= 0) & (beats < beatmap.duration)]
    half = float(np.median(np.diff(beats))) / 2
    start, end = float(beats[0]) - half, float(beats[-1]) + half
    around = Stretch(max(0.0, start), min(end, beatmap.duration))
    bar = _bar_near(beatmap, around)
    places = [k % bar + 1 for k in range(len(beats))]
    changed = grid.replace_beats(beatmap, around, beats.tolist(), places)
    return grid.with_confidence(changed, around, BY_HAND)


def take_beats(
    beatmap: BeatMap,
    stretch: Stretch,
    times: Sequence[float],
    places: Sequence[int],
    confidence: float = BY_HAND,
) -> BeatMap:
    """Replace the beats of `stretch` by others, such as those found around pinned beats."""
    changed = grid.replace_beats(beatmap, stretch, times, places)
    return grid.with_confidence(changed, stretch, confidence)


def take_reading(beatmap: BeatMap, reading: Reading, stretch: Stretch | None = None) -> BeatMap:
    """The map counted as `reading` has it; free time stays free, eights restart on their beats."""
    if stretch is not None:
        rows = [r for r in zip(reading.times, reading.places, strict=True) if r[0] in stretch]
        return grid.replace_beats(
            beatmap, stretch, [t for t, _unused in rows], [p for _unused, p in rows]
        )
    rows = [
        (time, place)
        for time, place in zip(reading.times, reading.places, strict=True)
        if 0.0 <= time < beatmap.duration and not any(time in s for s in beatmap.free)
    ]
    if len(rows) < 2:
        raise UserError(_("there are no beats in this reading"), do=_("tap along to set them"))
    changed = replace(
        beatmap,
        beats=tuple(time for time, _unused in rows),
        places=tuple(place for _unused, place in rows),
        confidence=tuple(
            replace(c, end=min(c.end, beatmap.duration))
            for c in reading.confidence
            if c.start < beatmap.duration
        ),
    )
    return replace(changed, restarts=grid.moved_restarts(beatmap, changed))


def mark_free(beatmap: BeatMap, stretch: Stretch) -> BeatMap:
    """Make `stretch` free time: its beats go, and it joins free time that it touches."""
    start, end = stretch.start, stretch.end
    apart = []
    for old in beatmap.free:
        if old.end < start or old.start > end:
            apart.append(old)
        else:
            start, end = min(start, old.start), max(end, old.end)
    joined = Stretch(round(start, 6), round(end, 6))
    emptied = grid.replace_beats(replace(beatmap, free=()), joined, (), ())
    return replace(emptied, free=tuple(sorted([*apart, joined])))


def lift_free(beatmap: BeatMap, time: float) -> BeatMap:
    """Turn the free time at `time` back into counts, evenly between the beats on either side.

    Raises:
        UserError: there is no free time at `time`.
    """
    stretch = next((s for s in beatmap.free if time in s), None)
    if stretch is None:
        raise UserError(_("there is no free time here"), do=_("choose a stretch of free time"))
    times, places = _bridge(beatmap, stretch)
    opened = replace(beatmap, free=tuple(s for s in beatmap.free if s != stretch))
    return grid.replace_beats(opened, stretch, times, places)


def add_accent(beatmap: BeatMap, time: float, strength: float = 1.0) -> BeatMap:
    """Add an accent; one already within a few milliseconds is replaced."""
    others = [a for a in beatmap.accents if abs(a.time - time) > SAME_PLACE * 10]
    return replace(beatmap, accents=tuple(sorted([*others, Accent(round(time, 6), strength)])))


def strike_accent(beatmap: BeatMap, time: float) -> BeatMap:
    """Strike the accent closest to `time`; a build that led to it leads nowhere now.

    Raises:
        UserError: there is none within a quarter of a second.
    """
    nearest = min(beatmap.accents, key=lambda a: abs(a.time - time), default=None)
    if nearest is None or abs(nearest.time - time) > ACCENT_REACH:
        raise UserError(_("there is no accent here"), do=_("go to an accent first"))
    builds = tuple(
        replace(b, accent=None) if b.accent == nearest.time else b for b in beatmap.builds
    )
    accents = tuple(a for a in beatmap.accents if a != nearest)
    return replace(beatmap, accents=accents, builds=builds)


def toggle_restart(beatmap: BeatMap, time: float) -> BeatMap:
    """Begin a new eight on the beat closest to `time`, or no longer."""
    beat = beatmap.beats[grid.nearest_beat(beatmap, time)]
    rest = tuple(t for t in beatmap.restarts if abs(t - beat) > SAME_PLACE)
    if len(rest) == len(beatmap.restarts):
        rest = tuple(sorted([*rest, beat]))
    return replace(beatmap, restarts=rest)


def _runs(beatmap: BeatMap, stretch: Stretch | None) -> Iterator[tuple[int, int, float, float]]:
    """Beats [first, last) of each run inside the stretch, and the time they may fill.

    From the last run to the first, so that a change leaves the indices still to come alone.
    """
    stretch = stretch or grid.whole(beatmap)
    found = []
    for first, last in beatmap.runs:
        low, high = grid.bounds(beatmap, first, last)
        low, high = max(low, stretch.start), min(high, stretch.end)
        a, b = np.searchsorted(beatmap.times, (low, high))
        a, b = max(first, int(a)), min(last, int(b))
        if b > a:
            found.append((a, b, low, high))
    if not found:
        raise UserError(_("there are no beats here"), do=_("tap along to set them"))
    yield from reversed(found)


def _put(beatmap: BeatMap, low: float, high: float, rows: Sequence[tuple[float, int]]) -> BeatMap:
    """The map with `rows` in place of its beats in [low, high); rows beyond are left out."""
    inside = [row for row in rows if low <= row[0] < high]
    times, places = [t for t, _unused in inside], [p for _unused, p in inside]
    return grid.replace_beats(beatmap, Stretch(low, high), times, places)


def _at_phase(beatmap: BeatMap, index: int, phase: npt.NDArray[np.floating]) -> grid.Times:
    """Times at fractional beat indices of the run that holds `index`.

    Beyond the run's ends its first and last tempo go on.
    """
    first, last = grid.run_of(beatmap, index)
    beats = beatmap.times[first:last]
    result: grid.Times = np.interp(phase, np.arange(first, last), beats)
    early, late = phase < first, phase > last - 1
    result[early] = beats[0] + (phase[early] - first) * beatmap.interval(first)
    result[late] = beats[-1] + (phase[late] - last + 1) * beatmap.interval(last - 1)
    return result


def _place_at(beatmap: BeatMap, first: int, last: int, index: int) -> int:
    """Place in the bar, from 0 and unwrapped, of beat `index`, counted on beyond [first, last)."""
    inside = min(max(index, first), last - 1)
    return beatmap.places[inside] - 1 + index - inside


def _with_places(beatmap: BeatMap, first: int, last: int, one: int, bar: int) -> BeatMap:
    places = list(beatmap.places)
    for k in range(first, last):
        places[k] = (k - one) % bar + 1
    return replace(beatmap, places=tuple(places))


def _bar_near(beatmap: BeatMap, stretch: Stretch) -> int:
    """Beats in a bar as they were there, or as in the rest of the song, or four."""
    inside = [p for t, p in zip(beatmap.beats, beatmap.places, strict=True) if t in stretch]
    return max(inside or beatmap.places, default=4)


def _bridge(beatmap: BeatMap, stretch: Stretch) -> tuple[list[float], list[int]]:
    """Even beats across a stretch without any."""
    before = int(np.searchsorted(beatmap.times, stretch.start)) - 1
    after = before + 1
    bar = max(beatmap.places, default=4)
    if before < 0 and after >= len(beatmap.beats):
        return [], []
    if before < 0:
        step = beatmap.interval(after)
        count = int((beatmap.beats[after] - stretch.start) / step)
        back = range(count, 0, -1)
        place = beatmap.places[after]
        return (
            [beatmap.beats[after] - k * step for k in back],
            [(place - 1 - k) % bar + 1 for k in back],
        )
    start, step = beatmap.beats[before], beatmap.interval(before)
    if after < len(beatmap.beats):
        gap = beatmap.beats[after] - start
        step = gap / max(1, round(gap / ((step + beatmap.interval(after)) / 2)))
        count = round(gap / step) - 1
    else:
        count = int((stretch.end - start) / step - 1e-6)
    ahead = range(1, count + 1)
    place = beatmap.places[before]
    return [start + k * step for k in ahead], [(place - 1 + k) % bar + 1 for k in ahead]
