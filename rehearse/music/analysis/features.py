"""Band energies of a song, 50 frames a second: all that the beat network gets to hear.

Two short-time spectra of the 22.05 kHz downmix are summed in bands and compressed
logarithmically: a short window (46 ms) for onsets over the whole range on the mel scale
(Stevens, Volkmann & Newman 1937, in O'Shaughnessy's form), a long one (186 ms) for
changes of harmony, in steps of about 1.4 semitones from 60 Hz to 1.5 kHz.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]

#: Rate of the downmix in Hz, samples between two frames, frames a second.
RATE = 22050
HOP = 441
FPS = RATE / HOP

# The long window hears nothing above 1.6 kHz, so a third of the rate is enough for it.
_THIRD = 3
_SHORT, _LONG = 1024, 1350
SHORT_BANDS, _LONG_BANDS = 48, 40
BANDS = SHORT_BANDS + _LONG_BANDS
_BLOCK = 500
_GAIN = 1000.0


def band_energies(
    samples: Floats, sample_rate: int, progress: Callable[[float], None] | None = None
) -> Floats:
    """Compressed band energies of a song.

    Args:
        samples: float32, shape (frames,) or (frames, channels), full scale ±1.
        sample_rate: Hz, 8000–192000.
        progress: called with the fraction done, 0..1.

    Returns:
        float32, shape (t, `BANDS`), ≥ 0; frame k is centred on second k / `FPS`.
    """
    return energies_of_mono(_mono(samples, sample_rate), progress)


def energies_of_mono(mono: Floats, progress: Callable[[float], None] | None = None) -> Floats:
    """As `band_energies`, for a downmix already at `RATE`."""
    mono = mono / np.float32(max(_loudness(mono), 1e-5))
    frames = len(mono) // HOP + 1
    out = np.empty((frames, BANDS), np.float32)
    whole, low = _padded(mono, _SHORT, HOP), _padded(_third(mono), _LONG, HOP // _THIRD)
    for first in range(0, frames, _BLOCK):
        last = min(first + _BLOCK, frames)
        out[first:last, :SHORT_BANDS] = _bands(whole, first, last, _SHORT, HOP)
        out[first:last, SHORT_BANDS:] = _bands(low, first, last, _LONG, HOP // _THIRD)
        if progress is not None:
            progress(last / frames)
    return out


def _padded(signal: Floats, size: int, hop: int) -> Floats:
    before, after = np.zeros(size // 2, np.float32), np.zeros(size // 2 + hop, np.float32)
    return np.concatenate([before, signal, after])


def _third(mono: Floats) -> Floats:
    """Every third sample of a low-pass (33 taps, Hamming's window) of `mono`."""
    taps = np.arange(-16, 17)
    kernel = (np.sinc(taps / _THIRD) / _THIRD * np.hamming(33)).astype(np.float32)
    wide = np.concatenate([np.zeros(16, np.float32), mono, np.zeros(16, np.float32)])
    result: Floats = np.lib.stride_tricks.sliding_window_view(wide, 33)[::_THIRD] @ kernel
    return result


def _mono(samples: Floats, sample_rate: int) -> Floats:
    import soxr

    if samples.ndim == 1:
        mono = np.ascontiguousarray(samples, np.float32)
    else:
        mono = samples.mean(axis=1, dtype=np.float32)
        one = samples[:, 0]
        # Channels in opposite phase would cancel to nothing.
        if float(np.dot(mono, mono)) < 0.02 * float(np.dot(one, one)):
            mono = np.ascontiguousarray(one)
    if sample_rate != RATE:
        mono = np.asarray(soxr.resample(mono, sample_rate, RATE, quality="MQ"), np.float32)
    return mono


def _loudness(mono: Floats) -> float:
    """Root mean square of the louder half of the song: silence at its ends must not count."""
    whole = mono[: len(mono) // HOP * HOP].reshape(-1, HOP)
    if not len(whole):
        return 0.0
    power = np.einsum("ij,ij->i", whole, whole) / HOP
    return float(np.sqrt(np.mean(power[power >= np.median(power)])))


def _bands(padded: Floats, first: int, last: int, size: int, hop: int) -> Floats:
    stretch = padded[first * hop : (last - 1) * hop + size]
    frames = np.lib.stride_tricks.sliding_window_view(stretch, size)[::hop]
    window, bank = _bank(size)
    spectrum = np.abs(np.fft.rfft(frames * window, axis=1))
    result: Floats = np.log1p(_GAIN * (spectrum @ bank)).astype(np.float32)
    return result


@cache
def _bank(size: int) -> tuple[Floats, Floats]:
    """Window (size,) scaled to unit gain and triangular filters, shape (size // 2 + 1, bands)."""
    window = np.hanning(size + 1)[:size]
    window /= window.sum() / 2
    if size == _SHORT:
        low_mel, high_mel = (2595 * np.log10(1 + hertz / 700) for hertz in (30.0, 10000.0))
        mel = np.linspace(low_mel, high_mel, SHORT_BANDS + 2)
        edges = 700 * (10 ** (mel / 2595) - 1)
    else:
        edges = np.geomspace(57.0, 1600.0, _LONG_BANDS + 2)
    # A filter narrower than two bins would hear nothing between them.
    width = RATE / size if size == _SHORT else RATE / _THIRD / size
    freqs = np.arange(size // 2 + 1) * width
    low = np.minimum(edges[:-2], edges[1:-1] - width)
    high = np.maximum(edges[2:], edges[1:-1] + width)
    rise = (freqs[:, None] - low) / (edges[1:-1] - low)
    fall = (high - freqs[:, None]) / (high - edges[1:-1])
    bank = np.maximum(0.0, np.minimum(rise, fall))
    return window.astype(np.float32), (bank / bank.sum(axis=0)).astype(np.float32)
