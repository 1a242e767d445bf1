"""Attacks of stretched music made as crisp as the source's.

A spectral stretch spreads an attack over its window: a pre-echo before it, a softer and later rise.
Here the surroundings of each attack are repaired after the stretch:

- Before it, every band is taken down to the level that the source has at the corresponding
  place (`_before`). What sounds on through the attack is as loud in both and stays.
- From it on the source's own samples are put in at their own speed, in those bands that rise, for
  24 ms; then the stretch takes over again (`_paste`). Below 300 Hz it does so where both waves
  agree best.

All powers are sums over the planes (sum and difference of the channels), and all gains are common
to them: the stereo image stays, and silence in the difference stays silence.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rehearse.playback.attacks import Attacks
from rehearse.playback.held_tones import carry_tones

Audio = npt.NDArray[np.float32]
Frames = npt.NDArray[np.int64]

_TOGETHER = 64
#: Seconds: the entry's fade, the high part's length and fade, and the longest repair.
_ENTRY, _POST, _FADE, _LONGEST, _CLEAR = 0.001, 0.024, 0.008, 0.057, 0.0015
#: Seconds of the earliest and latest hand-over of the low part, and of its fade.
_LOW_POST, _LOW_FADE = (0.014, 0.050), 0.014
#: Hertz: between low and high part of the paste, and between long and short frames before.
_CROSS, _SPLIT = (200.0, 400.0), (700.0, 1100.0)
_LEAD, _SEGMENT = 0.012, 0.085


def repair(source: Audio, slow: Audio, known: Attacks, rate: int, tempo: float) -> Audio:
    """Stretched music with the source's attacks.

    Args:
        source: planes (channels, frames).
        slow: the same stretched, so that frame `n` of the source is at `n / tempo`.
        known: attacks of the source.
        tempo: of the stretch, not 1.

    Returns:
        float32, the shape of `slow`.
    """
    attacks = known.frames
    if not len(attacks):
        return slow
    places = np.round(attacks / tempo).astype(np.int64)
    gap = np.minimum(np.diff(attacks, append=1 << 60), np.diff(places, append=1 << 60))
    ends = np.minimum(round(_LONGEST * rate), gap - round(_CLEAR * rate))
    reach = round(min(0.095, 0.05 * (1 / tempo - 1) + 0.045) * rate)
    free = np.diff(places, prepend=-(1 << 60)) - np.concatenate([[0], ends[:-1]])
    pad = round(2 * _SEGMENT * rate) + reach + 2048
    before, after = np.pad(source, ((0, 0), (pad, pad))), np.pad(slow, ((0, 0), (pad, pad)))
    out = after.copy()
    for a in range(0, len(attacks), _TOGETHER):
        part = slice(a, a + _TOGETHER)
        at, to = attacks[part] + pad, places[part] + pad
        for size, keeps in _sizes(rate):
            _before(before, after, out, at, to, np.minimum(free[part], reach), size, keeps, tempo)
        _paste(before, after, out, at, to, ends[part], known.soft[part], rate, tempo)
        carry_tones(before, after, out, at, to, rate)
    return out[:, pad : pad + slow.shape[1]]


def _rows(planes: Audio, starts: Frames, length: int) -> Audio:
    """Stretches of `length` from each start, (planes, *starts.shape, length)."""
    view = np.lib.stride_tricks.sliding_window_view(planes, length, axis=1)
    return view[:, starts]


# Before


@functools.lru_cache
def _sizes(rate: int) -> tuple[tuple[int, Audio], ...]:
    """Frame sizes and the share of each bin that is taken from them."""
    sizes = []
    for milliseconds, sign in ((5.8, 1), (23.2, -1)):
        size = 2 * max(8, round(milliseconds * rate / 2000))
        frequency = np.arange(size // 2 + 1) * rate / size
        share = np.clip((frequency - _SPLIT[0]) / (_SPLIT[1] - _SPLIT[0]), 0, 1)
        sizes.append((size, (share if sign > 0 else 1 - share).astype(np.float32)))
    return tuple(sizes)


def _means(values: Audio, low: Frames, high: Frames) -> Audio:
    """Means of values[..., low:high] for each pair of `low` and `high`.

    By running sums: a product with a matrix would be spread over threads that burn more time
    waiting than they save.
    """
    sums = np.zeros((*values.shape[:-1], values.shape[-1] + 1))
    np.cumsum(values, axis=-1, dtype=np.float64, out=sums[..., 1:])
    means: Audio = ((sums[..., high] - sums[..., low]) / (high - low)).astype(np.float32)
    return means


def _around(
    points: npt.NDArray[np.float64], grid: npt.NDArray[np.float64], octaves: float, least: float
) -> tuple[Frames, Frames]:
    """For each frequency the part of a rising grid within a share of an octave, or within `least`
    hertz in all; one of the grid at least."""
    half = np.maximum(points * (2 ** (octaves / 2) - 1), least / 2)
    low = np.searchsorted(grid, points - half)
    high = np.searchsorted(grid, points + half, side="right")
    low = np.minimum(low, len(grid) - 1)
    return low, np.maximum(high, low + 1)


def _power(spectrum: npt.NDArray[np.complex64]) -> Audio:
    squares: Audio = (spectrum.real**2 + spectrum.imag**2).sum(axis=0)
    return squares


def _before(
    source: Audio,
    slow: Audio,
    out: Audio,
    at: Frames,
    to: Frames,
    room: Frames,
    size: int,
    keeps: Audio,
    tempo: float,
) -> None:
    """Take the pre-echo away over `room` frames before each attack."""
    from scipy.fft import irfft, rfft

    half = size // 2
    count = int(np.ceil(room.max() / half))
    if count < 1:
        return
    entry = max(1, size // 2 if size < 8 else 44)
    window = np.sin(np.pi * (np.arange(size) + 0.5) / size).astype(np.float32)
    # Frame j of an attack is centred j halves before it; the latest is last.
    heard = _rows(slow, to - (count + 1) * half, (count + 2) * half)
    heard[..., -half:] = 0
    fade = (np.arange(entry) + 0.5) / entry
    heard[..., -half - entry : -half] *= (1 - fade).astype(np.float32)
    halves = heard.reshape(*heard.shape[:-1], count + 2, half)
    frames = np.concatenate([halves[..., :-1, :], halves[..., 1:, :]], axis=-1)
    top = int(np.flatnonzero(keeps)[-1]) + 1
    bottom = int(np.flatnonzero(keeps)[0])
    spectra = rfft(frames * window, axis=-1)[..., bottom:top]
    ahead = np.arange(count, 0, -1) * half
    back = np.maximum(np.round(ahead * tempo).astype(np.int64), half + entry // 2)
    wanted = _power(
        rfft(_rows(source, at[:, None] - back - half, size) * window, axis=-1)[..., bottom:top]
    )
    wide = np.concatenate([wanted[:, :1], wanted, wanted[:, -1:]], axis=1)
    wanted = (wide[:, :-2] + wide[:, 1:-1] + wide[:, 2:]) / 3
    bins = np.arange(bottom, top, dtype=np.float64)
    near = _around(bins, bins, 1 / 3, 2.1)
    there = _means(_power(spectra[..., :-1, :]), *near)
    gain = np.sqrt(np.minimum(1, 1.12 * _means(wanted, *near) / (there + 1e-20)))
    gain = np.concatenate([gain, gain[:, -1:]], axis=1)
    place = np.arange(count, -1, -1) * half
    weight = np.clip((room[:, None] - place) / size, 0, 1).astype(np.float32)
    gain = ((gain - 1) * weight[..., None]) * keeps[bottom:top]
    full = np.zeros((*spectra.shape[:-1], size // 2 + 1), np.complex64)
    full[..., bottom:top] = spectra * gain
    parts = irfft(full, size, axis=-1) * window
    change = np.zeros(halves.shape, np.float32)
    change[..., :-1, :] += parts[..., :half]
    change[..., 1:, :] += parts[..., half:]
    flat = change.reshape(heard.shape)[..., :-half]
    for k, place_of in enumerate(to):
        out[:, place_of - flat.shape[-1] : place_of] += flat[:, k]


# From the attack on


@dataclass(frozen=True)
class _Bands:
    """Bands a twelfth of an octave apart, each as wide as its smoothing, for one frame size."""

    near: tuple[Frames, Frames]  # bins within a third of an octave, 180 Hz at least
    beside: tuple[Frames, Frames]  # bands within a sixth of an octave, 250 Hz at least
    low: Frames  # for each bin of the segment the band below
    share: Audio  # and how much of the next

    def spread(self, values: Audio) -> Audio:
        """Values of the bins of a segment from those of the bands."""
        return values[:, self.low] * (1 - self.share) + values[:, self.low + 1] * self.share


def _bands(size: int, segment: int, rate: int) -> _Bands:
    octaves = np.log2(0.5 * rate / 60)
    centres = 60 * 2 ** (np.arange(int(12 * octaves) + 1) / 12)
    place = np.arange(segment // 2 + 1) * rate / segment
    where = np.clip(12 * np.log2(np.maximum(place, 1) / 60), 0, len(centres) - 1.001)
    low = where.astype(np.int64)
    return _Bands(
        _around(centres, np.arange(size // 2 + 1) * rate / size, 1 / 3, 180.0),
        _around(centres, centres, 1 / 6, 250.0),
        low,
        (where - low).astype(np.float32),
    )


@dataclass(frozen=True)
class _Plan:
    """What is the same for every attack at one rate."""

    rate: int
    segment: int
    lead: int
    size: int
    bands: _Bands
    high: Audio
    after: Audio
    prior: Audio
    fine: int
    fine_after: Audio
    fine_prior: Audio
    place: Audio


@functools.lru_cache
def _plan(rate: int) -> _Plan:
    from scipy.fft import next_fast_len

    segment = next_fast_len(round(_SEGMENT * rate), real=True)
    segment += segment % 2
    size = 2 * round(0.0116 * rate)
    frequency = np.arange(segment // 2 + 1) * rate / segment
    cross = np.clip((frequency - _CROSS[0]) / (_CROSS[1] - _CROSS[0]), 0, 1)
    after = np.zeros(size)
    long, entry = round(0.012 * rate), round(_ENTRY * rate)
    after[: entry + long] = 1
    late = np.arange(long // 2) / (long // 2)
    after[entry + long - len(late) : entry + long] = 0.5 + 0.5 * np.cos(np.pi * late)
    prior = np.hanning(size + 2)[1:-1]
    fine = 2 * round(0.0232 * rate)
    up = 2 * round(0.005 * rate)
    fine_after = np.concatenate([np.hanning(2 * up)[:up], np.hanning(2 * (fine - up))[fine - up :]])
    fine_prior = np.hanning(fine + 2)[1:-1]
    return _Plan(
        rate,
        segment,
        round(_LEAD * rate),
        size,
        _bands(size, segment, rate),
        cross.astype(np.float32),
        (after / np.sqrt((after**2).sum())).astype(np.float32),
        (prior / np.sqrt((prior**2).sum())).astype(np.float32),
        fine,
        (fine_after / np.sqrt((fine_after**2).sum())).astype(np.float32),
        (fine_prior / np.sqrt((fine_prior**2).sum())).astype(np.float32),
        (frequency * fine / rate).astype(np.float32),
    )


def _rising(source: Audio, at: Frames, plan: _Plan) -> Audio:
    """For each band how much of it begins with the attack, 0..1."""
    from scipy.fft import rfft

    entry = round(_ENTRY * plan.rate)
    now = _power(rfft(_rows(source, at - entry, plan.size) * plan.after, axis=-1))
    then = _power(rfft(_rows(source, at - entry - plan.size, plan.size) * plan.prior, axis=-1))
    now, then = (_means(power, *plan.bands.near) for power in (now, then))
    return _means(np.clip(1 - 2 * then / (now + 1e-20), 0, 1), *plan.bands.beside)


def _fresh(source: Audio, at: Frames, plan: _Plan) -> Audio:
    """For each bin of the segment how much of it is no held tone."""
    from scipy.fft import rfft

    up = round(0.005 * plan.rate)
    now = _power(rfft(_rows(source, at - up, plan.fine) * plan.fine_after, axis=-1))
    then = _power(rfft(_rows(source, at - up - plan.fine, plan.fine) * plan.fine_prior, axis=-1))

    def three(v: Audio) -> Audio:
        w = np.pad(v, ((0, 0), (1, 1)), mode="edge")
        return w[:, :-2] + w[:, 1:-1] + w[:, 2:]

    fresh = np.clip(1 - 2 * three(then) / (three(now) + 1e-20), 0, 1)
    low = np.minimum(plan.place.astype(np.int64), fresh.shape[1] - 2)
    share = plan.place - low
    out = fresh[:, low] * (1 - share) + fresh[:, low + 1] * share
    f = np.arange(out.shape[1]) * plan.rate / plan.segment
    high = np.clip((f - HI[0]) / (HI[1] - HI[0]), 0, 1).astype(np.float32)
    return np.maximum(out, high), 1 - high


SOFT_POST, SOFT_FADE = 0.042, 0.015
HI = (5000.0, 7000.0)


def _alike(source: Audio, slow: Audio, at: Frames, to: Frames, plan: _Plan) -> Audio:
    """For each band how far both waves agree after the attack, -0.7..1."""
    from scipy.fft import rfft

    x = rfft(_rows(source, at, plan.size) * plan.prior, axis=-1)
    s = rfft(_rows(slow, to, plan.size) * plan.prior, axis=-1)
    cross = _means((x.real * s.real + x.imag * s.imag).sum(axis=0), *plan.bands.near)
    both = _means(_power(x), *plan.bands.near) * _means(_power(s), *plan.bands.near)
    alike: Audio = np.clip(cross / np.sqrt(both + 1e-30), -0.7, 1)
    return alike


def _gate(plan: _Plan, centre: Audio, fade: Audio, alike: Audio) -> tuple[Audio, Audio]:
    """Over the segment what is put in of the source and what is taken out of the stretch: from
    the attack's entry to a fade around `centre` (frames after the attack), `fade` frames long."""
    n = np.arange(plan.segment) - plan.lead
    entry = np.clip((n + _ENTRY * plan.rate) / (_ENTRY * plan.rate), 0, 1).astype(np.float32)
    put, taken = np.tile(entry, (2, len(centre), 1))
    for k, (middle, length, like) in enumerate(zip(centre, fade, alike, strict=True)):
        first = plan.lead + int(np.ceil(middle - length / 2))
        last = plan.lead + int(np.ceil(middle + length / 2))
        phase = (np.arange(first, last) - plan.lead - middle + length / 2) / length * np.pi / 2
        norm = np.sqrt(1 + like * np.sin(2 * phase))
        put[k, first:last] *= np.cos(phase) / norm
        taken[k, first:last] *= 1 - np.sin(phase) / norm
        put[k, last:] = taken[k, last:] = 0
    return put, taken


