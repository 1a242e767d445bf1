"""The outline of a track's loudness, for pictures of the whole."""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt

from rehearse.music.track import Track


def silhouette(
    track: Track, start: float, end: float, points: int = 480
) -> npt.NDArray[np.float32]:
    """Loudness of [start, end) seconds of `track` in `points` equal steps.

    Root mean square of each step over the loudest one's, to the power 0.6 so that quiet
    stretches stay visible; shape (points,), 0..1.
    """
    edges = np.linspace(start, end, points + 1) * track.sample_rate
    frames = np.clip(edges.astype(np.int64), 0, track.frames)
    power = np.array(
        [
            float(np.mean(np.square(track.samples[a:b]))) if b > a else 0.0
            for a, b in itertools.pairwise(frames)
        ]
    )
    loudest = power.max()
    shape = (power / loudest) ** 0.3 if loudest > 0 else power
    return np.asarray(shape, np.float32)
