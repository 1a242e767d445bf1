"""How sure the beats of a map are, eight by eight."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.freetime import GAP
from rehearse.music.beatmap import Confidence

#: Beats in one stretch of confidence: an eight.
EIGHT = 8


def confidence_stretches(
    times: tuple[float, ...], confidence: npt.NDArray[np.float64], duration: float
) -> tuple[Confidence, ...]:
    """Confidence of every eight beats: how sure they and their 1 are, less for an uneven step.

    The mean of the beats' own confidence (that a beat is there, times that it has its place in
    the bar) times the share of intervals within 12 % of their median; the share lets a jump
    between two grids show as doubt.
    """
    if len(times) < 2:
        return ()
    steps = np.diff(times)
    steps = np.append(steps, min(steps[-1], duration - times[-1]))
    usual = float(np.median(steps))
    result = []
    for first in range(0, len(times), EIGHT):
        last = min(first + EIGHT, len(times))
        inside = steps[first : min(last, len(times) - 1)]
        even = float(np.mean(np.abs(inside / np.median(inside) - 1) < 0.12)) if len(inside) else 1
        value = float(np.mean(confidence[first:last])) * even
        # Nothing is sure or unsure where there are no beats.
        end = times[last - 1] + float(steps[last - 1] if steps[last - 1] < GAP * usual else usual)
        result.append(Confidence(times[first], round(end, 6), round(min(1.0, max(0.0, value)), 4)))
    return tuple(result)
