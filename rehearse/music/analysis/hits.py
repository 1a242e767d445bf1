"""Accents as a choreographer hears them: hits that stand out of what surrounds them, in grades.

Of every onset is measured, against the onsets within 8 s: how steeply the loudness rises (over
what sounded just before), how much begins at once (spectral flux; Böck & Widmer, DAFx 2013), how
much bass begins, how loud it gets, how long it rings beyond its neighbours, and how silent it was
before. Where it stands in the phrase counts a little: on a 1, on the first beat of a part. What
stands out of its surroundings is compared in spreads (median and median deviation), so a soft
stretch has hits of its own, and a loud groove of equal beats has none that are strong.

The grade tells how far a hit stands out: a clear one has its grade wherever it is, another where it
is the best for some seconds, so that every lively stretch offers some. The weights were set on made
songs (seeds 20 to 31 of `tests/music/made.py`; the tests use others). `tests/bench/accents.py`
prints for any piece how far each hit rises and which rank its flux has.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.accents import (
    loudness,
    onset_peaks,
    refine_onset,
    ringing,
    salience,
    strongest_within,
)
from rehearse.music.analysis.spectrum import FPS, Curves, Floats, smooth
from rehearse.music.beatmap import LIGHT, MEDIUM, STRONG, Accent

Times = npt.NDArray[np.float64]
Frames = npt.NDArray[np.int64]

#: For strong, medium and light hits: the score from which one is clear, the least score, and the
#: seconds by which one that is not clear stands apart from others of its grade or a higher one.
GRADED = ((8.0, 3.2, 7.0), (5.2, 1.0, 3.2), (3.0, 0.3, 1.2))
#: Fewest onsets that make music of a sound.
FEWEST = 5
#: Seconds between two accents, and decibels by which each rises, at least.
APART, LEAST_RISE = 0.22, 1.0

_AROUND = 8.0
# Spread below which a difference means nothing: decibels of rise, flux, decibels of bass.
_FLOORS = (2.0, 1.0, 3.0)
_WEIGHTS = (0.9, 0.7, 0.6)
# Weights of loudness (octaves), ringing (dB) and silence before; decibels that make it quieter.
_LOUD, _RING, _SILENCE, _QUIETER = 1.8, 0.7, 0.7, 3.0
# What a place is worth, and seconds by which an onset may be off it.
_ON_PART, _ON_ONE, _ON_BEAT, _NEAR = 0.8, 0.4, 0.15, 0.06
# Bands of the bass, up to about 170 Hz.
_BASS = slice(0, 4)


def find_hits(
    curves: Curves,
    beats: Sequence[float] = (),
    ones: Sequence[float] = (),
    parts: Sequence[float] = (),
) -> tuple[Accent, ...]:
    """Accents in order of time; their strengths tell their grades (`Accent.grade`).

    Args:
        curves: of the whole song.
        beats, ones, parts: seconds of the beats, of the first ones of bars, and of parts' starts.
    """
    peaks = onset_peaks(curves)
    if len(peaks) < FEWEST:
        return ()
    loud = loudness(curves)
    peaks = strongest_within(peaks, np.array([loud[k : k + 7].max() for k in peaks]))
    score, rise = _scores(curves, peaks, loud)
    score = score + _placed(peaks / FPS, (parts, ones, beats))
    found = _chosen(peaks / FPS, score, rise)
    times = {round(refine_onset(curves.mono, peaks[k] / FPS), 6): s for k, s in found}
    return tuple(Accent(time, strength) for time, strength in sorted(times.items()))


def _scores(curves: Curves, peaks: Frames, loud: Floats) -> tuple[Times, Times]:
    """How far each onset stands out, and by how many decibels it rises."""
    level, bass = smooth(curves.level, 0.02), smooth(curves.bands[:, _BASS].mean(axis=1), 0.03)
    rise, low = _rise(level, peaks), _rise(bass, peaks)
    found = np.zeros(len(peaks))
    columns = (rise, curves.flux[peaks].astype(np.float64), low)
    for column, floor, weight in zip(columns, _FLOORS, _WEIGHTS, strict=True):
        found += weight * np.clip(_apart(peaks / FPS, column, floor), -1.5, 3.5)
    hits = np.array([loud[k : k + 7].max() for k in peaks])
    found += _LOUD * np.clip(salience(peaks / FPS, hits), -1.5, 3.0)
    found += _RING * np.clip(ringing(curves, peaks), 0.0, 6.0)
    quiet = np.array([level[max(0, k - 80) : max(1, k - 4)].mean() for k in peaks])
    silence = np.clip(-_apart(peaks / FPS, quiet, _QUIETER) - 1.0, 0.0, 3.0)
    # Silence before a whisper is no stop.
    heights = np.array([level[k : k + 12].max() for k in peaks])
    whisper = _apart(peaks / FPS, heights, 2.0) < -1.0
    return found + _SILENCE * silence * ~whisper, rise


def _rise(level: Floats, peaks: Frames) -> Times:
    """Decibels from what sounded just before an onset to its loudest 120 ms."""
    after = np.array([level[k : k + 12].max() for k in peaks])
    before = np.array([level[max(0, k - 18) : max(1, k - 3)].mean() for k in peaks])
    return np.asarray(after - before, np.float64)


def _apart(times: Times, values: Times, floor: float) -> Times:
    """Each value against those within 8 s, in their spread (1.48 median deviations)."""
    result = np.zeros(len(values))
    whole = float(np.median(values))
    for k, time in enumerate(times):
        low, high = np.searchsorted(times, (time - _AROUND, time + _AROUND))
        around = np.delete(values[low:high], k - low)
        middle = float(np.median(around)) if len(around) > 3 else whole
        spread = 1.48 * float(np.median(np.abs(around - middle))) if len(around) > 3 else 0.0
        result[k] = (values[k] - middle) / (spread + floor)
    return result


def _placed(times: Times, places: tuple[Sequence[float], ...]) -> Times:
    """What the best of an onset's places is worth."""
    result = np.zeros(len(times))
    for known, worth in zip(places, (_ON_PART, _ON_ONE, _ON_BEAT), strict=True):
        if len(known):
            near = np.abs(times[:, None] - np.asarray(known)[None, :]).min(axis=1) <= _NEAR
            result = np.maximum(result, worth * near)
    return result


def _chosen(times: Times, score: Times, rise: Times) -> list[tuple[int, float]]:
    """Index and strength of each accent, in order of time.

    The best take their places first. What is clear has its grade wherever it stands; what is less
    has it where no other of that grade, nor of a higher one, is near.
    """
    taken: dict[int, int] = {}
    for k in np.argsort(-score).tolist():
        near = np.array([abs(times[k] - times[other]) for other in taken])
        if rise[k] < LEAST_RISE or (near.size and near.min() < APART):
            continue
        for grade, (clear, least, apart) in enumerate(GRADED):
            rivals = [n for n, other in zip(near, taken.values(), strict=True) if other <= grade]
            if score[k] >= clear or (score[k] >= least and min(rivals, default=apart) >= apart):
                taken[k] = grade
                break
    return [(k, _strength(float(score[k]), taken[k])) for k in sorted(taken)]


def _strength(score: float, grade: int) -> float:
    """0..1: within a grade the higher the further it stands out."""
    low, high = (STRONG, MEDIUM, LIGHT)[grade], (1.0, STRONG, MEDIUM)[grade]
    _, least, _ = GRADED[grade]
    share = min(max((score - least) / 8.0, 0.0), 0.98)
    return round(low + share * (high - low), 4)
