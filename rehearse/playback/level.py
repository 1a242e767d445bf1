"""Level and peaks of stretched music: as loud as its source, and no higher than it.

A stretch loses some level, because it spreads what was together, and it moves the phases of the
partials against one another, so that now and then more of them meet than ever did in the source.
"""

from __future__ import annotations

import functools
from typing import Any

import numpy as np
import numpy.typing as npt

Audio = npt.NDArray[np.float32]

#: Seconds of a block; power is counted less the block's mean, that is above about 80 Hz.
_BLOCK = 0.008
#: Seconds over which the level is compared, and bounds of the gain (dB).
_OVER = 0.7
_BOUNDS = -0.75, 1.5
#: Seconds from a peak to where the gain is 1 again, of the low part and of all; the grid on which
#: that is reckoned; the mean that makes the low part.
_LOW_DIP, _DIP, _GRID, _LOW = 0.024, 0.012, 0.001, 0.0025


def match_level(source: Audio, slow: Audio, rate: int, tempo: float) -> Audio:
    """Bring stretched music to the level of its source at the same place, in place.

    Args:
        source, slow: planes (channels, frames); frame `n` of the source is at `n / tempo`.
    """
    block = max(1, round(_BLOCK * rate))
    here, there = _powers(slow, block), _powers(source, block)
    if len(here) < 2 or len(there) < 2:
        return slow
    here = _smoothed(here, _OVER * rate / block)
    there = _smoothed(there, _OVER * rate * tempo / block)
    at = np.arange(len(here))
    wanted = np.interp((at + 0.5) * tempo - 0.5, np.arange(len(there)), there)
    gain = np.sqrt((wanted + 1e-12) / (here + 1e-12))
    low, high = (10 ** (bound / 20) for bound in _BOUNDS)
    slow *= _drawn(np.clip(gain, low, high), block, slow)
    return slow


def hold_peaks(slow: Audio, peak: float, rate: int) -> Audio:
    """Lower stretched music around the samples that pass `peak`, in place.

    First its low part alone, which is what rises above the source's peak where a bass meets a
    drum in another phase; then, for what is left, all of it. The gain takes its time to go down
    and to come back, so that it is not heard as distortion.

    Args:
        slow: planes (channels, frames), sum and difference where they are two.
    """
    if peak <= 0:
        return slow
    size = max(1, round(_GRID * rate))
    highest, where = _highest(slow, size)
    if (highest <= peak).all():
        return slow
    low = _low_part(slow, max(1, round(_LOW * rate)))
    under, over = _height(low[:, where]), _height(slow[:, where] - low[:, where])
    part = np.minimum(peak / np.maximum(highest, peak), 1)
    left = np.clip((peak - over) / np.maximum(under, 1e-9), part**2, 1)
    slow -= low * _drawn(_eased(np.where(part < 1, 1 - left, 0), _LOW_DIP), size, slow)
    highest, _ = _highest(slow, size)
    slow *= 1 - _drawn(_eased(1 - peak / np.maximum(highest, peak), _DIP), size, slow)
    return slow


def _height(planes: Audio) -> Audio:
    """The higher of two channels from their sum and difference; of others the highest."""
    height: Audio = np.abs(planes).sum(axis=0) if len(planes) == 2 else np.abs(planes).max(axis=0)
    return height


def _highest(slow: Audio, size: int) -> tuple[Audio, npt.NDArray[np.intp]]:
    """The highest sample of each block of `size` frames, and where it is."""
    height = _height(slow)
    blocks = -(-len(height) // size)
    table = np.pad(height, (0, blocks * size - len(height))).reshape(blocks, size)
    where = table.argmax(axis=1)
    return table[np.arange(blocks), where], np.minimum(
        np.arange(blocks) * size + where, len(height) - 1
    )


def _low_part(slow: Audio, frames: int) -> Audio:
    """The part below about 200 Hz: twice the mean over `frames`."""
    low: npt.NDArray[Any] = slow
    for _ in range(2):
        sums = np.cumsum(np.pad(low, ((0, 0), (frames, frames))), axis=1, dtype=np.float64)
        low = (sums[:, frames:] - sums[:, :-frames])[:, frames // 2 :][:, : slow.shape[1]] / frames
    return low.astype(np.float32)


def _eased(need: npt.NDArray[Any], seconds: float) -> npt.NDArray[np.float64]:
    """A smooth curve that is nowhere below `need`, from and to nothing within `seconds`."""
    reach = round(seconds / _GRID)
    window = np.hanning(2 * reach + 1)[1:-1]
    held = np.lib.stride_tricks.sliding_window_view(np.pad(need, 2 * reach), 2 * reach + 1)
    eased: npt.NDArray[np.float64] = np.convolve(held.max(axis=1), window / window.sum(), "valid")
    return eased[1:-1]


def _powers(planes: Audio, block: int) -> npt.NDArray[np.float64]:
    """Power in each block about its mean, of all planes together."""
    count = planes.shape[1] // block
    blocks = planes[:, : count * block].reshape(len(planes), count, block)
    squares = np.einsum("cnb,cnb->cn", blocks, blocks) / block
    powers: npt.NDArray[np.float64] = np.maximum(squares - blocks.mean(axis=2) ** 2, 0).sum(axis=0)
    return powers.astype(np.float64)


@functools.lru_cache
def _window(blocks: int) -> npt.NDArray[np.float64]:
    return np.hanning(blocks + 2)[1:-1]


def _smoothed(values: npt.NDArray[np.float64], blocks: float) -> npt.NDArray[np.float64]:
    """Mean under a raised cosine, at the ends under what there is of it."""
    window = _window(max(1, round(blocks) | 1))
    half = len(window) // 2
    sums = np.convolve(values, window)[half : half + len(values)]
    return sums / np.convolve(np.ones(len(values)), window)[half : half + len(values)]


def _drawn(gain: npt.NDArray[np.float64], block: int, slow: Audio) -> Audio:
    """The gain of every frame of `slow` from that at the blocks' middles."""
    place = np.arange(slow.shape[1], dtype=np.float64)
    drawn = np.interp(place, (np.arange(len(gain)) + 0.5) * block - 0.5, gain)
    return drawn.astype(np.float32)
