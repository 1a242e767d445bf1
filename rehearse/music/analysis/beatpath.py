"""The most likely beats under an activation: all of them, or those of a tempo that is asked for.

Conventions: times are seconds of the track, activations are log odds per frame, `FPS` frames a
second, frame k centred on second k / `FPS`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis import network
from rehearse.music.analysis.barpointer import GRID, INTERVALS, BarPointer
from rehearse.music.analysis.features import FPS
from rehearse.music.analysis.network import Activation

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
# What is outside a tempo asked for is as good as impossible. What a beat near a tap gains, and
# seconds it is near.
_NEVER, _GAIN, _NEAR = 40.0, 10.0, 0.08
#: Beats over which a tempo is evened out.
EVEN = 9


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


def pace_of(beats: Beats, frames: int) -> Times:
    """Seconds from count to count at every frame of the decoder's grid, evened out.

    Args:
        frames: frames of the activation.
    """
    return on_grid(beats, even_steps(beats), frames)


def even_steps(beats: Beats) -> Times:
    """Seconds from each count to the next, evened out over `EVEN` of them, shape (n − 1,)."""
    from scipy.ndimage import median_filter

    result: Times = median_filter(np.diff(beats.times), EVEN, mode="nearest")
    return result


def on_grid(beats: Beats, steps: Times, frames: int) -> Times:
    """A value for each count but the last, at every frame of the decoder's grid."""
    grid = np.arange(int((frames - 1) * GRID / FPS) + 1) / GRID
    result: Times = np.interp(grid, beats.times[:-1], steps)
    return result


def follow_at(
    activation: Activation, wanted: Times, reach: float, meant: Times | None = None
) -> Beats | None:
    """The best path with counts about `wanted` seconds long at each frame; None if none can be.

    Args:
        reach: natural logarithm by which a count may differ.
        meant: seconds near which there is a count.
    """
    away = np.log(INTERVALS)
    low, high = np.log(wanted.min()) - reach, np.log(wanted.max()) + reach
    inside = np.flatnonzero((away >= low) & (away <= high))
    if len(inside) < 2:
        return None
    slots = int(inside[0]), int(inside[-1]) + 1
    beat, first, free, tempo = decoder_scores(activation)
    wide = np.abs(away[None, slice(*slots)] - np.log(wanted[: len(beat), None])) > reach
    tempo = tempo.copy()
    tempo[:, slice(*slots)] -= _NEVER * wide
    if meant is not None:
        seconds = np.arange(len(beat)) / GRID
        near = np.abs(seconds[:, None] - meant[None, :]).min(axis=1)
        beat = beat + np.float32(_GAIN) * np.clip(1 - near / _NEAR, 0.0, 1.0).astype(np.float32)
        free = np.where((seconds > meant[0] - 1) & (seconds < meant[-1] + 1), -1.0, free)
    path = BarPointer(slots=slots).decode(beat, first, np.asarray(free, np.float32), tempo)
    if len(path.frames) < 2:
        return None
    found = beats_of(path.frames / GRID, activation)
    return replace(found, places=path.places, score=path.score)


def _finer(curve: Floats) -> Floats:
    """The curve on the grid of the bar-pointer model."""
    frames = int((len(curve) - 1) * GRID / FPS) + 1
    at = np.arange(frames) * FPS / GRID
    return np.interp(at, np.arange(len(curve)), curve).astype(np.float32)
