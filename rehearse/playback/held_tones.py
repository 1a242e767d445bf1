"""Held tones carried through the attacks of stretched music.

Where a tone sounds on under a drum, the stretch gives its bins to the drum for the length of a
window, and the tone dips. A tone that the source holds through an attack is taken from there
instead, turned to the phase that it has in the stretch before the attack and, by its end, to the
one after it.
"""

from __future__ import annotations

import functools
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.fft import irfft, next_fast_len, rfft

from rehearse.playback.spectra import Audio, Frames, Spectra, add_rows, between, power, rows

#: Seconds of the frame tones are told apart in, and of its middle before, at and after an attack.
_SIZE, _PLACES = 0.0929, (-0.075, 0.0, 0.085)
#: Seconds about the attack over which a tone is taken from the source, and its fades there.
_FROM, _TO, _FADE = -0.045, 0.070, 0.030
#: Hertz between which tones are looked for.
_RANGE = 100.0, 3000.0
#: Steps in which the phase is turned.
_STEPS = 4
#: Bins to each side that a tone fills, and within which it must stand alone.
_BESIDE, _ALONE = 1, 4
#: Share of the power around that a tone has; how far its level may change (dB); how far it may lie
#: below the strongest (dB); how far the waves must agree.
_SHARE, _STEADY, _FAINT, _AGREE = 0.75, 2.0, 30.0, 0.9
#: Dips (dB) from which tones are carried in part and wholly.
_DIP = 0.5, 1.5


def carry_tones(source: Audio, slow: Audio, out: Audio, at: Frames, to: Frames, rate: int) -> None:
    """Fill the dips of held tones.

    Args:
        source, slow: planes (channels, frames), silence around them.
        out: `slow` with its attacks repaired; changed in place.
        at, to: frames of the attacks in each.
    """
    apart = np.diff(to, prepend=-(1 << 60)) > (_TO - _FROM + 2 * _FADE) * rate
    at, to = at[apart], to[apart]
    size = 2 * round(_SIZE * rate / 2)
    low, high = (round(edge * size / rate) for edge in _RANGE)
    inside = slice(low - _ALONE, high + _ALONE)
    spectra = []
    for place in _PLACES:
        first = round(place * rate) - size // 2
        for planes, where in ((source, at), (slow, to)):
            spectra.append(rfft(rows(planes, where + first, size) * _hann(size), axis=-1))
    share, start, turn = _held([each[..., inside] for each in spectra])
    some = share.any(axis=1)
    if not some.any():
        return
    share, start, turn = share[some], start[some], turn[some]
    at, to = at[some], to[some]
    gate, hats, first = _gates(rate)
    x, s = (rows(p, w + first, len(gate)) for p, w in ((source, at), (out, to)))
    ratio = size / len(gate)
    bins = np.arange(round(low / ratio), round(high / ratio))
    place = np.clip(bins * ratio - low, 0, share.shape[1] - 1)
    nearest = np.round(place).astype(np.int64)
    angle = np.angle(turn)
    wanted = -rfft(s * gate, axis=-1)[..., bins]
    for step, hat in enumerate(hats):
        phase = (start * np.exp(1j * angle * (step / (_STEPS - 1)))).astype(np.complex64)
        wanted += rfft(x * hat, axis=-1)[..., bins] * phase[:, nearest]
    full = np.zeros((*wanted.shape[:2], len(gate) // 2 + 1), np.complex64)
    full[..., bins] = wanted * between(share, place)
    # What rings beyond the gate must not end in a click.
    edges = np.minimum(1, 5 * gate)
    add_rows(out, to + first, irfft(full, len(gate), axis=-1) * edges)


@functools.lru_cache
def _hann(size: int) -> Audio:
    return np.hanning(size).astype(np.float32)


@functools.lru_cache
def _gates(rate: int) -> tuple[Audio, tuple[Audio, ...], int]:
    """The time over which tones are taken, its parts of one phase each, its first frame."""
    first, last = round((_FROM - _FADE) * rate), round((_TO + _FADE) * rate)
    size = 2 * next_fast_len((last - first + 1) // 2, real=True)
    seconds = (np.arange(size) + first) / rate
    edge = np.clip(np.minimum(seconds - _FROM + _FADE, _TO + _FADE - seconds) / _FADE, 0, 1)
    gate = edge * edge * (3 - 2 * edge)
    way = np.clip((seconds - _FROM) / (_TO - _FROM), 0, 1) * (_STEPS - 1)
    hats = (gate * np.maximum(0, 1 - np.abs(way - step)) for step in range(_STEPS))
    return gate.astype(np.float32), tuple(hat.astype(np.float32) for hat in hats), first


def _sums(values: npt.NDArray[Any], reach: int) -> npt.NDArray[Any]:
    """Sums over `reach` bins to each side; `_ALONE` bins fewer at each end."""
    count = values.shape[-1] - 2 * _ALONE
    result = values[..., _ALONE : _ALONE + count].copy()
    for k in range(1, reach + 1):
        result += values[..., _ALONE - k : _ALONE - k + count]
        result += values[..., _ALONE + k : _ALONE + k + count]
    return result


def _held(spectra: list[Spectra]) -> tuple[Audio, Spectra, Spectra]:
    """Share of each bin to be carried, its phase at the start, and its turn until the end.

    Args:
        spectra: of source and stretch before, at and after each attack.
    """
    x0, s0, _, _, x2, s2 = spectra
    powers = [power(each) for each in spectra]
    p0, q0, p1, q1, p2, q2 = (_sums(each, _BESIDE) + np.float32(1e-12) for each in powers)
    held = p0 > 10 ** (-_FAINT / 10) * p0.max(axis=1, keepdims=True)
    held &= (p0 > _SHARE * _sums(powers[0], _ALONE)) & (p2 > _SHARE * _sums(powers[4], _ALONE))
    levels = np.array([p0, p1, p2])
    held &= levels.max(axis=0) < 10 ** (_STEADY / 10) * levels.min(axis=0)
    before = _sums((s0 * x0.conj()).sum(axis=0), _BESIDE) / np.sqrt(p0 * q0)
    after = _sums((s2 * x2.conj()).sum(axis=0), _BESIDE) / np.sqrt(p2 * q2)
    held &= (np.abs(before) > _AGREE) & (np.abs(after) > _AGREE)
    dip = 10 * np.log10(p1 / q1)
    share = np.where(held, np.clip((dip - _DIP[0]) / (_DIP[1] - _DIP[0]), 0, 1), 0)
    # The bins beside a tone's belong to it.
    wide = np.pad(share.astype(np.float32), ((0, 0), (2, 2)))
    carried: Audio = np.max([wide[:, k : k + share.shape[1]] for k in range(5)], axis=0)
    start: Spectra = before / (np.abs(before) + np.float32(1e-9))
    turn: Spectra = after / (np.abs(after) + np.float32(1e-9)) * start.conj()
    return carried, start, turn
