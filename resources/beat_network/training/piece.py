"""A piece of music as the generator writes it: notes in beats, and when each beat falls.

Conventions: positions and lengths are beats from the first one written; a beat is what a dancer
counts (a dotted quarter in 6/8). `Rng` is numpy's generator, seeded by the caller.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Rng = np.random.Generator
Times = npt.NDArray[np.float64]
#: Channel of the drums, as in General MIDI (counted from 0).
DRUMS = 9


@dataclass
class Note:
    """One note: position and length in beats, MIDI pitch, velocity 1–127, channel."""

    at: float
    length: float
    pitch: int
    velocity: float
    channel: int


@dataclass
class Piece:
    """Music to be rendered.

    Args:
        notes: in any order.
        programs: General MIDI program of each channel used.
        beats: seconds of every beat, one more than there are places.
        places: place in the bar of every beat but the last.
        lags: seconds by which a channel plays behind the beat.
        loose: seconds by which single notes stray.
    """

    notes: list[Note]
    programs: dict[int, int]
    beats: Times
    places: list[int]
    lags: dict[int, float] = field(default_factory=dict)
    loose: float = 0.0

    def seconds(self, at: npt.ArrayLike) -> Times:
        """Time of positions in beats, linear within a beat, steady beyond the ends."""
        position = np.asarray(at, np.float64)
        index = np.clip(np.floor(position).astype(int), 0, len(self.beats) - 2)
        step = self.beats[index + 1] - self.beats[index]
        result: Times = self.beats[index] + (position - index) * step
        return result


def swung(at: float, swing: float, unit: float = 1.0) -> float:
    """`at` with the second half of every `unit` beats delayed; 0.5 is straight, 2/3 a triplet."""
    whole, part = divmod(at / unit, 1.0)
    part = part * 2 * swing if part < 0.5 else swing + (part - 0.5) * 2 * (1 - swing)
    return float((whole + part) * unit)


def beat_times(rng: Rng, bpm: float, count: int, freedom: float, bar: int) -> Times:
    """Seconds of `count` + 1 beats around `bpm`.

    Args:
        freedom: 0 a machine, 1 a rubato pianist.
        bar: beats in a bar; tempo steps fall on bar lines.
    """
    pace = np.full(count, np.log(bpm))
    kind = rng.random()
    if kind < 0.14:
        pace[bar * int(rng.integers(1, max(2, count // bar))) :] += _change(rng)
    elif kind < 0.24:
        start = int(rng.integers(0, max(1, count - 8)))
        length = int(rng.integers(4, max(6, count - start + 8)))
        pace += np.clip((np.arange(count) - start) / length, 0, 1) * _change(rng)
    pace += np.cumsum(rng.normal(0, 0.004 * rng.random() ** 2, count))
    if freedom > 0:
        pace += _rubato(rng, count, freedom, bar)
    pace = np.clip(pace, np.log(36.0), np.log(245.0))
    return np.concatenate([[0.0], np.cumsum(60.0 / np.exp(pace))])


def _change(rng: Rng) -> float:
    size = rng.uniform(0.05, 0.45)
    return float(size if rng.random() < 0.5 else -size)


def _rubato(rng: Rng, count: int, freedom: float, bar: int) -> Times:
    """Phrases that press on and hold back, slower ends, and unevenness from beat to beat."""
    beats = np.arange(count)
    phrase = bar * int(rng.choice([2, 4, 4, 8]))
    inside = (beats % phrase) / phrase
    depth = freedom * rng.uniform(0.02, 0.14)
    curve = depth * np.sin(np.pi * inside) - depth / 2
    slow_from = 1 - rng.uniform(1, 3) / phrase
    curve -= (inside > slow_from) * freedom * rng.uniform(0, 0.25) * rng.integers(0, 2)
    curve += (
        freedom * rng.uniform(0, 0.08) * np.sin(beats * rng.uniform(0.02, 0.2) + rng.random() * 6)
    )
    return curve + rng.normal(0, freedom * rng.uniform(0.0, 0.04), count)
