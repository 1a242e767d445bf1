"""Builds: rises in loudness, brightness or density that end in an accent.

Three curves are added up in units in which one is a plain build of its kind: loudness (decibels),
brightness (octaves of spectral centroid) and density (octaves of onsets a second), the signs by
which Butler describes a build-up ("Unlocking the Groove", 2006). Before every accent a straight
line is fitted to the sum over every length from 2 to 24 s. A rise weighs what its line climbs, up
to two units, times the cube of how well it fits (r²); the length that weighs most is the build,
unless the climb is really a step: then most of it happens within a second.

Music mastered loud climbs to a hit that is no louder than the climb, so no accent may stand there.
Where a clear rise lasts long enough and the tension then falls off on the first beat of a bar, that
beat is what it led to. Fitting and units are ours, the constants were set on made songs
(`tests/bench/map_truth.py` measures them on others).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.accents import onset_peaks
from rehearse.music.analysis.spectrum import FPS, Curves, smooth
from rehearse.music.beatmap import Accent, Build

Array = npt.NDArray[np.float64]

#: Weight from which a rise is a build, and the share of it that may happen within a second.
THRESHOLD = 1.0
STEP = 0.5
#: For a rise to the first beat of a bar where no accent stands: the share of it that may happen
#: within a second, its shortest length in seconds, and the units by which tension must fall off.
BAR_STEP, BAR_SHORTEST, RELIEF = 0.6, 4.0, 0.5
#: What one unit is: decibels, octaves of brightness, octaves of density.
UNITS = (8.0, 1.0, 1.5)
SHORTEST, LONGEST = 2.0, 24.0
#: Units beyond which a climb is no clearer for being higher.
CLEAR = 2.0

_RATE = 10
_ATTACK = 0.1
_SECOND = _RATE


@dataclass(frozen=True)
class _Rise:
    start: float
    end: float
    weight: float


def find_builds(
    curves: Curves, accents: Sequence[Accent], bars: Sequence[float] = ()
) -> tuple[Build, ...]:
    """Builds in order of time; where two overlap the clearer one stays.

    Args:
        curves: of the whole song.
        accents: to which a build may lead.
        bars: onsets of first beats of bars, to which one may lead too.
    """
    tension = _tension(curves)
    found = [_rise_before(tension, a.time, SHORTEST, STEP) for a in accents]
    found += [
        _rise_before(tension, bar, BAR_SHORTEST, BAR_STEP)
        for bar in bars
        if _relief(tension, bar) >= RELIEF
    ]
    rises = [r for r in found if r is not None]
    chosen: list[_Rise] = []
    for rise in sorted(rises, key=lambda r: -r.weight - _relief(tension, r.end)):
        if all(rise.end <= c.start or rise.start >= c.end for c in chosen):
            chosen.append(rise)
    return tuple(
        Build(round(r.start, 6), r.end, r.end) for r in sorted(chosen, key=lambda r: r.start)
    )


def _relief(tension: Array, end: float) -> float:
    """Units by which tension is lower after a moment than right before it, ≥ 0."""
    at = round(end * _RATE)
    before, after = tension[max(0, at - 12) : at - 2], tension[at + 5 : at + 25]
    if not len(before) or len(after) < 20:
        return 0.0
    return max(0.0, float(before.mean() - after.mean()))


def _tension(curves: Curves) -> Array:
    """The three signs in their units, added up, `_RATE` a second."""
    onsets = np.zeros(len(curves.level), np.float32)
    onsets[onset_peaks(curves)] = FPS
    density = np.log2(smooth(onsets, 1.0) + 1.0)
    signs = (smooth(curves.level, 0.5), smooth(curves.bright, 0.5), density)
    total = sum(c.astype(np.float64) / u for c, u in zip(signs, UNITS, strict=True))
    return np.asarray(total)[:: FPS // _RATE]


def _rise_before(tension: Array, end: float, shortest: float, step: float) -> _Rise | None:
    last = int((end - _ATTACK) * _RATE)
    longest = min(last, round(LONGEST * _RATE))
    if longest < shortest * _RATE:
        return None
    back = tension[last - longest : last][::-1]
    climb, fit = _lines(back)
    # A jump belongs to every window that holds both its sides.
    jumps = np.full(longest, -np.inf)
    jumps[_SECOND:] = np.maximum.accumulate(back[:-_SECOND] - back[_SECOND:])
    lengths = np.arange(1, longest + 1)
    gradual = (jumps <= step * climb) & (lengths >= shortest * _RATE)
    weights = np.where(gradual, np.minimum(climb, CLEAR) * fit**3, 0.0)
    best = int(np.argmax(weights))
    if weights[best] < THRESHOLD:
        return None
    return _Rise(end - lengths[best] / _RATE, end, float(weights[best]))


def _lines(back: Array) -> tuple[Array, Array]:
    """Lines through back[:n] (newest first) for every n: what each climbs (≥ 0), and its r²."""
    n = np.arange(1, len(back) + 1, dtype=np.float64)
    x = -np.arange(len(back), dtype=np.float64)
    sx, sy = np.cumsum(x), np.cumsum(back)
    sxx = np.cumsum(x * x) - sx * sx / n
    syy = np.cumsum(back * back) - sy * sy / n
    sxy = np.cumsum(x * back) - sx * sy / n
    climb = np.maximum(sxy / np.maximum(sxx, 1e-9), 0.0) * n
    return climb, np.clip(sxy**2 / np.maximum(sxx * syy, 1e-9), 0.0, 1.0)
