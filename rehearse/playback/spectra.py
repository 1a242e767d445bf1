"""Small tools for many short spectra at once: rows are attacks, the last axis is frequency.

Nothing here multiplies by matrices: the linear algebra library would spread that over threads
which burn more time waiting for one another than they save, beside a sound that must not stall.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Audio = npt.NDArray[np.float32]
Frames = npt.NDArray[np.int64]
Spectra = npt.NDArray[np.complex64]


def rows(planes: Audio, starts: Frames, length: int) -> Audio:
    """Stretches of `length` frames from each start, (planes, *starts.shape, length), copied."""
    view = np.lib.stride_tricks.sliding_window_view(planes, length, axis=1)
    return view[:, starts]


def power(spectra: Spectra) -> Audio:
    """Power of all planes together."""
    squares: Audio = (spectra.real**2 + spectra.imag**2).sum(axis=0)
    return squares


def around(
    points: npt.NDArray[np.float64], grid: npt.NDArray[np.float64], octaves: float, least: float
) -> tuple[Frames, Frames]:
    """The part of a rising grid about each point: a share of an octave, or `least` in all.

    Returns:
        for `means`, the first index of each part and the one after its last; one index at least.
    """
    half = np.maximum(points * (2 ** (octaves / 2) - 1), least / 2)
    low = np.searchsorted(grid, points - half)
    high = np.searchsorted(grid, points + half, side="right")
    low = np.minimum(low, len(grid) - 1)
    return low, np.maximum(high, low + 1)


def means(values: Audio, low: Frames, high: Frames) -> Audio:
    """Means of values[..., low:high] for each pair of `low` and `high`."""
    sums = np.zeros((*values.shape[:-1], values.shape[-1] + 1))
    np.cumsum(values, axis=-1, dtype=np.float64, out=sums[..., 1:])
    result: Audio = ((sums[..., high] - sums[..., low]) / (high - low)).astype(np.float32)
    return result


def between(values: Audio, place: npt.NDArray[np.floating]) -> Audio:
    """Values of rows at fractional indices, drawn straight."""
    place = np.clip(place, 0, max(0, values.shape[-1] - 1.001))
    low = place.astype(np.int64)
    share = (place - low).astype(np.float32)
    return (
        values[:, low] * (1 - share) + values[:, np.minimum(low + 1, values.shape[-1] - 1)] * share
    )


def unit(window: npt.NDArray[np.float64]) -> Audio:
    """A window scaled so that powers under windows of any shape compare."""
    scaled: Audio = (window / np.sqrt((window**2).sum())).astype(np.float32)
    return scaled


def add_rows(out: Audio, starts: Frames, change: Audio) -> None:
    """Add to `out` from each start on its row of `change` (planes, starts, frames)."""
    for row, start in enumerate(starts):
        out[:, start : start + change.shape[-1]] += change[:, row]
