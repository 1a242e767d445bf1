"""A peak limiter that looks ahead and leaves everything below its ceiling bit for bit alone.

True peak is what a reconstructed waveform reaches between the samples; it is estimated at eight
times the rate, twice what ITU-R BS.1770-4, annex 2, asks for, with a windowed-sinc filter.
Attack: the gain falls in a ramp over the look-ahead and is down at the peak. Release: exponential.
What is played goes through a `Limiter` block by block, what is written through `limit` as a whole.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Audio = npt.NDArray[np.float32]

#: Largest true peak let through, -1 dBFS.
CEILING = 10 ** (-1 / 20)
#: The gain aims a little lower, because a moving gain and the estimate itself are not exact.
_AIM = 10 ** (-0.25 / 20)
_LOOK_AHEAD = 0.002
#: Seconds in which the gain comes back by two thirds: of what is played, and of what is written,
#: which is louder and shall lose no more than its peaks.
_RELEASE, _SHORT_RELEASE = 0.15, 0.005
#: Frames that are worked on at once; more do not fit into the processor's cache.
_BLOCK = 1 << 12

_TAPS, _PHASES = 24, 8


def _bank() -> Audio:
    """Windowed-sinc filters for the points between two samples, shape (taps, points)."""
    away = np.arange(_TAPS) - (_TAPS / 2 - 1)
    points = np.arange(1, _PHASES) / _PHASES
    distance = away[:, None] - points[None, :]
    window = np.i0(9.0 * np.sqrt(np.clip(1 - (distance / (_TAPS / 2)) ** 2, 0, 1))) / np.i0(9.0)
    bank: Audio = np.asarray(np.sinc(distance) * window, np.float32)
    return bank


_BANK = _bank()
#: Frames before and after a frame that its true peak depends on.
_REACH = _TAPS // 2
#: How much more than its samples a peak between them can be (the filters' largest sum bounds it).
_LARGEST = float(np.abs(_BANK).sum(axis=0).max())


def true_peaks(audio: Audio) -> Audio:
    """Largest magnitude at and beside each frame over all channels, between samples included.

    Args:
        audio: float32 (frames + 24, channels): twelve frames more at each end than are asked for.

    Returns:
        float32 (frames,).
    """
    frames = len(audio) - _TAPS
    peaks = np.zeros(frames, np.float32)
    # Points in rows: the maximum over a long axis is four times as fast as over a short one.
    for channel in np.ascontiguousarray(audio.T):
        np.maximum(peaks, np.abs(channel[_REACH : _REACH + frames]), out=peaks)
        windows = np.lib.stride_tricks.sliding_window_view(channel, _TAPS)
        points = _BANK.T @ windows.T
        between = np.abs(points, out=points).max(axis=0)
        np.maximum(peaks, np.maximum(between[:frames], between[1:]), out=peaks)
    return peaks


class Limiter:
    """A limiter for one stream of two channels.

    It is given each block together with the `margin` frames that follow it, so that it adds no
    delay.

    Args:
        ceiling: largest true peak let through, linear. release: seconds.
    """

    def __init__(
        self, sample_rate: int, *, ceiling: float = CEILING, release: float = _RELEASE
    ) -> None:
        self._ceiling = ceiling
        self.look = max(8, int(_LOOK_AHEAD * sample_rate))
        self.margin = self.look + _REACH
        self._decay = float(np.exp(-1.0 / (release * sample_rate)))
        self._before = np.zeros((_REACH, 2), np.float32)
        self._held = np.zeros(self.look)  # reduction wanted by the last frames, before smoothing

    def process(self, audio: Audio, peaks: Audio | None = None) -> Audio:
        """Limit a block.

        Args:
            audio: float32 (frames + margin, 2), frames ≥ 1; the margin comes again with the next
                block.
            peaks: true peaks of the frames and of the look-ahead behind them, where known.

        Returns:
            float32 (frames, 2); the very input where nothing had to be done.
        """
        frames = len(audio) - self.margin
        joined = np.concatenate([self._before, audio])
        self._before = joined[frames : frames + _REACH].copy()
        resting = not self._held.any()
        if resting and np.abs(joined).max() * _LARGEST <= self._ceiling:
            return audio[:frames]
        if peaks is None:
            peaks = true_peaks(joined)  # of frames 0 .. frames + look
        if resting and peaks.max() <= self._ceiling:
            return audio[:frames]
        gain = 1.0 - self._reduction(peaks, frames)
        return audio[:frames] * gain.astype(np.float32)[:, None]

    def _reduction(self, peaks: Audio, frames: int) -> npt.NDArray[np.float64]:
        ceiling = self._ceiling
        need = np.where(peaks > ceiling, 1.0 - ceiling * _AIM / np.maximum(peaks, ceiling), 0.0)
        ahead = np.lib.stride_tricks.sliding_window_view(need, self.look).max(axis=1)[:frames]
        # Exponential release as a running maximum of demands scaled to a common moment.
        scale = self._decay ** -np.arange(1, frames + 1, dtype=np.float64)
        wanted = np.maximum.accumulate(np.maximum(ahead * scale, self._held[-1])) / scale
        wanted[wanted < 1e-6] = 0.0
        # The mean over the look-ahead turns each step into a ramp that ends on its peak.
        history = np.concatenate([self._held, wanted])
        self._held = history[-self.look :].copy()
        total = np.cumsum(np.concatenate([[0.0], history]))
        mean = (total[self.look :] - total[: -self.look]) / self.look
        reduction: npt.NDArray[np.float64] = np.clip(mean[1:], 0.0, 1.0)
        return reduction


def peaks_of(samples: Audio) -> Audio:
    """True peaks of a whole sound of shape (frames, channels), silence before and behind it."""
    padded = np.pad(samples, ((_REACH, _REACH), (0, 0)))
    blocks = [
        true_peaks(padded[start : start + _BLOCK + _TAPS])
        for start in range(0, len(samples), _BLOCK)
    ]
    return np.concatenate(blocks) if blocks else np.zeros(0, np.float32)


def limit(
    samples: Audio, sample_rate: int, *, ceiling: float = CEILING, peaks: Audio | None = None
) -> Audio:
    """A whole sound with no true peak above `ceiling` (linear).

    Args:
        samples: float32 (frames, 2). peaks: its true peaks, as `peaks_of` tells them, where known.
    """
    limiter = Limiter(sample_rate, ceiling=ceiling, release=_SHORT_RELEASE)
    # A look-ahead of silence before, so that a sound that begins with a peak is down in time.
    room = (limiter.look, limiter.margin)
    padded = np.pad(samples, (room, (0, 0)))
    known = np.pad(peaks_of(samples) if peaks is None else peaks, room)
    blocks = []
    for start in range(0, limiter.look + len(samples), _BLOCK):
        end = min(start + _BLOCK, limiter.look + len(samples))
        block = padded[start : end + limiter.margin]
        blocks.append(limiter.process(block, known[start : end + limiter.look]))
    return np.concatenate(blocks)[limiter.look :]
