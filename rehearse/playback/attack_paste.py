"""The source's own samples put into stretched music from each attack on.

They are put in at their own speed where the sound rises, for 24 ms (a soft attack's for 42 ms);
then the stretch takes over again. What was there before – the rest of the third octave, or a tone
that only sounds on – stays the stretch's. Below 300 Hz the hand-over lies where both waves agree
best, and nothing is put in where they do not: in quicker music the stretch is right there anyway,
and a bad splice costs more than it gives.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.fft import irfft, next_fast_len, rfft

from rehearse.playback.spectra import (
    Audio,
    Frames,
    Spectra,
    add_rows,
    around,
    between,
    means,
    power,
    rows,
    unit,
)

Floats = npt.NDArray[np.float64]

#: Seconds: the fade at the entry; the longest paste; what is left clear before the next attack.
ENTRY, LONGEST, CLEAR = 0.001, 0.057, 0.0015
#: Seconds of a segment worked on, and of it before the attack.
SEGMENT, _LEAD = 0.085, 0.012
#: Seconds until the high part is handed back, and of that fade; the same of soft attacks.
_POST, _FADE, _SOFT_POST, _SOFT_FADE = 0.024, 0.008, 0.042, 0.015
#: Seconds from when until when the low part is handed back, and of that fade.
_LOW_POST, _LOW_FADE = (0.014, 0.050), 0.014
#: Hertz between the low and the high part; up to where tones are told from what is around them.
_CROSS, _TONAL = (200.0, 400.0), (5000.0, 7000.0)
#: Seconds of the frames in which a rise and a tone are told; the first band (Hz).
_RISE_SIZE, _TONE_SIZE, _FIRST = 0.0232, 0.0464, 60.0
#: How far in antiphase two waves may be and still be made up for.
_ANTIPHASE = -0.7


@dataclass(frozen=True)
class _PastePlan:
    """What is the same for every attack at one rate.

    `near`, `beside`: for `means`, the bins about each band of a twelfth of an octave (a third of
    an octave wide, 180 Hz at least) and the bands about each (a sixth, 250 Hz at least).
    `band`, `tone`: the place of each bin of the segment among the bands and among the bins of a
    tone's frame. `high`: the share of each in the high part; `tonal`: where tones are told.
    """

    rate: int
    segment: int
    lead: int
    near: tuple[Frames, Frames]
    beside: tuple[Frames, Frames]
    band: Floats
    tone: Floats
    high: Audio
    tonal: Audio
    upper: int
    now: Audio
    then: Audio
    tone_now: Audio
    tone_then: Audio


@functools.lru_cache
def _plan(rate: int) -> _PastePlan:
    segment = 2 * next_fast_len(round(SEGMENT * rate / 2), real=True)
    size, long = 2 * round(_RISE_SIZE * rate / 2), 2 * round(_TONE_SIZE * rate / 2)
    frequency = np.arange(segment // 2 + 1) * rate / segment
    centres = _FIRST * 2 ** (np.arange(int(12 * np.log2(0.5 * rate / _FIRST)) + 1) / 12)

    def ramp(limits: tuple[float, float]) -> Audio:
        return _ramp(frequency.astype(np.float32), *limits)

    return _PastePlan(
        rate,
        segment,
        round(_LEAD * rate),
        around(centres, np.arange(size // 2 + 1) * rate / size, 1 / 3, 180.0),
        around(centres, centres, 1 / 6, 250.0),
        12 * np.log2(np.maximum(frequency, _FIRST) / _FIRST),
        frequency * long / rate,
        ramp(_CROSS),
        1 - ramp(_TONAL),
        int(np.searchsorted(centres, _CROSS[1])),
        unit(_sudden(size, round(0.013 * rate), round(0.006 * rate))),
        unit(np.hanning(size + 2)[1:-1]),
        unit(_rounded(long, round(0.01 * rate))),
        unit(np.hanning(long + 2)[1:-1]),
    )


def _sudden(size: int, length: int, fall: int) -> Floats:
    """1 from the first frame on, gone after `length`, the last `fall` of it a fade."""
    window = np.zeros(size)
    window[:length] = 1
    window[length - fall : length] = 0.5 + 0.5 * np.cos(np.pi * np.arange(fall) / fall)
    return window


def _rounded(size: int, rise: int) -> Floats:
    """Up within `rise` frames, then slowly down: hears the attack, keeps tones apart."""
    down = size - rise
    return np.concatenate([np.hanning(2 * rise)[:rise], np.hanning(2 * down)[down:]])


def paste(
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
    """Put the source's samples in where they rise.

    Args:
        source, slow: planes (channels, frames), silence around them.
        out: what is made of `slow`; changed in place.
        at, to: frames of the attacks in each.
        ends: frames after each attack at which the stretch must have taken over.
        soft: which of them are soft.
    """
    plan = _plan(rate)
    x = rows(source, at - plan.lead, plan.segment)
    s = rows(slow, to - plan.lead, plan.segment)
    rising, agree = _rising(source, at, soft, plan), _agreement(source, slow, at, to, plan)

    fade = np.minimum(np.where(soft, _SOFT_FADE, _FADE) * rate, 0.6 * ends)
    post = np.where(soft, _SOFT_POST, _POST) * rate
    alike = np.maximum(agree[:, plan.upper :].mean(axis=1), 0)
    agree = between(agree, plan.band)
    gates = _gates(plan, np.minimum(post + fade / 2, ends - fade / 2), fade, alike)
    high = _mixed(x, s, gates, rising, agree)

    centre, fade, match = _fit(x, s, ends, plan)
    quick = min(max((tempo - 0.6) / 0.25, 0.0), 1.0)
    certain = _ramp(match, 0.6 * quick, 0.3 + 0.55 * quick)
    risen = _ramp(rising, 0.2 + 0.4 * quick, 0.6 + 0.25 * quick)
    gates = _gates(plan, centre, fade, np.clip(match, _ANTIPHASE, 1))
    low = _mixed(x, s, gates, certain[:, None] * risen, agree)

    change = irfft(high * plan.high + low * (1 - plan.high), plan.segment, axis=-1)
    # What rings before the entry would be a pre-echo, what is cut off at the end a click.
    entry, offsets = ENTRY * rate, _offsets(plan)
    change *= _ramp(offsets, -2 * entry, -entry) * _ramp(-offsets, -offsets[-1], -LONGEST * rate)
    add_rows(out, to - plan.lead, change)


def _offsets(plan: _PastePlan) -> Audio:
    """Frames of a segment counted from the attack."""
    return (np.arange(plan.segment) - plan.lead).astype(np.float32)


def _ramp(values: Audio, a: float, b: float) -> Audio:
    ramp: Audio = np.clip((values - np.float32(a)) / np.float32(max(b - a, 1e-6)), 0, 1)
    return ramp


def _rising(source: Audio, at: Frames, soft: npt.NDArray[np.bool_], plan: _PastePlan) -> Audio:
    """For each bin how much of it begins with the attack, 0..1.

    Counted in bands a third of an octave wide, against the 24 ms before; where tones can be told
    apart no more than the bin itself rises. A soft attack is told by its tones alone.
    """
    size, entry = len(plan.now), round(ENTRY * plan.rate)
    now = power(rfft(rows(source, at - entry, size) * plan.now, axis=-1))
    then = power(rfft(rows(source, at - entry - size, size) * plan.then, axis=-1))
    now, then = means(now, *plan.near), means(then, *plan.near)
    bands = between(means(_begun(now, then), *plan.beside), plan.band)

    size, entry = len(plan.tone_now), round(0.005 * plan.rate)
    now = power(rfft(rows(source, at - entry, size) * plan.tone_now, axis=-1))
    then = power(rfft(rows(source, at - entry - size, size) * plan.tone_then, axis=-1))
    tones = between(_begun(_three(now), _three(then)), plan.tone)
    tones_only = plan.tonal * tones + (1 - plan.tonal) * bands
    rising: Audio = np.where(
        soft[:, None], tones_only, np.minimum(bands, np.maximum(tones, 1 - plan.tonal))
    )
    return rising


def _begun(now: Audio, then: Audio) -> Audio:
    """Share of what is there that was not before; half and less counts as nothing."""
    begun: Audio = np.clip(1 - 2 * then / (now + np.float32(1e-20)), 0, 1)
    return begun


def _three(values: Audio) -> Audio:
    """Sums of each bin and its neighbours."""
    wide = np.pad(values, ((0, 0), (1, 1)), mode="edge")
    sums: Audio = wide[:, :-2] + wide[:, 1:-1] + wide[:, 2:]
    return sums


def _agreement(source: Audio, slow: Audio, at: Frames, to: Frames, plan: _PastePlan) -> Audio:
    """For each band how far both waves agree after the attack, -0.7..1."""
    x = rfft(rows(source, at, len(plan.then)) * plan.then, axis=-1)
    s = rfft(rows(slow, to, len(plan.then)) * plan.then, axis=-1)
    cross = means((x.real * s.real + x.imag * s.imag).sum(axis=0), *plan.near)
    both = means(power(x), *plan.near) * means(power(s), *plan.near)
    agreement: Audio = np.clip(cross / np.sqrt(both + np.float32(1e-30)), _ANTIPHASE, 1)
    return agreement


def _gates(plan: _PastePlan, centre: Floats, fade: Floats, alike: Audio) -> tuple[Audio, Audio]:
    """Over the segment what is put in of the source and what is taken out of the stretch.

    Both from the attack's entry to a fade around `centre` (frames after the attack), `fade` frames
    long, in which the power stays for waves that are `alike` so far.
    """
    entry = _ramp(_offsets(plan), -ENTRY * plan.rate, 0)
    put, taken = np.tile(entry, (2, len(centre), 1))
    for row, (middle, length, like) in enumerate(
        zip(centre, np.maximum(fade, 1), alike, strict=True)
    ):
        begin = middle - length / 2
        first, last = (plan.lead + int(np.ceil(edge)) for edge in (begin, begin + length))
        phase = (np.arange(first, last) - plan.lead - begin) / length * np.pi / 2
        norm = np.sqrt(1 + like * np.sin(2 * phase))
        put[row, first:last] *= np.cos(phase) / norm
        taken[row, first:last] *= 1 - np.sin(phase) / norm
        put[row, last:] = taken[row, last:] = 0
    return put, taken


def _mixed(x: Audio, s: Audio, gates: tuple[Audio, Audio], mask: Audio, agree: Audio) -> Spectra:
    """What is to be added: the source's share in, the stretch's out, the power kept whether the
    two are in step or not."""
    put, taken = gates
    norm = np.sqrt(np.maximum(1 + 2 * agree * np.sqrt(mask * (1 - mask)), np.float32(0.05)))
    change: Spectra = rfft(x * put, axis=-1) * (np.sqrt(mask) / norm)
    change += rfft(s * taken, axis=-1) * (np.sqrt(1 - mask) / norm - 1)
    return change


def _fit(x: Audio, s: Audio, ends: Frames, plan: _PastePlan) -> tuple[Floats, Floats, Audio]:
    """Where the low parts of both waves agree best after the attack.

    Returns: frames after the attack of the middle of the fade, frames of the fade, and how well
        they agree there, -1..1.
    """
    offsets = _offsets(plan)
    whole = ((offsets >= 0) & (offsets < (LONGEST + _LOW_FADE) * plan.rate)).astype(np.float32)
    points = plan.segment // 32 * 2  # one in sixteen frames is enough for the low part
    low = (1 - plan.high)[: points // 2 + 1]
    x, s = (irfft(rfft(v * whole)[..., : len(low)] * low, points, axis=-1) for v in (x, s))
    ratio = plan.segment / points
    length = max(3, round(_LOW_FADE * plan.rate / ratio) | 1)
    match = _under(x * s, length) / np.sqrt(
        _under(x * x, length) * _under(s * s, length) + np.float32(1e-20)
    )

    places = (np.arange(match.shape[1]) + length // 2) * ratio - plan.lead
    least, most = (seconds * plan.rate for seconds in _LOW_POST)
    fade = _LOW_FADE * plan.rate
    limit = np.minimum(most, ends - fade / 2)
    allowed = (places >= least) & (places <= limit[:, None])
    best, some = np.argmax(np.where(allowed, match, -2), axis=1), allowed.any(axis=1)
    fades = np.where(some, fade, np.minimum(fade, ends * 0.6))
    centre = np.where(some, places[best], ends - fades / 2)
    nearest = np.argmin(np.abs(places - centre[:, None]), axis=1)
    return centre, fades, match[np.arange(len(best)), nearest]


def _under(values: Audio, length: int) -> Audio:
    """Sums over planes and under a raised cosine of `length` points."""
    values = values.sum(axis=0)
    count = values.shape[-1] - length + 1
    sums = np.zeros((len(values), count), np.float32)
    for k, weight in enumerate(np.hanning(length + 2)[1:-1].astype(np.float32)):
        sums += weight * values[:, k : k + count]
    return sums
