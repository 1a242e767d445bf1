"""When a pose arrived: the end of the fast part of the way into it.

The body's speed is taken from the picture by several signals. In each, the last stop of a reach
is where the speed falls through a fifth of its peak; three estimates of that moment, from the
ratios of a minimum-jerk movement (Flash and Hogan 1985: 70, 50, 30 and 20 % of the peak speed at
0.698, 0.771, 0.836 and 0.871 of its length), give a median and a spread. The signals then vote.

Settling after the arrival stays under a fifth of the peak, and so does shaking: neither moves it.
Constants were chosen on rendered films with known arrivals; no film of a person was among them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

#: Values a second of the signals.
GRID = 120.0
#: Part of the peak speed whose falling through is the arrival.
LEVEL = 0.2
#: Seconds before and after the hit in which an arrival is looked for.
_BEFORE, _AFTER = 1.3, 0.95

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Stop:
    """One end of a fast part in one signal.

    Args:
        time: film second. start: of its fast part. spread: seconds between the estimates.
        fall: seconds from half to a third of the peak speed, twice: how slowly it ended.
        rest, ever: mean and highest speed after it, as parts of the peak. resume: seconds after
            it in which the body moved on. area: distance covered. top: peak speed. noise: of the
            speed at rest. score: how much it looks like the arrival.
    """

    time: float
    start: float
    spread: float
    fall: float
    rest: float
    ever: float
    resume: float
    area: float
    top: float
    noise: float
    score: float


def window(hit: float, before: float | None, after: float | None) -> tuple[float, float]:
    """Film seconds in which the arrival at `hit` is looked for, the hits next to it known."""
    start, end = hit - _BEFORE, hit + _AFTER
    if before is not None:
        start = max(start, min(before + 0.25, hit - 0.4))
    if after is not None:
        end = min(end, max(after - 0.35, hit + 0.25))
    return start, end


def stops(times: Array, speed: Array, hit: float, start: float, end: float) -> list[Stop]:
    """The stops of one signal from `start` to `end`, the largest movement first."""
    wide = speed[(times >= start - 0.25) & (times <= end + 0.4)]
    inside = np.flatnonzero((times >= start) & (times <= end))
    if len(inside) < 20:
        return []
    floor = np.percentile(wide, 12)
    noise = float(np.sort(wide)[: max(3, int(0.4 * len(wide)))].std())
    over = np.maximum(speed - floor, 0.0)
    first, last = int(inside[0]), int(inside[-1])
    used = np.zeros(len(over), bool)
    found: list[Stop] = []
    highest = float(over[first : last + 1].max())
    for _ in range(8):
        at = first + int(np.where(used[first : last + 1], 0.0, over[first : last + 1]).argmax())
        top = float(over[at])
        if used[at] or top < 0.15 * highest or top <= 0:
            break
        left, right = _region(over, used, at, first, last)
        used[max(first, left - 2) : right + 3] = True
        if stop := _stop(times, over, left, right, top, noise, hit):
            found.append(stop)
    return found


def _region(
    over: Array, used: npt.NDArray[np.bool_], at: int, first: int, last: int
) -> tuple[int, int]:
    left = right = at
    while left > first and over[left - 1] > LEVEL * over[at] and not used[left - 1]:
        left -= 1
    while right < last and over[right + 1] > LEVEL * over[at] and not used[right + 1]:
        right += 1
    return left, right


def _stop(
    times: Array, over: Array, left: int, right: int, top: float, noise: float, hit: float
) -> Stop | None:
    flank = _flank(over, left, right, top)
    if flank is None:
        return None
    peak, end = flank
    estimates, fall = _estimates(times, over, peak, end, max(float(over[peak]), 0.7 * top))
    if not estimates:
        return None
    time = float(np.median(estimates))
    after = over[(times >= time + 0.08) & (times <= time + 0.42)]
    rest = float(after.mean() / top) if len(after) else 1.0
    ever = float(after.max() / top) if len(after) else 1.0
    resumed = over[(times >= time + 0.08) & (times <= time + 0.65)] > 0.35 * top
    area = float(over[left : right + 1].sum() / GRID)
    score = float(np.log(area + 1e-9)) - 0.5 * ((time - hit) / 0.25) ** 2
    score -= 3 * max(0.0, rest - 0.15) + max(0.0, ever - 0.6)
    spread = max(estimates) - min(estimates)
    resume = _longest(resumed) / GRID
    start = float(times[left])
    return Stop(time, start, spread, fall, rest, ever, resume, area, top, noise, score)


def _flank(over: Array, left: int, right: int, top: float) -> tuple[int, int] | None:
    """Indices of the last peak of a region whose fall is the arrival, and of that fall's end.

    A small peak after a deep dip is settling: the flank before the dip is meant.
    """
    part = over[left : right + 1]
    peaks = np.flatnonzero((part[1:-1] >= part[:-2]) & (part[1:-1] > part[2:])) + 1
    highest = int(part.argmax())
    peaks = np.unique(np.append(peaks, highest))
    peaks = peaks[part[peaks] >= 0.3 * top]
    k = len(peaks) - 1
    while k > 0:
        dip = part[peaks[k - 1] : peaks[k] + 1].min()
        small = part[peaks[k]] < 0.55 * top
        if not (small and dip < 0.3 * top and dip < 0.6 * part[peaks[k]]):
            break
        k -= 1
    if k < len(peaks) - 1:
        dip_at = int(part[peaks[k] : peaks[k + 1] + 1].argmin())
        return left + int(peaks[k]), left + int(peaks[k]) + dip_at
    end = right  # a low last peak falls through a fifth of itself later than the region ends
    while end < min(len(over) - 4, right + 14) and over[end] > 0.13 * top:
        end += 1
    return left + int(peaks[k]), end


def _estimates(
    times: Array, over: Array, peak: int, end: int, top: float
) -> tuple[list[float], float]:
    """Estimates of the arrival by the falling crossings of four levels, and the fall's length."""
    crossed: dict[int, float] = {}
    part = over[peak : min(end + 2, len(over))]
    for percent in (70, 50, 30, round(100 * LEVEL)):
        level = percent / 100 * top
        down = np.flatnonzero((part[:-1] >= level) & (part[1:] < level))
        if len(down):
            k = int(down[-1])
            step = (part[k] - level) / (part[k] - part[k + 1])
            crossed[percent] = float(times[peak + k] + step / GRID)
    found = [crossed[20]] if 20 in crossed else []
    if 30 in crossed and 50 in crossed:
        found.append(crossed[30] + 0.52 * (crossed[30] - crossed[50]))
    if 50 in crossed and 70 in crossed:
        found.append(crossed[50] + 1.24 * (crossed[50] - crossed[70]))
    known = 30 in crossed and 50 in crossed
    return found, 2 * (crossed[30] - crossed[50]) if known else 0.3


def _longest(values: npt.NDArray[np.bool_]) -> int:
    """The longest run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], values.astype(np.int8), [0]])))
    return int((edges[1::2] - edges[::2]).max()) if len(edges) else 0
