"""What moved between two pictures of a film: the camera taken out, the rest as flow and change.

Flow is by the method of Lucas and Kanade (1981) over a pyramid of four levels, as Bouguet (2000)
describes it, for every point at once. The camera's own movement is the peak of the phase
correlation (Kuglin and Hines 1975); half of it is taken out of either picture, so that both are
blurred alike by being moved.

Conventions: pictures are grey, float32, shape (height, width), 0–255; lengths are pixels.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import fft
from scipy.ndimage import gaussian_filter, uniform_filter1d

Picture = npt.NDArray[np.float32]

#: Cells along the long and the short side of a picture.
LONG, SHORT = 20, 12
_LEVELS, _ROUND = 4, 5
#: Squared grey steps under which a slope of the picture is noise.
_SLOPE = 20.0
#: Pixels that one level may add, and beyond which the camera was knocked and is left alone.
_STEP, _KNOCK = 2.0, 12.0
#: Pixels of the Gaussians over the change between two pictures.
_DETAIL = 0.75, 2.2
#: How much better the room must fit once the camera's movement is taken out.
_BETTER = 0.97
#: Rows over which the brightness is evened out: lamps on the mains make bands.
_BAND = 11
#: What is added to grey values before they are divided: near black, noise decides.
_BLACK = 8.0


def cells(values: Picture) -> Picture:
    """Means over `LONG` × `SHORT` cells, the longer count along the longer side."""
    height, width = values.shape
    down, across = (SHORT, LONG) if width >= height else (LONG, SHORT)
    rows = np.linspace(0, height, down + 1).astype(int)
    columns = np.linspace(0, width, across + 1).astype(int)
    sums = np.add.reduceat(np.add.reduceat(values, rows[:-1], 0), columns[:-1], 1)
    means: Picture = sums / (np.diff(rows)[:, None] * np.diff(columns)[None])
    return means


class Pairs:
    """Compares each picture with the one before.

    Args:
        shape: (height, width) of every picture.
    """

    def __init__(self, shape: tuple[int, int]) -> None:
        self.shape = shape
        height, width = shape
        window = np.hanning(height)[:, None] * np.hanning(width)[None]
        self._window = window.astype(np.float32)
        self._down = fft.fftfreq(height)[:, None].astype(np.float32)
        self._across = fft.rfftfreq(width)[None].astype(np.float32)
        square = self._down**2 + self._across**2
        self._fine = (1 - np.exp(-2 * (4 * np.pi) ** 2 * square)).astype(np.float32)
        self._before: tuple[Picture, npt.NDArray[np.complex64]] | None = None

    def add(self, picture: Picture) -> tuple[Picture, Picture, Picture, tuple[float, float]] | None:
        """The next picture.

        Returns:
            Cells of change in fine and in coarse detail (grey steps) and of flow (pixels), and
            the camera's shift (down, right); None for the first picture.
        """
        before = self._before
        self._before = picture, self._spectrum(picture)
        if before is None:
            return None
        gain = np.median((picture + _BLACK) / (before[0] + _BLACK), axis=1)
        gain = uniform_filter1d(gain, _BAND, mode="nearest")
        even = (picture + _BLACK) / gain[:, None] - _BLACK
        down, right = self._shift(self._spectrum(even), before[1])
        first, second = before[0], even
        if max(abs(down), abs(right)) < _KNOCK:
            one = self._moved(before[0], down / 2, right / 2)
            other = self._moved(even, -down / 2, -right / 2)
            # The athlete alone may have made the peak: then the room fits worse than unmoved.
            if _unlike(one, other) < _BETTER * _unlike(first, second):
                first, second = one, other
            else:
                down = right = 0.0
        fine, coarse = (cells(np.abs(gaussian_filter(second - first, s))) for s in _DETAIL)
        along = flow(gaussian_filter(first, 0.7), gaussian_filter(second, 0.7))
        return fine, coarse, cells(along), (down, right)

    def _spectrum(self, picture: Picture) -> npt.NDArray[np.complex64]:
        spectrum: npt.NDArray[np.complex64] = fft.rfft2((picture - picture.mean()) * self._window)
        return spectrum

    def _shift(
        self, now: npt.NDArray[np.complex64], before: npt.NDArray[np.complex64]
    ) -> tuple[float, float]:
        cross = now * np.conj(before) * self._fine
        cross /= np.abs(cross) + 1e-3 * np.abs(cross).max() + 1e-12
        peak = fft.irfft2(cross, s=self.shape)
        height, width = self.shape
        y, x = (int(k) for k in np.unravel_index(peak.argmax(), peak.shape))
        column = peak[[y - 1, y, (y + 1) % height], x]
        row = peak[y, [x - 1, x, (x + 1) % width]]
        down = (y + height // 2) % height - height // 2 + _top(*column)
        return down, (x + width // 2) % width - width // 2 + _top(*row)

    def _moved(self, picture: Picture, down: float, right: float) -> Picture:
        if max(abs(down), abs(right)) < 0.02:
            return picture
        spectrum = fft.rfft2(picture)
        spectrum *= np.exp(-2j * np.pi * self._down * down).astype(np.complex64)
        spectrum *= np.exp(-2j * np.pi * self._across * right).astype(np.complex64)
        moved: Picture = fft.irfft2(spectrum, s=self.shape, overwrite_x=True)
        return moved


def _unlike(one: Picture, other: Picture) -> float:
    """How much the quieter half of the cells of two pictures differ."""
    means = np.sort(cells(np.abs(other - one)), axis=None)
    return float(means[: len(means) // 2].mean())


def _top(before: float, best: float, after: float) -> float:
    """Where a parabola through three values has its top, in steps from the middle one."""
    bend = before - 2 * best + after
    return 0.0 if bend >= 0 else 0.5 * float(before - after) / float(bend)


def flow(first: Picture, second: Picture) -> Picture:
    """How far each point moved from one picture to the next, less the picture's median, in pixels.

    Moves under about 15 pixels are followed; faster ones come out too small.
    """
    pyramid = [(first, second)]
    for _ in range(_LEVELS - 1):
        pyramid.append((_halved(pyramid[-1][0]), _halved(pyramid[-1][1])))
    right = down = np.zeros(pyramid[-1][0].shape, np.float32)
    for one, other in reversed(pyramid):
        if right.shape != one.shape:
            right, down = _doubled(right, one.shape), _doubled(down, one.shape)
            other = _at(other, down, right)
        more_right, more_down = _step(one, other)
        right, down = right + more_right, down + more_down
    away: Picture = np.hypot(right - np.median(right), down - np.median(down))
    return away


def _step(one: Picture, other: Picture) -> tuple[Picture, Picture]:
    """One step of Lucas and Kanade at every point, `_STEP` pixels at most."""
    middle, change = 0.5 * (one + other), other - one
    across = _slope(middle.T).T
    along = _slope(middle)
    xx, yy = _near(across * across) + _SLOPE, _near(along * along) + _SLOPE
    xy = _near(across * along)
    xt, yt = _near(across * change), _near(along * change)
    whole = xx * yy - xy * xy
    right, down = (xy * yt - yy * xt) / whole, (xy * xt - xx * yt) / whole
    cut = np.minimum(1.0, _STEP / np.maximum(np.hypot(right, down), 1e-6))
    return right * cut, down * cut


def _slope(values: Picture) -> Picture:
    """The slope downwards, as `np.gradient` has it; by slices it takes a third of the time."""
    slope = np.empty_like(values)
    np.subtract(values[2:], values[:-2], out=slope[1:-1])
    slope[1:-1] *= 0.5
    slope[0], slope[-1] = values[1] - values[0], values[-1] - values[-2]
    return slope


def _near(values: Picture) -> Picture:
    """Means over `_ROUND` × `_ROUND` points, mirrored at the edges.

    By sums of slices: on pictures as small as these, SciPy's filter takes longer to begin a line
    than to sum it.
    """
    wide = np.pad(values, _ROUND // 2, mode="symmetric")
    height, width = values.shape
    rows = wide[:height].copy()
    for k in range(1, _ROUND):
        rows += wide[k : k + height]
    means: Picture = rows[:, :width].copy()
    for k in range(1, _ROUND):
        means += rows[:, k : k + width]
    means *= 1 / _ROUND**2
    return means


def _at(picture: Picture, down: Picture, right: Picture) -> Picture:
    """A picture looked at beside each of its points, between four of which it is even."""
    height, width = picture.shape
    y = np.clip(down + np.arange(height, dtype=np.float32)[:, None], 0, height - 1)
    x = np.clip(right + np.arange(width, dtype=np.float32)[None], 0, width - 1)
    top, left = (np.minimum(k.astype(np.int32), n - 2) for k, n in ((y, height), (x, width)))
    y -= top
    x -= left
    corner, flat = top * width + left, picture.ravel()
    upper: Picture = flat.take(corner)
    upper += x * (flat.take(corner + 1) - upper)
    corner += width
    lower: Picture = flat.take(corner)
    lower += x * (flat.take(corner + 1) - lower)
    upper += y * (lower - upper)
    return upper


def _halved(picture: Picture) -> Picture:
    height, width = picture.shape[0] // 2 * 2, picture.shape[1] // 2 * 2
    rows = picture[0:height:2] + picture[1:height:2]
    halved: Picture = (rows[:, 0:width:2] + rows[:, 1:width:2]) * np.float32(0.25)
    return halved


def _doubled(values: Picture, shape: tuple[int, ...]) -> Picture:
    twice = 2 * np.repeat(np.repeat(values, 2, 0), 2, 1)
    more = ((0, shape[0] - twice.shape[0]), (0, shape[1] - twice.shape[1]))
    return np.pad(twice, more, mode="edge")
