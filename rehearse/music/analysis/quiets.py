"""Quiet stretches: where the song falls far below its own level.

Momentary loudness (mean over 400 ms of K-weighted power) against the song's gated loudness, both
after ITU-R BS.1770-4 (EBU Tech 3341 for the momentary window). How far below and for how long is
our choice: 15 LU and one second, which a plain rest between two beats does not reach.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.spectrum import FPS, Curves, Floats, decibels, smooth
from rehearse.music.beatmap import Stretch

#: Loudness units below the song's own loudness from which it is quiet.
BELOW = 15.0
#: Shortest quiet stretch, and the longest sound within one that does not end it; seconds.
SHORTEST, BLIP = 1.0, 0.4

_MOMENT = 0.4
_GATE, _SILENCE = 10.0, -69.0


def find_quiets(curves: Curves) -> tuple[Stretch, ...]:
    """Quiet stretches in order of time."""
    power = 10.0 ** (curves.level / 10.0)
    moment = decibels(smooth(power, _MOMENT))
    quiet = moment <= song_loudness(moment) - BELOW
    return tuple(
        Stretch(round(a, 6), round(min(b, curves.duration), 6)) for a, b in stretches(quiet)
    )


def song_loudness(moment: Floats) -> float:
    """Gated loudness of momentary loudnesses: those more than 10 LU below the mean do not count."""
    heard = moment[moment > _SILENCE]
    if not len(heard):
        return float(_SILENCE)
    ungated = 10.0 * np.log10(np.mean(10.0 ** (heard / 10.0)))
    loud = heard[heard > ungated - _GATE]
    return float(10.0 * np.log10(np.mean(10.0 ** (loud / 10.0))))


def stretches(flags: npt.NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Runs of true frames in seconds; short gaps are bridged, short runs left out."""
    runs: list[list[int]] = []
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    for first, last in edges.reshape(-1, 2).tolist():
        if runs and first - runs[-1][1] < BLIP * FPS:
            runs[-1][1] = last
        else:
            runs.append([first, last])
    return [(a / FPS, b / FPS) for a, b in runs if b - a >= SHORTEST * FPS]
