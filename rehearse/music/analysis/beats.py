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

from rehearse.music.analysis import network
from rehearse.music.analysis.barpointer import GRID, INTERVALS, BarPointer
from rehearse.music.analysis.features import FPS, band_energies
from rehearse.music.analysis.network import Activation, activation_of

Floats = npt.NDArray[np.float32]
Times = npt.NDArray[np.float64]
# How the network's log odds are weighed against the habits of the bar-pointer model, and the odds
# at which a beat is taken; chosen on generated music.
_LEAN, _SURE = 1.5, 5.0
_FIRST_WEIGHT, _FREE_WEIGHT, _TEMPO_WEIGHT = 0.5, 0.05, 0.8
Report = Callable[[float, str], None]


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
    activation = activation_of(energies)
    tell(0.6, "following the beat")
    beats = follow(activation, pins)
    tell(1.0, "beats found")
    return beats


def follow(activation: Activation, pins: Sequence[float] = ()) -> Beats:
    """The most likely beats under an activation, with a beat at every pin."""
    path = BarPointer().decode(*_scores(activation, pins))
    times = path.frames / GRID
    confidence = np.interp(times, np.arange(len(activation.beat)) / FPS, activation.chance)
    return Beats(times, path.places, confidence, activation)


def _scores(activation: Activation, pins: Sequence[float]) -> tuple[Floats, Floats, Floats, Floats]:
    """What the network says, weighed and on the decoder's grid: beat, first, free, tempo."""
    beat = np.clip(_finer(activation.beat) + _LEAN, -_SURE, _SURE)
    first = _FIRST_WEIGHT * _finer(activation.first)
    free = _FREE_WEIGHT * np.clip(_finer(activation.free), -6.0, 6.0)
    tempo = _TEMPO_WEIGHT * np.maximum(activation.tempo @ _between_tempos(), -8.0)
    frames = np.round(np.arange(len(beat)) * FPS / GRID).astype(np.int64)
    return beat, first, free, tempo[np.minimum(frames, len(tempo) - 1)].astype(np.float32)


def _between_tempos() -> Floats:
    """Matrix that interpolates from the network's tempos to the decoder's, shape (48, 96)."""
    own = np.log(np.asarray(network.INTERVALS))
    rows = [np.interp(np.log(INTERVALS), own, row) for row in np.eye(len(own))]
    return np.array(rows, np.float32)


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


def _finer(curve: Floats) -> Floats:
    """The curve on the grid of the bar-pointer model."""
    frames = int((len(curve) - 1) * GRID / FPS) + 1
    at = np.arange(frames) * FPS / GRID
    return np.interp(at, np.arange(len(curve)), curve).astype(np.float32)
