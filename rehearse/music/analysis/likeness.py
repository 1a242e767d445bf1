"""How alike two places of a song sound: harmony, timbre and level, beat by beat.

Harmony is the chroma of Bartsch & Wakefield ("To catch a chorus", WASPAA 2001), timbre the first
cepstral coefficients of the mel spectrum (Davis & Mermelstein, IEEE ASSP 28, 1980), both by librosa
in a worker process; level is K-weighted (ITU-R BS.1770-4). A place is known by the beats before it
and after it, the nearest weighing most.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.spectrum import FPS, RATE, Curves, Floats, listen
from rehearse.music.track import Track
from rehearse.words import _
from rehearse.work.progress import Report

#: Beats on either side of a place that are compared, and what each weighs.
SIDE = 4
_NEAR = np.array([1.0, 0.7, 0.5, 0.35])
#: What makes two sounds one unit apart: of cosine of chroma, cepstral distance, decibels.
_CHROMA, _TIMBRE, _LEVEL = 0.35, 18.0, 6.0
_CEPSTRA, _WINDOW, _HOP = 13, 4096, 2205
#: Seconds on either side over which loudness is compared, and the width of an onset's curve.
STEP = 2.0


@dataclass(frozen=True, eq=False)
class SongFeatures:
    """A song as it is compared.

    Args:
        curves: its curves. chroma: unit vectors, ten a second, shape (t, 12). timbre: cepstral
            coefficients, a hundred a second, shape (t, 13).
    """

    curves: Curves
    chroma: Floats
    timbre: Floats

    def power(self, start: float, end: float) -> float:
        """Mean level between two times, decibels."""
        level = self.curves.level
        a = min(max(0, round(start * FPS)), len(level) - 1)
        b = max(a + 1, min(round(end * FPS), len(level)))
        return float(10.0 * np.log10(np.mean(10.0 ** (level[a:b].astype(np.float64) / 10.0))))


def hear(track: Track, report: Report) -> SongFeatures:
    """Listen to a song, in a worker process.

    Args:
        track: the song. report: told how far it is; may raise to stop.
    """
    import librosa

    words = _("Listening to the song")
    curves = listen(track.samples, track.sample_rate, lambda done: report(0.7 * done, words))
    bank = librosa.filters.chroma(sr=RATE, n_fft=_WINDOW, tuning=0.0)
    chroma = _chroma(curves.mono, np.asarray(bank, np.float32))
    report(0.9, words)
    timbre = librosa.feature.mfcc(S=curves.bands.T, n_mfcc=_CEPSTRA).T
    report(1.0, words)
    return SongFeatures(curves, chroma, np.asarray(timbre, np.float32))


def _chroma(mono: Floats, bank: Floats) -> Floats:
    from scipy.fft import rfft

    padded = np.pad(mono, _WINDOW // 2)
    starts = np.arange(0, max(1, len(padded) - _WINDOW), _HOP)
    window = np.hanning(_WINDOW).astype(np.float32)
    rows = np.zeros((len(starts), 12), np.float32)
    view = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)
    for at in range(0, len(starts), 256):
        spectrum = np.abs(rfft(view[starts[at : at + 256]] * window, axis=1)) ** 2
        rows[at : at + 256] = spectrum.astype(np.float32) @ bank.T
    result: Floats = rows / np.maximum(np.linalg.norm(rows, axis=1, keepdims=True), 1e-9)
    return result


def places_heard(heard: SongFeatures, times: Sequence[float], beats: Sequence[float]) -> Floats:
    """What is heard around each of `times`, shape (n, 2 · SIDE, dimensions).

    Args:
        times: seconds. beats: seconds of one beat there.
    """
    slots = np.arange(-SIDE, SIDE)
    starts = np.asarray(times)[:, None] + slots * np.asarray(beats)[:, None]
    ends = starts + np.asarray(beats)[:, None]
    fine = np.concatenate([heard.timbre / _TIMBRE, heard.curves.level[:, None] / _LEVEL], axis=1)
    coarse = heard.chroma / np.sqrt(2.0 * _CHROMA)
    columns = [_mean(fine, starts, ends, FPS), _mean(coarse, starts, ends, RATE / _HOP)]
    return np.concatenate(columns, axis=2).astype(np.float32)


def _mean(rows: npt.NDArray[np.floating], starts: Floats, ends: Floats, fps: float) -> Floats:
    """Means of `rows` between times, those outside the song taken as its ends."""
    sums = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0, dtype=np.float64)])
    a = np.clip(np.floor(starts * fps).astype(int), 0, len(rows) - 1)
    b = np.clip(np.ceil(ends * fps).astype(int), a + 1, len(rows))
    result: Floats = (sums[b] - sums[a]) / (b - a)[..., None]
    return result


def unlike(left: Floats, arrived: Floats) -> Floats:
    """How unlike each place that is left and each place that is gone to are.

    What would have followed is compared with what follows, and what went before with what would
    have; 0: the same sound.

    Args:
        left, arrived: from `places_heard`, shape (m, …) and (n, …).

    Returns:
        shape (m, n), about 0.2 for repeats that musicians play, 1 and more for other music.
    """
    weights = np.concatenate([_NEAR[::-1], _NEAR])
    total = np.zeros((len(left), len(arrived)))
    for slot, weight in enumerate(weights):
        a, b = left[:, slot].astype(np.float64), arrived[:, slot].astype(np.float64)
        square = (a**2).sum(1)[:, None] + (b**2).sum(1)[None, :] - 2.0 * a @ b.T
        total += weight * np.sqrt(np.maximum(square, 0.0))
    return np.asarray(total / weights.sum(), np.float32)
