"""Where beats were laid over something that has none: speech, applause, held chords.

The bar-pointer model must follow something, and the network has heard neither speech nor every
kind of drone. But over such sound it is in doubt in four ways at once: it is less sure that a beat
is there, it spreads its opinion over many tempos, it leans less against free time, and the beats it
follows come unevenly. Windows of 8 s are judged by a logistic regression over these four, whose
weights were fitted on made music, rendered scores, made speech and speech by a synthesizer.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.beatpath import Beats
from rehearse.music.analysis.features import FPS
from rehearse.music.analysis.freetime import goes_on

Array = npt.NDArray[np.float64]

#: Log odds from which a window holds no beat, and above which its neighbours go with it. High:
#: a pianist's free tempo is a beat, and to lose it is worse than to follow a speaker for a while.
NONE, DOUBTFUL = 3.0, 0.5
_WINDOW, _HOP = 8.0, 1.0
_FEWEST = 3
# Constant; confidence of the beats; logarithm of the likeliest tempo's probability; the network's
# log odds of free time; logarithm of the mean change from one step to the next.
_WEIGHTS = (10.05, -9.24, -3.27, 0.23, 2.47)


def without_beat(beats: Beats, duration: float) -> list[tuple[float, float]]:
    """Stretches (start, end) in seconds, in rising order, over which the beats mean nothing."""
    starts = np.arange(0.0, max(duration - _WINDOW, 0.0) + 1e-6, _HOP)
    odds = np.array([_odds(beats, start, start + _WINDOW) for start in starts])
    found: list[tuple[float, float]] = []
    edges = np.flatnonzero(np.diff(np.concatenate([[0], (odds > DOUBTFUL).view(np.int8), [0]])))
    for first, last in edges.reshape(-1, 2).tolist():
        if odds[first:last].max() > NONE:
            # The windows at either end reach half into what stands beside.
            start = starts[first] + (_WINDOW / 2 if first else 0.0)
            end = starts[last - 1] + _WINDOW / 2 if last < len(starts) else duration
            end = max(end, start + _HOP)
            if not goes_on(beats.times, beats.confidence, start, end):
                found.append((float(start), float(end)))
    return found


def _odds(beats: Beats, start: float, end: float) -> float:
    """Log odds of there being no beat between two moments; −inf where too few were laid."""
    inside = (beats.times >= start) & (beats.times < end)
    if inside.sum() < _FEWEST:
        return -np.inf
    frames = slice(int(start * FPS), int(end * FPS))
    activation = beats.activation
    tempo = np.exp(activation.tempo[frames]).mean(axis=0).max()
    steps = np.log(np.diff(beats.times[inside]))
    uneven = np.abs(np.diff(steps)).mean()
    seen = (
        1.0,
        min(float(beats.confidence[inside].mean()), 0.97),
        np.log(max(float(tempo), 0.03)),
        np.clip(float(activation.free[frames].mean()), -12.0, 4.0),
        np.log(float(uneven) + 0.01),
    )
    return float(np.dot(_WEIGHTS, seen))
