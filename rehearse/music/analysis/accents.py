"""Accents: the strong hits of a song, ranked.

An accent is an onset that is louder than the hits around it. Loudness here is a sum over mel
bands of power to the 0.3, in octaves, after Stevens' power law of loudness ("The measurement of
loudness", JASA 27, 1955) applied band by band; onsets are peaks of the spectral flux of Böck &
Widmer (DAFx 2013). How much louder counts twice: against the onsets within 8 s, so that a hit
stands out from its own groove, and against the upper quarter of the whole song's onsets, so that
a soft stretch does not fill up with accents. Both weigh the same; the threshold was set on made
songs (`tests/bench/map_truth.py` measures it on others).

In music mastered loud no hit is much louder than another. There the strongest are those that ring
in bands where the hits around them do not: a cymbal that goes on, a boom, a chord of everyone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.spectrum import FPS, RATE, Curves, Floats, smooth
from rehearse.music.beatmap import Accent

Times = npt.NDArray[np.float64]

#: Octaves of loudness, over both comparisons, from which an onset is an accent.
THRESHOLD = 1.55
#: … and from which it is one if a build leads to it: what is awaited need not be as loud.
AWAITED = 1.3
#: A song whose hits are all alike still has its strongest: at least one in this many seconds, …
SPARSEST = 15.0
#: … as long as it stands out by this much at least: octaves of loudness, and decibels by which it
#: rings on beyond the hits around it.
FAINTEST = 1.0

#: Strength of a hit that only its place makes an accent.
LEAST = 0.3

_AROUND = 8.0
_APART = 0.16
# Frames after an onset in which it is heard ringing; percentile of the others that is beaten, and
# decibels beyond which it is no clearer.
_RING, _MOST, _LOUDEST = (4, 60), 90, 12.0
_WINDOW = 0.012
_HOP = 16


def find_accents(
    curves: Curves, threshold: float = THRESHOLD, *, sparsest: float = SPARSEST
) -> tuple[Accent, ...]:
    """Accents in order of time; strength 1 is the strongest of the song.

    Args:
        curves: of the whole song.
        threshold: octaves of loudness, over both comparisons, from which an onset counts.
        sparsest: seconds in which there is one at least, if it stands out at all.
    """
    peaks = onset_peaks(curves)
    if len(peaks) < 2:
        return ()
    loud = loudness(curves)
    peaks = strongest_within(peaks, np.array([loud[k : k + 7].max() for k in peaks]))
    hits = np.array([loud[k : k + 7].max() for k in peaks])
    salient = salience(peaks / FPS, hits)
    rung = salient + ringing(curves, peaks)
    chosen = _choose(salient, rung, threshold, int(curves.duration / sparsest))
    if not len(chosen):
        return ()
    top = float(rung[chosen].max())
    return tuple(
        Accent(round(refine_onset(curves.mono, peaks[k] / FPS), 6), round(float(s) / top, 4))
        for k, s in zip(chosen, rung[chosen], strict=True)
    )


def hits_on(curves: Curves, times: Sequence[float], reach: float = 0.05) -> tuple[Accent, ...]:
    """What sounds on each of `times`, however plain, as accents of least strength.

    An onset within `reach` seconds, or else the steepest rise that is nearest.
    """
    onsets = onset_peaks(curves) / FPS
    found = set()
    for time in times:
        near = onsets[np.abs(onsets - time) <= reach]
        at = float(near[np.argmin(np.abs(near - time))]) if len(near) else time
        found.add(Accent(round(refine_onset(curves.mono, at), 6), LEAST))
    return tuple(sorted(found))


def onset_peaks(curves: Curves) -> npt.NDArray[np.int64]:
    """Frames at which something begins to sound, in rising order."""
    from scipy.ndimage import maximum_filter1d

    flux = curves.flux
    peak = flux == maximum_filter1d(flux, 11)
    return np.flatnonzero(peak & (flux > smooth(flux, 1.0) + 1.0))


def onset_times(curves: Curves) -> Times:
    """Seconds of every onset, refined, in rising order."""
    times = [refine_onset(curves.mono, k / FPS) for k in onset_peaks(curves)]
    return np.unique(np.array(times, np.float64))


def refine_onset(mono: Floats, time: float, reach: float = 0.035) -> float:
    """The sample at which the sound rises most steeply within `reach` seconds of `time`.

    Steepest: the greatest ratio between the energy of the 12 ms after a sample and of the 12 ms
    before it, taken on the first difference of the signal, which favours the attack over a bass
    note that goes on beneath it.
    """
    margin = round(_WINDOW * RATE)
    first = max(0, round((time - reach) * RATE) - margin)
    last = min(len(mono), round((time + reach) * RATE) + margin)
    if last - first < 3 * margin:
        return time
    energy = np.concatenate([[0.0], np.cumsum(np.diff(mono[first:last], prepend=0.0) ** 2.0)])
    at = np.arange(margin, last - first - margin, _HOP)
    before = energy[at] - energy[at - margin]
    after = energy[at + margin] - energy[at]
    floor = 1e-3 * float(energy[-1]) * margin / (last - first) + 1e-12
    # The ratio finds the edge, the difference keeps it from a tick in near-silence.
    score = np.log((after + floor) / (before + floor)) * np.sqrt(np.maximum(after - before, 0.0))
    return (first + int(at[int(np.argmax(score))])) / RATE


def loudness(curves: Curves) -> Floats:
    """Octaves of loudness at each frame, evened over 50 ms."""
    sone = (10.0 ** (curves.bands * 0.03)).sum(axis=1)
    return smooth(np.log2(sone), 0.05)


def strongest_within(peaks: npt.NDArray[np.int64], hits: Floats) -> npt.NDArray[np.int64]:
    """Of peaks that one hit made, the loudest."""
    keep = []
    for k in range(len(peaks)):
        near = np.abs(peaks - peaks[k]) < _APART * FPS
        if hits[k] >= hits[near].max() - 1e-9:
            keep.append(k)
    return peaks[keep]


def salience(times: Times, hits: Floats) -> Floats:
    """Octaves by which each hit is louder than those within 8 s, and than the song's loud ones."""
    usual = float(np.percentile(hits, 75))
    result = np.empty(len(hits), np.float32)
    for k, time in enumerate(times):
        low, high = np.searchsorted(times, (time - _AROUND, time + _AROUND))
        around = np.delete(hits[low:high], k - low)
        local = float(np.median(around)) if len(around) > 2 else usual
        result[k] = (hits[k] - local) + (hits[k] - usual)
    return result


