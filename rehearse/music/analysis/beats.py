"""Beats and bars of a song: band energies, beat activations, and the best path under them.

Conventions: times are seconds of the track, activations are probabilities per frame, `FPS`
frames a second, frame k centred on second k / `FPS`.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.barpointer import GRID, BarPointer
from rehearse.music.analysis.features import BANDS, FPS, band_energies

Floats = npt.NDArray[np.float32]
Times = npt.NDArray[np.float64]
Report = Callable[[float, str], None]


@dataclass(frozen=True, eq=False)
class Activation:
    """How strongly each frame speaks for a beat, a first beat of a bar, and free time.

    Args:
        beat: probability of a beat, shape (t,).
        first: probability that a beat here is the first of its bar, shape (t,).
        free: probability of there being no beat to follow, shape (t,).
    """

    beat: Floats
    first: Floats
    free: Floats


@dataclass(frozen=True, eq=False)
class Beats:
    """What was found.

    Args:
        times: seconds, strictly rising, shape (n,).
        places: place in the bar of each beat, 1 = first, shape (n,).
        confidence: how sure each beat is, 0..1, shape (n,).
        activation: what they were found from.
    """

    times: Times
    places: npt.NDArray[np.int64]
    confidence: Times
    activation: Activation


def find_beats(
    samples: Floats,
    sample_rate: int,
    report: Report | None = None,
    pins: Sequence[float] = (),
) -> Beats:
    """Find beats and bars.

    Args:
        samples: float32, shape (frames, channels), full scale ±1.
        sample_rate: Hz, 8000–192000.
        report: called with the fraction done, 0..1, and what is being done.
        pins: seconds at which a beat must be; the rest is decoded around them.
    """
    tell = report or (lambda fraction, text: None)
    energies = band_energies(samples, sample_rate, lambda done: tell(0.5 * done, "listening"))
    activation = _flux(energies)
    tell(0.6, "following the beat")
    beats = follow(activation, pins)
    tell(1.0, "beats found")
    return beats


def follow(activation: Activation, pins: Sequence[float] = ()) -> Beats:
    """The most likely beats under an activation, with a beat at every pin."""
    beat = _finer(_log_odds(activation.beat)) + 1.5
    first = 0.5 * _finer(_log_odds(activation.first))
    free = 0.1 * _finer(_log_odds(activation.free))
    path = BarPointer().decode(beat, first, free)
    times = path.frames / GRID
    confidence = np.interp(times, np.arange(len(activation.beat)) / FPS, activation.beat)
    return Beats(times, path.places, confidence, activation)


def free_stretches(beats: Beats, duration: float) -> tuple[tuple[float, float], ...]:
    """Stretches of at least 3 s without a beat, in rising order: (start, end) in seconds."""
    edges = np.concatenate([[0.0], beats.times, [duration]])
    if len(beats.times) < 2:
        return ((0.0, duration),)
    gaps = [(a, b) for a, b in itertools.pairwise(edges) if b - a > 3.0]
    step = float(np.median(np.diff(beats.times)))
    return tuple((a + (step if a > 0 else 0.0), b) for a, b in gaps)


def beats_of_file(path: str | Path) -> npt.NDArray[np.float64]:
    """Beats of an audio file that libsndfile reads: shape (n, 2), seconds and place in the bar."""
    import soundfile

    samples, rate = soundfile.read(str(path), dtype="float32", always_2d=True)
    beats = find_beats(samples, rate)
    return np.column_stack([beats.times, beats.places])


def _flux(energies: Floats) -> Activation:
    rise = np.maximum(0.0, energies[2:] - energies[:-2])
    weights = np.ones(BANDS, np.float32)
    weights[:6] = 4.0
    flux = np.concatenate([[0, 0], rise @ weights]).astype(np.float32)
    flux[:-1] = flux[1:]
    kernel = np.ones(101) / 101
    level = np.convolve(flux, kernel, "same") + 1e-6
    beat = np.clip(0.15 * flux / level, 0.01, 0.95).astype(np.float32)
    return Activation(beat, np.full_like(beat, 0.3), np.full_like(beat, 0.01))


def _log_odds(probability: Floats) -> Floats:
    inside = np.clip(probability, 0.005, 0.995)
    result: Floats = np.log(inside / (1 - inside)).astype(np.float32)
    return result


def _finer(curve: Floats) -> Floats:
    """The curve on the grid of the bar-pointer model."""
    frames = int((len(curve) - 1) * GRID / FPS) + 1
    at = np.arange(frames) * FPS / GRID
    return np.interp(at, np.arange(len(curve)), curve).astype(np.float32)
