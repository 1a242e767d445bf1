"""Loudness, brightness and onset curves of a song, 100 frames a second.

Conventions: frame k is centred on second k / `FPS`. Levels are decibels below full scale.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]

#: Rate of the downmix in Hz, samples between two frames, frames a second.
RATE = 22050
FPS = 100
BANDS = 48

_SIZE = 1024
_BLOCK = 2000
_FLOOR = 1e-7


@dataclass(frozen=True, eq=False)
class Curves:
    """What the other analyses look at.

    Args:
        duration: seconds of the song, by its own samples: the downmix ends a little elsewhere.
        mono: the downmix at `RATE`, shape (n,).
        bands: power in mel bands, decibels, shape (t, `BANDS`).
        level: K-weighted power (ITU-R BS.1770-4), decibels, shape (t,).
        bright: spectral centroid in octaves above 100 Hz, weighted by power, shape (t,).
        flux: rise of the bands' levels against a maximum-filtered past, shape (t,).
    """

    duration: float
    mono: Floats
    bands: Floats
    level: Floats
    bright: Floats
    flux: Floats


def listen(
    samples: Floats, sample_rate: int, progress: Callable[[float], None] | None = None
) -> Curves:
    """Compute the curves of samples of shape (frames, channels).

    The flux is that of Böck & Widmer, "Maximum filter vibrato suppression for onset detection"
    (DAFx 2013): each band is compared with the loudest of itself and its neighbours 20 ms before,
    so that vibrato and slides are no onsets.
    """
    mono = downmix(samples, sample_rate)
    count = int(len(mono) * FPS / RATE) + 1
    bands = np.empty((count, BANDS), np.float32)
    bright = np.empty(count, np.float32)
    level = np.empty(count, np.float32)
    padded = np.concatenate([np.zeros(_SIZE // 2, np.float32), mono, np.zeros(_SIZE, np.float32)])
    for first in range(0, count, _BLOCK):
        last = min(first + _BLOCK, count)
        power = _power(padded, first, last)
        bands[first:last] = decibels(power @ _mel())
        level[first:last] = decibels(power @ _k_weights())
        centroid = (power @ _frequencies()) / (power.sum(axis=1) + _FLOOR)
        bright[first:last] = np.log2(np.maximum(centroid, 100.0) / 100.0)
        if progress is not None:
            progress(last / count)
    return Curves(len(samples) / sample_rate, mono, bands, level, bright, _flux(bands))


def downmix(samples: Floats, sample_rate: int) -> Floats:
    """One channel at `RATE`: the mean of all, or the first where they cancel each other."""
    import soxr

    mono = np.asarray(samples.mean(axis=1, dtype=np.float32))
    first = samples[:, 0]
    if float(np.dot(mono, mono)) < 0.02 * float(np.dot(first, first)):
        mono = np.ascontiguousarray(first)
    if sample_rate != RATE:
        mono = np.asarray(soxr.resample(mono, sample_rate, RATE, quality="MQ"), np.float32)
    return mono


def decibels(power: Floats) -> Floats:
    """Decibels of a power, −70 at the lowest."""
    result: Floats = (10.0 * np.log10(np.maximum(power, _FLOOR))).astype(np.float32)
    return result


def smooth(curve: npt.NDArray[np.floating], seconds: float, fps: float = FPS) -> Floats:
    """Moving mean over `seconds`, centred; the ends are held."""
    from scipy.ndimage import uniform_filter1d

    size = max(1, round(seconds * fps))
    result: Floats = uniform_filter1d(curve.astype(np.float32), size, axis=0, mode="nearest")
    return result


def _power(padded: Floats, first: int, last: int) -> Floats:
    from scipy.fft import rfft

    starts = np.round(np.arange(first, last) * (RATE / FPS)).astype(np.int64)
    frames = np.lib.stride_tricks.sliding_window_view(padded, _SIZE)[starts]
    window = np.hanning(_SIZE).astype(np.float32)
    spectrum = rfft(frames * (window / window.sum() * 2), axis=1)
    result: Floats = (spectrum.real**2 + spectrum.imag**2).astype(np.float32)
    return result


def _flux(bands: Floats) -> Floats:
    from scipy.ndimage import maximum_filter1d

    past = maximum_filter1d(bands, 3, axis=1)
    rise = np.zeros_like(bands)
    rise[2:] = np.maximum(0.0, bands[2:] - past[:-2])
    result: Floats = rise.mean(axis=1, dtype=np.float32)
    return result


@cache
def _frequencies() -> Floats:
    return (np.arange(_SIZE // 2 + 1) * RATE / _SIZE).astype(np.float32)


@cache
def _k_weights() -> Floats:
    """Power response of the K-weighting at each bin: the two filters of ITU-R BS.1770-4, annex 1.

    Its tables give them for 48 kHz; what matters here is their response, whatever the rate.
    """
    shelf = (
        (1.53512485958697, -2.69169618940638, 1.19839281085285),
        (1.0, -1.69065929318241, 0.73248077421585),
    )
    high_pass = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
    turn = np.exp(-2j * np.pi * _frequencies().astype(np.float64) / 48000.0)
    response = np.ones(len(turn))
    for above, below in (shelf, high_pass):
        response *= np.abs(np.polyval(above[::-1], turn) / np.polyval(below[::-1], turn)) ** 2
    return response.astype(np.float32)


@cache
def _mel() -> Floats:
    """Triangular filters on the mel scale (O'Shaughnessy 1987), shape (bins, `BANDS`)."""
    top = 2595 * np.log10(1 + 10000.0 / 700)
    low = 2595 * np.log10(1 + 30.0 / 700)
    edges = 700 * (10 ** (np.linspace(low, top, BANDS + 2) / 2595) - 1)
    width = RATE / _SIZE
    lower = np.minimum(edges[:-2], edges[1:-1] - width)
    upper = np.maximum(edges[2:], edges[1:-1] + width)
    bins = _frequencies()[:, np.newaxis]
    rise = (bins - lower) / (edges[1:-1] - lower)
    fall = (upper - bins) / (upper - edges[1:-1])
    return np.maximum(0.0, np.minimum(rise, fall)).astype(np.float32)