def ringing(curves: Curves, peaks: npt.NDArray[np.int64]) -> Floats:
    """Decibels, mean over the bands, by which each onset rings on beyond most of those around."""
    last = len(curves.bands) - 1
    after = np.array(
        [curves.bands[min(k + _RING[0], last) : k + _RING[1]].mean(axis=0) for k in peaks]
    )
    times = peaks / FPS
    result = np.zeros(len(peaks), np.float32)
    for k, time in enumerate(times):
        low, high = np.searchsorted(times, (time - _AROUND, time + _AROUND))
        around = np.delete(after[low:high], k - low, axis=0)
        if len(around) > 2:
            beyond = after[k] - np.percentile(around, _MOST, axis=0)
            result[k] = np.clip(beyond, 0.0, _LOUDEST).mean()
    return result


def _choose(salient: Floats, rung: Floats, threshold: float, fewest: int) -> npt.NDArray[np.int64]:
    """The clear ones by loudness alone and, where they are few, those that ring on the most."""
    clear = salient >= threshold
    wanted = max(0, fewest - int(clear.sum()))
    rest = np.flatnonzero(~clear & (rung >= FAINTEST))
    best = rest[np.argsort(-rung[rest])][:wanted]
    return np.sort(np.concatenate([np.flatnonzero(clear), best]))
