"""Beats and bars of a song: band energies, beat activations, the best path, and its bars.

Conventions: times are seconds of the track.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.bars import find_bars
from rehearse.music.analysis.beatpath import Beats, follow
from rehearse.music.analysis.features import band_energies
from rehearse.music.analysis.network import activation_of
from rehearse.music.analysis.paces import in_one_octave
from rehearse.words import _
from rehearse.work.progress import Report

Floats = npt.NDArray[np.float32]


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
    energies = band_energies(samples, sample_rate, lambda done: tell(0.5 * done, _("listening")))
    activation = activation_of(energies)
    tell(0.6, _("following the beat"))
    found = follow(activation, pins)
    # Who pins beats has said which pace is meant.
    beats = in_bars(found if pins else in_one_octave(found), energies)
    tell(1.0, _("beats found"))
    return beats


def in_bars(beats: Beats, energies: Floats) -> Beats:
    """The beats with places that all there is to hear speaks for, not the activation alone."""
    bars = find_bars(energies, beats.activation, beats.times)
    return beats if bars is None else replace(beats, places=bars.places, sure=bars.sure)


def free_stretches(beats: Beats, duration: float) -> tuple[tuple[float, float], ...]:
    """Stretches of more than 3 s without a beat, in rising order: (start, end) in seconds."""
    edges = np.concatenate([[0.0], beats.times, [duration]])
    if len(beats.times) < 2:
        return ((0.0, duration),)
    gaps = [(a, b) for a, b in itertools.pairwise(edges) if b - a > 3.0]
    step = float(np.median(np.diff(beats.times)))
    starts = (a + (step if a > 0 else 0.0) for a, _unused in gaps)
    return tuple(
        (round(float(a), 6), float(b)) for a, (_unused, b) in zip(starts, gaps, strict=True)
    )


def beats_of_file(path: str | Path) -> npt.NDArray[np.float64]:
    """Beats of a song file: shape (n, 2), seconds and place in the bar; in free time too."""
    from rehearse.music.apart import load_apart

    track = load_apart(Path(path))
    beats = find_beats(track.samples, track.sample_rate)
    return np.column_stack([beats.times, beats.places])
