"""Level and peaks of stretched music: as loud as its source, and no higher than it.

A stretch loses some level, because it spreads what was together, and it moves the phases of the
partials against one another, so that now and then more of them meet than ever did in the source.
"""

from __future__ import annotations

import functools

import numpy as np
import numpy.typing as npt

Audio = npt.NDArray[np.float32]

#: Seconds of a block; power is counted less the block's mean, that is above about 80 Hz.
_BLOCK = 0.008
#: Seconds over which the level is compared, and bounds of the gain (dB).
_OVER = 0.7
_BOUNDS = -0.75, 1.5
#: Seconds from a peak to where the gain is 1 again, and the grid on which that is reckoned.
_DIP, _GRID = 0.012, 0.001


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
    slow *= _drawn(np.clip(gain, low, high), block, slow.shape[1])
    return slow


def hold_peaks(slow: Audio, peak: float, rate: int) -> Audio:
    """Lower stretched music around the samples that pass `peak`, in place.

    The gain takes 12 ms to go down and to come back, slow enough not to be heard as distortion.

    Args:
        slow: planes (channels, frames), sum and difference where they are two.
    """
    size = max(1, round(_GRID * rate))
    height = np.abs(slow).sum(axis=0) if len(slow) == 2 else np.abs(slow).max(axis=0)
    blocks = -(-len(height) // size)
    highest = np.pad(height, (0, blocks * size - len(height))).reshape(blocks, size).max(axis=1)
    need = 1 - peak / np.maximum(highest, peak)
    if peak <= 0 or not need.any():
        return slow
    reach = round(_DIP / _GRID)
    window = np.hanning(2 * reach + 1)[1:-1]
    held = np.pad(need, 2 * reach)
    held = np.lib.stride_tricks.sliding_window_view(held, 2 * reach + 1).max(axis=1)
    fall = np.convolve(held, window / window.sum(), "valid")[1:-1]
    slow *= _drawn(1 - fall, size, slow.shape[1])
    return slow


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


def _drawn(gain: npt.NDArray[np.float64], block: int, frames: int) -> Audio:
    """The gain of every frame from that at the blocks' middles."""
    place = np.arange(frames, dtype=np.float64)
    drawn = np.interp(place, (np.arange(len(gain)) + 0.5) * block - 0.5, gain)
    return drawn.astype(np.float32)
