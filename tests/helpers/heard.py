"""Where a known sound lies in a recording."""

from __future__ import annotations

import numpy as np


def heard_at(heard: np.ndarray, expected: np.ndarray, around: int, reach: int) -> tuple[int, float]:
    """Frame of `heard` at which `expected` begins, searched within `reach` frames of `around`.

    Returns the frame and the normalised correlation there, by cross-correlation.
    """
    first = max(0, around - reach)
    window = heard[first : around + reach + len(expected)].astype(float)
    expected = expected.astype(float) - expected.mean()
    size = 1 << (len(window) + len(expected)).bit_length()
    product = np.fft.rfft(window, size) * np.conj(np.fft.rfft(expected, size))
    context = np.fft.irfft(product, size)[: len(window) - len(expected) + 1]
    best = int(np.argmax(context))
    part = window[best : best + len(expected)]
    scale = np.linalg.norm(part) * np.linalg.norm(expected) + 1e-12
    return first + best, float(context[best] / scale)
