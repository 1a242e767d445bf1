"""Any channel layout to two channels.

Source of the weights: Recommendation ITU-R BS.775-4, annex 4 (centre and surround at −3 dB, the
low-frequency channel left out). Back channels of 6.1 and 7.1 are treated as surround (practice).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

MINUS_3_DB = 0.5**0.5

_LEFT = {"FL": 1.0, "DL": 1.0, "FLC": 1.0, "SL": MINUS_3_DB, "BL": MINUS_3_DB, "WL": MINUS_3_DB}
_RIGHT = {"FR": 1.0, "DR": 1.0, "FRC": 1.0, "SR": MINUS_3_DB, "BR": MINUS_3_DB, "WR": MINUS_3_DB}
_BOTH = {"FC": MINUS_3_DB, "BC": 0.5, "TC": MINUS_3_DB}


def stereo_weights(channels: Sequence[str]) -> npt.NDArray[np.float32]:
    """Weights of shape (channels, 2): column 0 makes the left channel, column 1 the right.

    Args:
        channels: names in the file's order ("FL", "FR", "FC", "LFE", "BL", "SR" …); unknown
            names go to left and right by turns, so that nothing recorded is lost.
    """
    if len(channels) == 1:
        return np.ones((1, 2), np.float32)
    if all(name not in _LEFT and name not in _RIGHT and name not in _BOTH for name in channels):
        # Named by nothing: a plain wav does not say which channel is which; one and two are.
        return _unnamed(len(channels))
    weights = np.zeros((len(channels), 2), np.float32)
    for row, name in enumerate(channels):
        if name in _LEFT:
            weights[row, 0] = _LEFT[name]
        elif name in _RIGHT:
            weights[row, 1] = _RIGHT[name]
        elif name in _BOTH:
            weights[row] = _BOTH[name]
        elif not name.startswith("LFE"):
            weights[row, row % 2] = MINUS_3_DB
    return weights


def _unnamed(channels: int) -> npt.NDArray[np.float32]:
    weights = np.zeros((channels, 2), np.float32)
    weights[np.arange(channels), np.arange(channels) % 2] = 1.0 if channels == 2 else MINUS_3_DB
    return weights
