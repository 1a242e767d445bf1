"""Which part of the picture is the athlete, and how fast the body moves there.

The athlete is found by being in time with the routine: the cells that move before the hits and
rest after them. People who walk or lift in the background do neither.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter1d, label, uniform_filter

from rehearse.film.arrival import GRID, Array
from rehearse.film.movement import Motion

#: Seconds of the Gaussian over the signals.
_SMOOTH = 0.015
#: Signals: what is summed over the body's cells, to which power, and its voice. The third power
#: gives fast, small parts (the arms) the weight that an area has by its size alone.
_SIGNALS = {
    "flow 3": ("flow", 3.0, 1.2),
    "flow 1": ("flow", 1.0, 0.6),
    "flow 6": ("flow", 6.0, 0.5),
    "fine 1": ("fine", 1.0, 0.4),
}
#: The signal that distances and noise are taken from.
MAIN = "flow 3"
VOICES = {name: voice for name, (_, _, voice) in _SIGNALS.items()}
#: How much more a cell must move before hits than after them; part of the best that still counts.
_CONTRAST, _PART = 1.35, 0.06

#: Distance of the hold from itself, as a part of the largest, above which a film is restless.
_RESTLESS = 0.6

Cells = npt.NDArray[np.bool_]
#: Left, upper, right and lower edge as parts of the picture's width and height.
Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Body:
    """The athlete in a film.

    Args:
        times: film seconds of the signals, `GRID` a second.
        signals: speed by name, each of shape (len(times),).
        cells: where the athlete is, shape (rows, columns).
    """

    times: Array
    signals: dict[str, Array]
    cells: Cells

    @property
    def height(self) -> float:
        """Part of the picture's height that the athlete takes up, 0..1."""
        return self.box[3] - self.box[1]

    @property
    def box(self) -> Box:
        """Where in the picture the athlete is."""
        down, across = (np.flatnonzero(self.cells.any(axis=axis)) for axis in (1, 0))
        rows, columns = self.cells.shape
        return (
            float(across[0] / columns),
            float(down[0] / rows),
            float((across[-1] + 1) / columns),
            float((down[-1] + 1) / rows),
        )


def find_body(motion: Motion, hits: list[float]) -> Body | None:
    """The athlete who is in time with these hits (film seconds); None: nobody is."""
    times, coarse = _even(motion.times, motion.coarse)
    cells = _cells(times, coarse, hits)
    if cells is None:
        return None
    parts = {
        name: _even(motion.times, values)[1][:, cells]
        for name, values in (("fine", motion.fine), ("flow", motion.flow))
    }
    signals = {}
    for name, (what, power, _) in _SIGNALS.items():
        signals[name] = (np.maximum(parts[what], 0) ** power).sum(axis=1) ** (1 / power)
    return Body(times, signals, cells)


def _even(pictures: Array, values: npt.NDArray[np.float32]) -> tuple[Array, Array]:
    """Values between two pictures as rates a second, on an even grid.

    Each lies at the middle of its two pictures, and is divided by the time between them: a phone
    drops pictures and shifts them.
    """
    middles = (pictures[1:] + pictures[:-1]) / 2
    rates = values.reshape(len(values), -1) / np.diff(pictures)[:, None]
    times = np.arange(pictures[0], pictures[-1], 1 / GRID)
    at = np.clip(np.searchsorted(middles, times) - 1, 0, len(middles) - 2)
    part = np.clip((times - middles[at]) / (middles[at + 1] - middles[at]), 0, 1)[:, None]
    even = rates[at] * (1 - part) + rates[at + 1] * part
    smooth = gaussian_filter1d(even, _SMOOTH * GRID, axis=0)
    return times, smooth.reshape(len(times), *values.shape[1:])


def _cells(times: Array, change: Array, hits: list[float]) -> Cells | None:
    over = np.maximum(change - np.percentile(change[::4], 20, axis=0), 0)
    moving = _capped(times, over, [(hit - 0.9, hit) for hit in hits])
    resting = _capped(times, over, [(hit + 0.4, hit + 0.85) for hit in hits])
    if moving is None or resting is None:
        return None
    better = np.maximum(moving - resting, 0)
    score = np.where(moving > _CONTRAST * (resting + 1e-9), better, 0)
    score = uniform_filter(score, 3, mode="constant")
    if not score.max() > 0:
        return None
    parts, _ = label(score > _PART * score.max(), np.ones((3, 3)))
    own = np.where(parts == parts[np.unravel_index(score.argmax(), score.shape)], score, 0)
    cells = np.zeros(score.shape, bool)
    rows, columns = _middle(own.sum(axis=1)), _middle(own.sum(axis=0))
    cells[rows, max(0, columns.start - 1) : columns.stop + 1] = True  # arms reach out
    return cells


def _capped(times: Array, over: Array, spans: list[tuple[float, float]]) -> Array | None:
    """Mean over the spans in each cell, none of which counts for more than the 80th percentile."""
    means = [over[(times >= a) & (times <= b)] for a, b in spans]
    means = [part.mean(axis=0) for part in means if len(part)]
    if not means:
        return None
    values = np.array(means)
    capped: Array = np.minimum(values, np.percentile(values, 80, axis=0)).mean(axis=0)
    return capped


def _middle(weights: Array) -> slice:
    """The middle 96 % of the weights."""
    sums = np.cumsum(weights) / weights.sum()
    return slice(int(np.searchsorted(sums, 0.02)), int(np.searchsorted(sums, 0.98)) + 1)


def remaining(
    motion: Motion, body: Body, start: float, end: float, quiet: tuple[float, float]
) -> tuple[Array, Array] | None:
    """How far the picture of the body still is from that of the hold, 0..1.

    Args:
        start, end: film seconds looked at. quiet: film seconds of a part of the hold.

    Returns:
        Film seconds and distances; None where the film is too restless for it to mean anything.
    """
    rows, columns = _pixels(body.cells, motion.pictures.shape[1:])
    held = (motion.times >= quiet[0]) & (motion.times <= quiet[1])
    looked = (motion.times >= start) & (motion.times <= end)
    if not held.any() or looked.sum() < 5:
        return None
    hold = np.median(motion.pictures[held, rows, columns].astype(np.float32), axis=0)
    pictures = motion.pictures[looked, rows, columns].astype(np.float32)
    gain = np.median((pictures + 8) / (hold + 8), axis=2)[:, :, None]
    away = np.abs((pictures + 8) / gain - 8 - hold).mean(axis=(1, 2))
    least = np.percentile(away, 5)
    most = np.percentile(away - least, 95)
    if most <= 0 or least > _RESTLESS * most:
        return None
    return motion.times[looked], np.maximum(away - least, 0) / most


def _pixels(cells: Cells, shape: tuple[int, ...]) -> tuple[slice, slice]:
    slices = []
    for axis in (0, 1):
        used = np.flatnonzero(cells.any(axis=1 - axis))
        edges = np.linspace(0, shape[axis], cells.shape[axis] + 1).astype(int)
        slices.append(slice(int(edges[used[0]]), int(edges[used[-1] + 1])))
    return slices[0], slices[1]
