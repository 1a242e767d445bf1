"""The whole beat map of a song, as a worker process makes it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.accents import AWAITED, find_accents, hits_on
from rehearse.music.analysis.beats import Beats, find_beats, free_stretches
from rehearse.music.analysis.builds import find_builds
from rehearse.music.analysis.freetime import GAP, find_free
from rehearse.music.analysis.parts import find_parts
from rehearse.music.analysis.quiets import find_quiets
from rehearse.music.analysis.spectrum import Curves, listen
from rehearse.music.analysis.unheld import without_beat
from rehearse.music.beatmap import Accent, BeatMap, Build, Confidence, Stretch
from rehearse.music.settle import settle
from rehearse.music.track import Track

Report = Callable[[float, str], None]

#: Beats in one stretch of confidence: an eight.
EIGHT = 8


def analyse(track: Track, report: Report | None = None) -> BeatMap:
    """Map a song: beats, bars, free time, accents, builds, quiet stretches, parts, confidence.

    Args:
        track: the song.
        report: called with the fraction done and what is being done; may raise to stop.
    """
    tell = report or (lambda fraction, text: None)
    beats = find_beats(
        track.samples, track.sample_rate, lambda done, text: tell(0.7 * done, "Finding the beats")
    )
    curves = listen(
        track.samples,
        track.sample_rate,
        lambda done: tell(0.7 + 0.2 * done, "Finding accents and builds"),
    )
    tell(0.9, "Finding accents and builds")
    beatmap = assemble(track, beats, curves)
    tell(1.0, "The map is ready")
    return beatmap


def assemble(track: Track, beats: Beats, curves: Curves) -> BeatMap:
    """The map, from the beats and the curves of the song."""
    duration = track.duration
    free = find_free(
        curves,
        beats.times.tolist(),
        beats.confidence.tolist(),
        free_stretches(beats, duration),
        without_beat(beats, duration),
    )
    kept = _outside(beats, free, duration)
    times = tuple(round(float(t), 6) for t in beats.times[kept])
    places = tuple(int(p) for p in beats.places[kept])
    bars = [t for t, place in zip(times, places, strict=True) if place == 1]
    faint = find_accents(curves, AWAITED, sparsest=np.inf)
    plain = hits_on(curves, bars)
    builds = find_builds(curves, faint, [hit.time for hit in plain])
    found = BeatMap(
        track_hash=track.content_hash,
        duration=duration,
        beats=times,
        places=places,
        free=free,
        accents=_with_awaited(find_accents(curves), faint + plain, builds),
        builds=builds,
        quiets=find_quiets(curves),
        parts=find_parts(curves, bars, duration),
        confidence=confidence_stretches(times, (beats.confidence * beats.sure)[kept], duration),
    )
    return settle(found)


def _with_awaited(
    clear: tuple[Accent, ...], faint: tuple[Accent, ...], builds: tuple[Build, ...]
) -> tuple[Accent, ...]:
    """The clear accents, and those of the others that a build leads to."""
    ends = {b.accent for b in builds} - {a.time for a in clear}
    awaited = {a.time: a for a in sorted(faint, key=lambda a: a.strength) if a.time in ends}
    return tuple(sorted([*clear, *awaited.values()]))


def confidence_stretches(
    times: tuple[float, ...], confidence: npt.NDArray[np.float64], duration: float
) -> tuple[Confidence, ...]:
    """Confidence of every eight beats: how sure they and their 1 are, less for an uneven step.

    The mean of the beats' own confidence (that a beat is there, times that it has its place in
    the bar) times the share of intervals within 12 % of their median; the share lets a jump
    between two grids show as doubt.
    """
    if len(times) < 2:
        return ()
    steps = np.diff(times)
    steps = np.append(steps, min(steps[-1], duration - times[-1]))
    usual = float(np.median(steps))
    result = []
    for first in range(0, len(times), EIGHT):
        last = min(first + EIGHT, len(times))
        inside = steps[first : min(last, len(times) - 1)]
        even = float(np.mean(np.abs(inside / np.median(inside) - 1) < 0.12)) if len(inside) else 1
        value = float(np.mean(confidence[first:last])) * even
        # Nothing is sure or unsure where there are no beats.
        end = times[last - 1] + float(steps[last - 1] if steps[last - 1] < GAP * usual else usual)
        result.append(Confidence(times[first], round(end, 6), round(min(1.0, max(0.0, value)), 4)))
    return tuple(result)


def _outside(beats: Beats, free: tuple[Stretch, ...], duration: float) -> npt.NDArray[np.bool_]:
    kept = beats.times < duration
    for stretch in free:
        kept &= ~((beats.times >= stretch.start) & (beats.times < stretch.end))
    return kept
