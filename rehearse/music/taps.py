"""From a hand tapping along to beats: even out the taps, fill what was missed, take off the lead.

Taps scatter by some 20 to 40 ms and come early on the whole: the negative mean asynchrony of
Repp, "Sensorimotor synchronization: a review of the tapping literature" (Psychonomic Bulletin &
Review 12, 2005). Both are taken out: the scatter by a robust fit, the lead by the onsets that the
music has near the beats.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rehearse.files.user_error import UserError
from rehearse.words import _

Times = npt.NDArray[np.float64]

#: Fewest taps that make a tempo.
FEWEST = 4
#: Lead taken off where the music has no onsets to compare with; seconds, from memory of Repp 2005.
USUAL_LEAD = 0.02

_REACH, _REACH_COUNTS = 0.09, 0.22
_NEIGHBOURS = 9
#: A drifting tempo must fit this much better: by chance alone it fits about 10 % better.
_STRAIGHT = 1.35


def regular_beats(taps: Sequence[float], onsets: Sequence[float] = ()) -> Times:
    """Beats meant by the taps, seconds in rising order.

    Args:
        taps: seconds of the track that sounded at each tap.
        onsets: seconds at which something begins to sound there, for the lead.

    Raises:
        UserError: fewer than four taps, or taps too uneven to tell a tempo.
    """
    times = np.unique(np.asarray(taps, np.float64))
    if len(times) < FEWEST:
        raise UserError(
            _("{number} taps are too few to tell a tempo", number=len(times)),
            do=_("tap at least {fewest} beats", fewest=FEWEST),
        )
    times, counts = _count(times)
    beats = _fit(times, counts)
    step = float(np.median(np.diff(beats)))
    return beats + _lead(beats, np.asarray(onsets, np.float64), step)


def _count(times: Times) -> tuple[Times, npt.NDArray[np.int64]]:
    """Which beat each tap meant: bounces are dropped, missed beats leave a gap."""
    step = float(np.median(np.diff(times)))
    kept, counts = [float(times[0])], [0]
    for time in times[1:].tolist():
        ahead = round((time - kept[-1]) / step)
        if time - kept[-1] > 0.5 * step:
            kept.append(time)
            counts.append(counts[-1] + max(1, ahead))
    if len(kept) < FEWEST or counts[-1] > 3 * len(kept):
        raise UserError(_("the taps are too uneven to tell a tempo"), do=_("tap the stretch again"))
    return np.asarray(kept), np.asarray(counts)


def _fit(times: Times, counts: npt.NDArray[np.int64]) -> Times:
    """A beat for every count: one tempo if the taps keep to one, else a tempo that drifts.

    One tempo is the line through them by Theil and Sen (the median of all slopes); a drifting one
    the local lines of Cleveland's LOWESS (JASA 74, 1979), weighted down where a tap strays.
    """
    every = np.arange(counts[0], counts[-1] + 1)
    first, second = np.triu_indices(len(times), 1)
    slope = float(np.median((times[second] - times[first]) / (counts[second] - counts[first])))
    line = np.median(times - slope * counts) + slope * every
    drift = _lowess(counts.astype(np.float64), times, every.astype(np.float64))
    index = counts - counts[0]
    straight = _rms(times - line[index]) < _STRAIGHT * _rms(times - drift[index])
    return np.asarray(line if straight else drift)


def _rms(rest: Times) -> float:
    return float(np.sqrt(np.mean(rest**2)))


def _lowess(x: Times, y: Times, at: Times) -> Times:
    strength = np.ones(len(x))
    for _unused in range(3):
        rest = y - _local_lines(x, y, x, strength)
        spread = 6 * max(float(np.median(np.abs(rest))), 1e-4)
        strength = np.clip(1 - (rest / spread) ** 2, 0.0, 1.0) ** 2 + 1e-6
    return _local_lines(x, y, at, strength)


def _local_lines(x: Times, y: Times, at: Times, strength: Times) -> Times:
    result = np.empty(len(at))
    for k, here in enumerate(at):
        distance = np.abs(x - here)
        reach = np.sort(distance)[min(_NEIGHBOURS, len(x)) - 1] + 1.0
        weight = strength * np.clip(1 - (distance / reach) ** 3, 0.0, 1.0) ** 3
        middle = np.average(x, weights=weight)
        mean = np.average(y, weights=weight)
        spread = np.average((x - middle) ** 2, weights=weight)
        slope = np.average((x - middle) * (y - mean), weights=weight) / max(spread, 1e-9)
        result[k] = mean + slope * (here - middle)
    return result


def _lead(beats: Times, onsets: Times, step: float) -> float:
    """What to add to the beats so that they fall on the onsets: the median of the distances."""
    if not len(onsets):
        return USUAL_LEAD
    reach = min(_REACH, _REACH_COUNTS * step)
    nearest = onsets[np.abs(onsets[np.newaxis, :] - beats[:, np.newaxis]).argmin(axis=1)]
    distance = nearest - beats
    near = distance[np.abs(distance) <= reach]
    return float(np.median(near)) if len(near) >= max(3, len(beats) // 3) else USUAL_LEAD
