"""Free time: stretches in which no beat can be followed, and none is invented.

Three witnesses are heard. The bar-pointer model leaves gaps where it finds nothing to follow. The
beats that it did lay may hang together by nothing (`beatless.py`). And the pulse itself is
measured: the autocorrelation of the onset curve over 8 s, the better of every beat period from 40
to 240 BPM, where a period counts by the weaker of its own peak and the one at its double (a lone
coincidence has no double). Autocorrelation as pulse clarity: Lartillot et al., "Multi-feature
modeling of pulse clarity" (ISMIR 2008).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.spectrum import FPS, Curves, Floats, smooth
from rehearse.music.beatmap import Stretch

Array = npt.NDArray[np.float64]

#: Pulse clarity under which there is no pulse, and mean confidence from which beats stand anyway:
#: a player's freedom blurs the pulse, and yet the beats can be followed.
UNCLEAR, FOLLOWED = 0.32, 0.55
#: Confidence of a beat at which free time ends.
SURE = 0.8
#: Shortest free time, seconds.
SHORTEST = 3.0
#: How far free time reaches beyond the stretch that shows no pulse, at most, seconds.
WIDEST = 3.0
#: A gap of more than this many beats is free time, however short.
GAP = 2.6

# Beats on either side of a stretch that tell whether the beat went on; tempos that are one (natural
# logarithm), and share of a beat by which a grid may miss.
_SIDE, _SAME_TEMPO, _OFF = 9, 0.01, 0.2
_WINDOW = 8.0
_HOP = 50


def find_free(
    curves: Curves,
    times: Sequence[float],
    confidence: Sequence[float],
    gaps: Sequence[tuple[float, float]],
    beatless: Sequence[tuple[float, float]] = (),
) -> tuple[Stretch, ...]:
    """Stretches of free time in order; beats inside them are to be left out.

    Args:
        curves: of the whole song.
        times, confidence: of the beats that were found.
        gaps: stretches (start, end) that the beat finder already left free.
        beatless: stretches over which the beats found mean nothing.
    """
    found = list(gaps) + _holes(times)
    beats, sure = np.asarray(times), np.asarray(confidence)
    for start, end in _without_pulse(curves):
        inside = (beats >= start) & (beats < end)
        followed = inside.any() and float(sure[inside].mean()) >= FOLLOWED
        if not followed and not goes_on(beats, sure, start, end):
            found.append(_widened(start, end, beats, sure))
    found += [_widened(start, end, beats, sure) for start, end in beatless]
    return tuple(Stretch(a, b) for a, b in _joined(found, curves.duration))


def goes_on(beats: Array, sure: Array, start: float, end: float) -> bool:
    """Whether the beats in a stretch are those of one grid that stands on both sides of it.

    Then the music held its beat, as in a break without drums, and counting goes on through it.

    Args:
        beats, sure: seconds and confidence of the beats found.
        start, end: seconds.
    """
    firm = beats[sure >= SURE]
    before, after = firm[firm <= start][-_SIDE:], firm[firm >= end][:_SIDE]
    if len(before) < _SIDE or len(after) < _SIDE:
        return False
    one, other = _step(before, beats), _step(after, beats)
    gap = float(after[0] - before[-1])
    count = round(2 * gap / (one + other))
    if abs(np.log(one / other)) > _SAME_TEMPO or abs(2 * gap / (one + other) - count) > _OFF:
        return False
    inside = beats[(beats > before[-1]) & (beats < after[0])]
    if abs(len(inside) - count + 1) > 1 or not len(inside):
        return False
    at = (inside - before[-1]) * count / gap
    return bool(np.mean(np.abs(at - np.round(at)) < _OFF) > 0.8)


def _step(firm: Array, beats: Array) -> float:
    """Mean seconds of a beat over firm ones, some of which may be wanting in between."""
    apart = np.diff(firm)
    return float(apart.sum() / np.maximum(np.round(apart / np.median(np.diff(beats))), 1).sum())


def _widened(start: float, end: float, beats: Array, sure: Array) -> tuple[float, float]:
    """Out to the nearest beats that are sure: the long window sees the pulse beside it as well."""
    firm = beats[sure >= SURE]
    before, after = firm[firm < start], firm[firm >= end]
    weak = beats[sure < SURE]
    if len(before):
        loose = weak[(weak > before[-1]) & (weak < start)]
        start = max(start - WIDEST, float(loose[0])) if len(loose) else start
    else:
        start = max(0.0, start - WIDEST)
    if len(after):
        end = min(end + WIDEST, float(after[0]))
    return start, end


def pulse_clarity(curves: Curves) -> Floats:
    """Clarity of the pulse, 0..1, twice a second."""
    from scipy.ndimage import gaussian_filter1d

    flux = gaussian_filter1d(np.minimum(curves.flux, 6.0), 1.0)
    flux = flux - smooth(flux, 1.0)
    size = round(_WINDOW * FPS)
    padded = np.concatenate([np.zeros(size // 2), flux, np.zeros(size)])
    window = np.hanning(size)
    bias = _autocorrelation(window)
    lags = np.arange(round(60 / 240 * FPS), round(60 / 40 * FPS) + 1)
    result = np.empty(len(range(0, len(flux), _HOP)), np.float32)
    for k, start in enumerate(range(0, len(flux), _HOP)):
        own = _autocorrelation(padded[start : start + size] * window)
        # The constant keeps near-silence from looking like a perfect pulse.
        ratio = own / (own[0] + 1e-3 * size) / np.maximum(bias / bias[0], 0.05)
        result[k] = np.minimum(ratio[lags], ratio[2 * lags]).max()
    return np.clip(result, 0.0, 1.0)


def _autocorrelation(curve: npt.NDArray[np.floating]) -> npt.NDArray[np.float64]:
    spectrum = np.fft.rfft(curve, 2 * len(curve))
    result: npt.NDArray[np.float64] = np.fft.irfft(np.abs(spectrum) ** 2)[: len(curve)]
    return result


def _without_pulse(curves: Curves) -> list[tuple[float, float]]:
    unclear = pulse_clarity(curves) < UNCLEAR
    edges = np.flatnonzero(np.diff(np.concatenate([[0], unclear.astype(np.int8), [0]])))
    step = _HOP / FPS
    runs = [(a * step, b * step) for a, b in edges.reshape(-1, 2).tolist()]
    return [(a, b) for a, b in runs if b - a >= SHORTEST]


def _holes(times: Sequence[float]) -> list[tuple[float, float]]:
    """Gaps between beats that no tempo explains."""
    if len(times) < 3:
        return []
    steps = np.diff(times)
    usual = float(np.median(steps))
    wide = np.flatnonzero(steps > GAP * usual).tolist()
    return [(float(times[k]) + usual, float(times[k + 1])) for k in wide]


def _joined(found: Sequence[tuple[float, float]], duration: float) -> list[tuple[float, float]]:
    joined: list[tuple[float, float]] = []
    for start, end in sorted((max(0.0, a), min(b, duration)) for a, b in found):
        if end - start < 1e-3:
            continue
        if joined and start <= joined[-1][1] + 1.0:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((start, end))
    return [(round(a, 6), round(b, 6)) for a, b in joined]
