"""A track on a device of another rate: sound passed on as it is asked for, at the device's rate.

Windowed-sinc interpolation in polyphase form (see J. O. Smith, Digital Audio Resampling, Stanford:
band-limited interpolation at a rational ratio): each device frame is a weighted sum of the track's
frames around its place. Places are counted in whole numbers, so that they never drift. The
streaming form of the library used for files works in blocks: it asks for up to 20 ms of music in
advance, by which every change would come later; here it is less than 1 ms.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Audio = npt.NDArray[np.float32]

#: Frames of the lower rate on either side that a frame depends on; the Kaiser window's shape
#: (more than 100 dB of damping); the passband's edge against half the lower rate.
_REACH, _SHAPE, _EDGE = 40, 10.0, 0.93


def _bank(up: int, down: int) -> Audio:
    """Weights for each place between two frames, shape (up, taps)."""
    narrow = min(1.0, up / down)
    reach = math.ceil(_REACH / narrow)
    away = np.arange(1 - reach, reach + 1)[None, :] - (np.arange(up) / up)[:, None]
    window = np.i0(_SHAPE * np.sqrt(np.clip(1 - (away / reach) ** 2, 0, 1)))
    weights = np.sinc(away * narrow * _EDGE) * window
    bank: Audio = (weights / weights.sum(axis=1, keepdims=True)).astype(np.float32)
    return bank


class Resampler:
    """Turns a source of frames at one rate into one at another.

    Frame `k` that is given out is heard where frame `k · source_rate / device_rate` of the source
    lies; what is needed in advance is `ahead` frames of the source.

    Args:
        pull: the source: given a number of frames, returns float32 (frames, 2).
        source_rate, device_rate: frames a second, whole numbers.
    """

    def __init__(self, pull: Callable[[int], Audio], source_rate: int, device_rate: int) -> None:
        common = math.gcd(source_rate, device_rate)
        self._up, self._down = device_rate // common, source_rate // common
        self._source = pull
        self._bank = _bank(self._up, self._down)
        self.ahead = self._bank.shape[1] // 2
        self._held = np.zeros((self.ahead - 1, 2), np.float32)
        self._phase = 0

    def pull(self, frames: int) -> Audio:
        """The next frames (at least one), float32 (frames, 2), at the device's rate."""
        steps = self._phase + self._down * np.arange(frames, dtype=np.int64)
        places, phases = np.divmod(steps, self._up)
        taken, self._phase = divmod(self._phase + self._down * frames, self._up)
        taps = self._bank.shape[1]
        missing = int(places[-1]) + taps - len(self._held)
        if missing > 0:
            self._held = np.concatenate([self._held, self._source(missing)])
        weights = self._bank[phases]
        around = places[:, None] + np.arange(taps)
        sound = np.stack(
            [np.einsum("ft,ft->f", channel[around], weights) for channel in self._held.T], axis=1
        )
        self._held = self._held[taken:]
        return sound
