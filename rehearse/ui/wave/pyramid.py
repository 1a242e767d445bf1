"""Peaks and loudness of a track at every zoom, built a slice at a time so that no paint waits.

No Qt here. Level 0 holds bins of `BIN` frames, every further level bins four times as long.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rehearse.music.track import Samples

Floats = npt.NDArray[np.float32]

#: Frames in a bin of level 0, and bins of one level in a bin of the next.
BIN, FACTOR = 256, 4
#: Frames taken up by one call of `grow`: a few milliseconds of work.
SLICE = BIN * 1024


class Pyramid:
    """Peak and root mean square per bin.

    Args:
        samples: shape (frames, 2); looked at, never copied.
    """

    def __init__(self, samples: Samples) -> None:
        self._samples = samples
        self._grown = 0
        self._levels: list[tuple[Floats, Floats]] = []
        count = -(-len(samples) // BIN)
        while count > 0:
            self._levels.append((np.zeros(count, np.float32), np.zeros(count, np.float32)))
            if count == 1:
                break
            count = -(-count // FACTOR)

    @property
    def complete(self) -> bool:
        """Whether all of the track has been taken up."""
        return self._grown >= len(self._samples)

    def grow(self) -> None:
        """Take up the next slice of the track."""
        first = self._grown // BIN
        peak, power = _bins(self._samples[self._grown : self._grown + SLICE])
        self._grown = min(self._grown + SLICE, len(self._samples))
        for level, (peaks, roots) in enumerate(self._levels):
            if level:
                peak, power = _fold(peak), _fold(power, mean=True)
                first //= FACTOR
            peaks[first : first + len(peak)] = peak
            roots[first : first + len(power)] = np.sqrt(power)

    def columns(self, start: float, end: float, count: int) -> tuple[Floats, Floats]:
        """Peak and root mean square of `count` equal columns of the frames [start, end).

        Columns outside the track, or not grown yet, are 0.
        """
        edges = np.linspace(start, end, count + 1)
        step = (end - start) / max(1, count)
        if step < BIN:
            return self._from_samples(edges)
        level = min(len(self._levels) - 1, int(np.log(step / BIN) / np.log(FACTOR)))
        if level < 0:
            return np.zeros(count, np.float32), np.zeros(count, np.float32)
        peaks, roots = self._levels[level]
        bins = edges / (BIN * FACTOR**level)
        return _reduced(peaks, bins), np.sqrt(_reduced(roots**2, bins, mean=True))

    def _from_samples(self, edges: npt.NDArray[np.float64]) -> tuple[Floats, Floats]:
        first = max(0, int(edges[0]))
        part = self._samples[first : int(edges[-1]) + 2]
        loud = _loud(part)
        bins = edges - first
        return _reduced(loud, bins), np.sqrt(_reduced(loud**2, bins, mean=True))


def _loud(part: Samples) -> Floats:
    """The louder channel; ten times faster than a maximum along the axis of two."""
    return np.maximum(np.abs(part[:, 0]), np.abs(part[:, 1]))


def _bins(part: Samples) -> tuple[Floats, Floats]:
    """Peak and power of bins of `BIN` frames; the last may be shorter."""
    loud = _loud(part)
    short = -len(loud) % BIN
    if short:
        loud = np.concatenate([loud, np.zeros(short, np.float32)])
    whole = loud.reshape(-1, BIN)
    return whole.max(axis=1), np.einsum("ij,ij->i", whole, whole) / np.float32(BIN)


def _fold(values: Floats, *, mean: bool = False) -> Floats:
    short = -len(values) % FACTOR
    if short:
        values = np.concatenate([values, np.full(short, values[-1] if mean else 0.0, np.float32)])
    whole = values.reshape(-1, FACTOR)
    folded: Floats = whole.mean(axis=1) if mean else whole.max(axis=1)
    return folded


def _reduced(values: Floats, edges: npt.NDArray[np.float64], *, mean: bool = False) -> Floats:
    """Maximum (or mean) of `values` between neighbouring edges, at least one value each."""
    result = np.zeros(len(edges) - 1, np.float32)
    if not len(values):
        return result
    low = np.floor(edges[:-1]).astype(np.int64)
    inside = (low >= 0) & (low < len(values))
    if not inside.any():
        return result
    starts = low[inside]
    stop = min(len(values), max(int(starts[-1]) + 1, int(np.ceil(edges[1:][inside][-1]))))
    part = values[:stop]
    if mean:
        sums = np.add.reduceat(part, starts)
        ends = np.append(starts[1:], stop)
        # Where two edges fall into one bin, reduceat gives that bin itself.
        result[inside] = sums / np.maximum(1, ends - starts)
    else:
        result[inside] = np.maximum.reduceat(part, starts)
    return result