def _weights(mask: Audio, alike: Audio) -> tuple[Audio, Audio]:
    """Of source and stretch, so that the power stays whether they are in step or not."""
    norm = np.sqrt(np.maximum(1 + 2 * alike * np.sqrt(mask * (1 - mask)), 0.05))
    return np.sqrt(mask) / norm, np.sqrt(1 - mask) / norm


def _fit(x: Audio, s: Audio, ends: Frames, plan: _Plan) -> tuple[Audio, Audio, Audio]:
    """Where the low parts of both waves agree best after the attack.

    Returns: frames after the attack of the middle of the fade, frames of the fade, and how well
        they agree there, -1..1.
    """
    from scipy.fft import irfft

    step = 16
    points = plan.segment // step // 2 * 2
    ratio = plan.segment / points
    low = (1 - plan.high)[: points // 2 + 1]
    x, s = (irfft(v[..., : points // 2 + 1] * low, points, axis=-1) for v in (x, s))
    length = max(3, round(_LOW_FADE * plan.rate / ratio) | 1)
    window = np.hanning(length + 2)[1:-1].astype(np.float32)

    def sums(values: Audio) -> Audio:
        values = values.sum(axis=0)
        count = values.shape[-1] - length + 1
        out: Audio = sum(w * values[:, k : k + count] for k, w in enumerate(window))
        return out

    match = sums(x * s) / np.sqrt(sums(x * x) * sums(s * s) + 1e-20)
    centres = (np.arange(match.shape[1]) + length // 2) * ratio - plan.lead
    least, most = (v * plan.rate for v in _LOW_POST)
    half = _LOW_FADE * plan.rate / 2
    limit = np.minimum(most, ends - half)
    allowed = (centres >= least) & (centres <= limit[:, None])
    best = np.argmax(np.where(allowed, match, -2), axis=1)
    some = allowed.any(axis=1)
    fade = np.where(some, 2 * half, np.minimum(2 * half, ends * 0.6))
    centre = np.where(some, centres[best], ends - fade / 2)
    nearest = np.argmin(np.abs(centres - centre[:, None]), axis=1)
    return centre, np.maximum(fade, 1), match[np.arange(len(best)), nearest]


def _paste(
    source: Audio,
    slow: Audio,
    out: Audio,
    at: Frames,
    to: Frames,
    ends: Frames,
    soft: npt.NDArray[np.bool_],
    rate: int,
    tempo: float,
) -> None:
    """Put the source's samples in where they rise."""
    from scipy.fft import irfft, rfft

    plan = _plan(rate)
    x = _rows(source, at - plan.lead, plan.segment)
    s = _rows(slow, to - plan.lead, plan.segment)
    rising, alike = _rising(source, at, plan), _alike(source, slow, at, to, plan)
    mask, agree = plan.bands.spread(rising), plan.bands.spread(alike)
    fresh, narrow = _fresh(source, at, plan)
    mask = np.where(soft[:, None], narrow * fresh + (1 - narrow) * mask, np.minimum(mask, fresh))
    upper = slice(np.searchsorted(np.arange(alike.shape[1]), 12 * np.log2(400 / 60)), None)
    fade = np.minimum(np.where(soft, SOFT_FADE, _FADE) * rate, 0.6 * ends)
    put, taken = _gate(
        plan,
        np.minimum(np.where(soft, SOFT_POST, _POST) * rate + fade / 2, ends - fade / 2),
        np.maximum(fade, 1),
        np.maximum(alike[:, upper].mean(axis=1), 0),
    )
    first, second = _weights(mask, agree)
    high = rfft(x * put, axis=-1) * first + rfft(s * taken, axis=-1) * (second - 1)
    # The low part: only as far as it can be handed back.
    n = np.arange(plan.segment) - plan.lead
    whole = ((n >= 0) & (n < _LONGEST * rate + _LOW_FADE * rate)).astype(np.float32)
    centre, fade, match = _fit(rfft(x * whole), rfft(s * whole), ends, plan)
    quick = np.clip((tempo - 0.6) / 0.25, 0, 1)
    certain = _ramp(match, 0.6 * quick, 0.3 + 0.55 * quick)
    risen = _ramp(mask, 0.2 + 0.4 * quick, 0.6 + 0.25 * quick)
    put, taken = _gate(plan, centre, fade, np.clip(match, -0.7, 1))
    first, second = _weights(certain[:, None] * risen, agree)
    low = rfft(x * put, axis=-1) * first + rfft(s * taken, axis=-1) * (second - 1)
    change = irfft(high * plan.high + low * (1 - plan.high), plan.segment, axis=-1)
    change *= np.clip((n + 2 * _ENTRY * rate) / (_ENTRY * rate), 0, 1).astype(np.float32)
    for k, place in enumerate(to - plan.lead):
        out[:, place : place + plan.segment] += change[:, k]


def _ramp(values: Audio, a: float, b: float) -> Audio:
    ramp: Audio = np.clip((values - a) / max(b - a, 1e-6), 0, 1)
    return ramp
