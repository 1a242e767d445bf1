"""Beats and bars of a song: band energies, beat activations, the best path, and its bars.

Conventions: times are seconds of the track, activations are probabilities per frame, `FPS`
frames a second, frame k centred on second k / `FPS`.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis import network
from rehearse.music.analysis.barpointer import GRID, INTERVALS, BarPointer
from rehearse.music.analysis.bars import find_bars
from rehearse.music.analysis.features import FPS, band_energies
from rehearse.music.analysis.network import Activation, activation_of
from rehearse.words import _
from rehearse.work.progress import Report

Floats = npt.NDArray[np.float32]
Times = npt.NDArray[np.float64]
# How the network's log odds are weighed against the habits of the bar-pointer model, and the odds
# at which a beat is taken; chosen on generated music.
_LEAN, _SURE = 0.5, 5.0
_FIRST_WEIGHT, _FREE_WEIGHT, _TEMPO_WEIGHT = 0.5, 0.05, 0.8
# Log odds under which a peak is none.
_FAINT = -1.5
# Score of a pinned beat; frames of the grid next to it that hold no other; seconds it reaches.
_PIN, _PIN_ROOM, _PIN_REACH = 60.0, 12, 3.0


@dataclass(frozen=True, eq=False)
class Beats:
    """What was found.

    Args:
        times: seconds, strictly rising, shape (n,).
        places: place in the bar of each beat, 1 = first, shape (n,).
        confidence: how sure it is that a beat is there, 0..1, shape (n,).
        sure: how sure its place is, 0..1, shape (n,).
        activation: what they were found from.
        score: of the path, to be compared with other paths of the song.
    """

    times: Times
    places: npt.NDArray[np.int64]
    confidence: Times
    sure: Times
    activation: Activation
    score: float = 0.0

    @property
    def seconds(self) -> float:
        """How much was heard."""
        return len(self.activation.beat) / FPS


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
    beats = in_bars(follow(activation, pins), energies)
    tell(1.0, _("beats found"))
    return beats


def in_bars(beats: Beats, energies: Floats) -> Beats:
    """The beats with places that all there is to hear speaks for, not the activation alone."""
    bars = find_bars(energies, beats.activation, beats.times)
    return beats if bars is None else replace(beats, places=bars.places, sure=bars.sure)


def follow(activation: Activation, pins: Sequence[float] = ()) -> Beats:
    """The most likely beats under an activation, with a beat at every pin.

    Places are those of the best path, each taken to be right by half.
    """
    path = BarPointer().decode(*decoder_scores(activation, pins))
    beats = beats_of(path.frames / GRID, activation)
    for pin in pins:
        if len(beats.times):
            beats.times[np.argmin(np.abs(beats.times - pin))] = pin
    return replace(beats, places=path.places, score=path.score)


def beats_of(times: Times, activation: Activation) -> Beats:
    """Beats about `times`, each moved to its peak, all of them first of a bar for now."""
    times, confidence = _refined(times, activation)
    # Microseconds, as maps are written: an edge of free time must not slip past a rounded beat.
    times = np.round(times, 6)
    ones, half = np.ones(len(times), np.int64), np.full(len(times), 0.5)
    return Beats(times, ones, confidence, half, activation)


def decoder_scores(
    activation: Activation, pins: Sequence[float] = ()
) -> tuple[Floats, Floats, Floats, Floats]:
    """What the network says, weighed and on the decoder's grid: beat, first, free, tempo."""
    beat = np.clip(_finer(activation.beat) + _LEAN, -_SURE, _SURE)
    first = _FIRST_WEIGHT * _finer(activation.first)
    free = _FREE_WEIGHT * np.clip(_finer(activation.free), -6.0, 6.0)
    tempo = activation.tempo @ _between_tempos()
    tempo = _TEMPO_WEIGHT * np.maximum(tempo - tempo.max(axis=1, keepdims=True), -7.0)
    frames = np.round(np.arange(len(beat)) * FPS / GRID).astype(np.int64)
    tempo = tempo[np.minimum(frames, len(tempo) - 1)].astype(np.float32)
    beat, free, tempo = _pinned(beat, free, tempo, pins)
    return beat, first, free, tempo


def _pinned(
    beat: Floats, free: Floats, tempo: Floats, pins: Sequence[float]
) -> tuple[Floats, Floats, Floats]:
    """Scores with a beat at every pin, and none too close to one.

    Who pins a beat means its neighbours too: around a pin the music's own say is lowered, so that
    the steps from pin to pin and onward stay even.
    """
    seconds = np.arange(len(beat)) / GRID
    for pin in pins:
        away = np.abs(seconds - pin)
        say = (1 - 0.98 * np.exp(-0.5 * (away / _PIN_REACH) ** 4)).astype(np.float32)
        beat, tempo = beat * say - 0.5 * (1 - say), tempo * say[:, None]
        free = np.where(away < _PIN_REACH, -1.0, free)
    for pin in pins:
        frame = round(pin * GRID)
        if 0 <= frame < len(beat):
            beat[max(0, frame - _PIN_ROOM) : frame + _PIN_ROOM + 1] = -_PIN
            beat[frame] = _PIN
    return beat, np.asarray(free, np.float32), tempo


def _refined(times: Times, activation: Activation) -> tuple[Times, Times]:
    """Beats moved to the peak of the activation next to them, and the probability there.

    The peak is that of the parabola through three frames, so it is found between frames; a beat
    that no peak is near to stays where the tempo puts it.
    """
    beat = activation.beat
    near = np.clip(np.round(times * FPS).astype(np.int64), 3, max(3, len(beat) - 4))
    if len(beat) < 8:
        return times, np.full(len(times), 0.5)
    window = beat[near[:, None] + np.arange(-2, 3)]
    peak = near - 2 + window.argmax(axis=1)
    before, at, after = beat[peak - 1], beat[peak], beat[peak + 1]
    bend = before - 2 * at + after
    is_peak = (at >= before) & (at >= after) & (bend < 0) & (at > _FAINT)
    shift = np.where(is_peak, 0.5 * (before - after) / np.where(is_peak, bend, 1), 0.0)
    moved = np.where(is_peak, (peak + shift) / FPS, times)
    moved = np.maximum.accumulate(np.maximum(moved, 0.0))
    # Two beats on one peak would be one beat.
    apart = np.diff(moved, prepend=-1.0) > 0.1
    return np.where(apart, moved, times), activation.chance[peak].astype(np.float64)


def _between_tempos() -> Floats:
    """Matrix that interpolates from the network's tempos to the decoder's, shape (48, 96)."""
    own = np.log(np.asarray(network.INTERVALS))
    rows = [np.interp(np.log(INTERVALS), own, row) for row in np.eye(len(own))]
    return np.array(rows, np.float32)


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


def _finer(curve: Floats) -> Floats:
    """The curve on the grid of the bar-pointer model."""
    frames = int((len(curve) - 1) * GRID / FPS) + 1
    at = np.arange(frames) * FPS / GRID
    return np.interp(at, np.arange(len(curve)), curve).astype(np.float32)
