"""Parts: where the music changes, and which parts are alike.

Novelty on a self-similarity matrix after Foote, "Automatic audio segmentation using a measure of
audio novelty" (ICME 2000): mel spectra averaged over half seconds are compared with each other,
and a checkerboard kernel tapered by a Gaussian slides along the diagonal; its peaks are the
places where what comes differs from what was. Parts whose mean spectra are alike share a letter.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.spectrum import FPS, Curves, Floats
from rehearse.music.beatmap import Part

#: Seconds on either side that are compared, and the shortest part.
REACH, SHORTEST = 8.0, 6.0
#: Share of the greatest novelty from which a change divides; likeness from which parts are alike.
CHANGE, ALIKE = 0.25, 0.8

_RATE = 2
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def find_parts(curves: Curves, bars: Sequence[float], duration: float) -> tuple[Part, ...]:
    """Parts from beginning to end of the song.

    Args:
        curves: of the whole song.
        bars: first beats of bars; a change within a second of one is taken to be on it.
        duration: seconds.
    """
    features = _features(curves)
    edges = [0.0]
    for change in _peaks(_novelty(features)) / _RATE:
        edge = _on_bar(float(change), bars)
        if edge - edges[-1] >= SHORTEST and duration - edge >= SHORTEST:
            edges.append(round(edge, 6))
    edges.append(duration)
    labels = _labels(features, edges)
    return tuple(
        Part(a, b, label) for (a, b), label in zip(itertools.pairwise(edges), labels, strict=True)
    )


def _features(curves: Curves) -> Floats:
    """Unit vectors of how the spectrum differs from the song's mean, shape (t, bands + 1)."""
    step = FPS // _RATE
    count = max(1, len(curves.bands) // step)
    whole = np.concatenate([curves.bands, 3.0 * curves.level[:, np.newaxis]], axis=1)
    mean = whole[: count * step].reshape(count, -1, whole.shape[1]).mean(axis=1)
    centred = mean - mean.mean(axis=0)
    length = np.linalg.norm(centred, axis=1, keepdims=True)
    result: Floats = (centred / np.maximum(length, 1e-6)).astype(np.float32)
    return result


def _novelty(features: Floats) -> Floats:
    reach = round(REACH * _RATE)
    at = np.arange(-reach, reach) + 0.5
    taper = np.exp(-0.5 * (at / (0.5 * reach)) ** 2)
    kernel = np.outer(np.sign(at) * taper, np.sign(at) * taper).astype(np.float32)
    padded = np.pad(features, ((reach, reach), (0, 0)), mode="edge")
    result = np.zeros(len(features), np.float32)
    for k in range(len(features)):
        around = padded[k : k + 2 * reach]
        result[k] = np.sum(kernel * (around @ around.T))
    return np.maximum(result, 0.0)


def _peaks(novelty: Floats) -> npt.NDArray[np.int64]:
    from scipy.ndimage import maximum_filter1d

    highest = float(novelty.max(initial=0.0))
    # At the ends the padding is compared with itself: no change can be told there.
    peak = (novelty == maximum_filter1d(novelty, 2 * _RATE * 3 + 1)) & (novelty > CHANGE * highest)
    return np.flatnonzero(peak & (novelty > 1e-3))


def _on_bar(time: float, bars: Sequence[float]) -> float:
    nearest = min(bars, key=lambda bar: abs(bar - time), default=time)
    return nearest if abs(nearest - time) <= 1.0 else time


def _labels(features: Floats, edges: Sequence[float]) -> list[str]:
    means: list[Floats] = []
    labels = []
    for start, end in itertools.pairwise(edges):
        first = min(int(start * _RATE), len(features) - 1)
        mean = features[first : max(first + 1, int(end * _RATE))].mean(axis=0)
        mean /= max(float(np.linalg.norm(mean)), 1e-6)
        likeness = [float(np.dot(mean, other)) for other in means]
        if likeness and max(likeness) >= ALIKE:
            labels.append(_LETTERS[int(np.argmax(likeness)) % 26])
        else:
            labels.append(_LETTERS[len(means) % 26])
            means.append(mean)
    return labels
