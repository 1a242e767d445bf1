"""The silhouette of the music for the ribbon."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rehearse.music.track import Track

_COLUMNS = 600
#: Every so many frames one is looked at: plenty for a silhouette.
_STRIDE = 8


def silhouette(track: Track, start: float, end: float) -> npt.NDArray[np.float32]:
    """Loudness of [start, end) seconds of `track`: root mean square in `_COLUMNS` columns, 0..1."""
    first, last = (round(t * track.sample_rate) for t in (start, end))
    part = track.samples[max(0, first) : max(first + 1, last) : _STRIDE].mean(axis=1)
    edges = np.linspace(0, len(part), _COLUMNS + 1).astype(int)[:-1]
    energy = np.add.reduceat(np.square(part, dtype=np.float64), np.minimum(edges, len(part) - 1))
    loud = np.sqrt(energy / max(1.0, len(part) / _COLUMNS))
    return (loud / max(float(loud.max(initial=0.0)), 1e-9)).astype(np.float32)
