"""Held tones carried through the attacks of stretched music.

Where a tone sounds on under a drum, the stretch gives its bins to the drum for the length of a
window, and the tone dips. A tone that the source holds through an attack undisturbed is taken from
there, turned to the phase that it has in the stretch before the attack and, by its end, to the one
after it.
"""

from __future__ import annotations

import functools

import numpy as np
import numpy.typing as npt

Audio = npt.NDArray[np.float32]
Frames = npt.NDArray[np.int64]
Spectra = npt.NDArray[np.complex64]

#: Seconds of the window tones are told apart by, and its middle before, at and after an attack.
_WINDOW = 0.0929
_PLACES = -0.075, 0.0, 0.085
#: Seconds about the attack over which a tone is taken from the source, and its fades there.
_FROM, _TO, _FADE = -0.045, 0.070, 0.030
#: Hertz within which tones are looked for.
_RANGE = 100.0, 3000.0
#: Steps in which the phase is turned.
_STEPS = 4
#: How much of the power within 4 bins lies within 1; how far (dB) its level may change; how far
#: below the strongest tone; how far waves must agree.
_NARROW, _STEADY, _FAINT, _AGREE = 0.75, 2.0, 30.0, 0.9
#: Dips (dB) from which tones are carried in part and wholly.
_DIP = 0.5, 1.5


def carry_tones(
    source: Audio, slow: Audio, out: Audio, at: Frames, to: Frames, rate: int
) -> None:
    """Fill the dips of held tones.

    Args:
        source, slow: planes (channels, frames), silence around them.
        out: `slow` with its attacks repaired; changed in place.
        at, to: frames of the attacks in each.
    """
    from scipy.fft import irfft, rfft

    apart = np.diff(to, prepend=-(1 << 60)) > (_TO - _FROM + 2 * _FADE) * rate
    at, to = at[apart], to[apart]
    size, low, high = 2 * round(_WINDOW * rate / 2), *(round(f * _WINDOW) for f in _RANGE)
    window = _hann(size)
    spectra = []
    for place in _PLACES:
        first = round(place * rate) - size // 2
        for planes, where in ((source, at), (slow, to)):
            part = rfft(_rows(planes, where + first, size) * window, axis=-1)
            spectra.append(part[..., low - 5 : high + 5])
    share, start, turn = _held(spectra)
    some = np.flatnonzero(share.any(axis=1))
    if not len(some):
        return
    share, start, turn, at, to = share[some], start[some], turn[some], at[some], to[some]
    gate, hats, first = _gates(rate)
    x, s = (_rows(p, w + first, len(gate)) for p, w in ((source, at), (out, to)))
    k = np.arange(high - low) * (len(gate) / size)
    bins = np.arange(round(low * len(gate) / size), round(high * len(gate) / size))
    share = _stretched(share, k, bins - bins[0])
    near = np.clip(np.round((bins - bins[0]) * size / len(gate)).astype(int), 0, high - low - 1)
    wanted = np.zeros((len(x), len(at), len(bins)), np.complex64)
    for step, hat in enumerate(hats):
        phase = start * np.exp(1j * np.angle(turn) * (step / (_STEPS - 1)))
        wanted += rfft(x * hat, axis=-1)[..., bins] * phase[:, near].astype(np.complex64)
    wanted -= rfft(s * gate, axis=-1)[..., bins]
    full = np.zeros((*wanted.shape[:2], len(gate) // 2 + 1), np.complex64)
    full[..., bins] = wanted * share
    change = irfft(full, len(gate), axis=-1)
    for n, place in enumerate(to + first):
        out[:, place : place + len(gate)] += change[:, n]


def _rows(planes: Audio, starts: Frames, length: int) -> Audio:
    view = np.lib.stride_tricks.sliding_window_view(planes, length, axis=1)
    return view[:, starts]


@functools.lru_cache
def _hann(size: int) -> Audio:
    return np.hanning(size).astype(np.float32)


@functools.lru_cache
def _gates(rate: int) -> tuple[Audio, tuple[Audio, ...], int]:
    """The stretch of time tones are taken over, its parts of one phase each, its first frame."""
    from scipy.fft import next_fast_len

    first, last = round((_FROM - _FADE) * rate), round((_TO + _FADE) * rate)
    size = next_fast_len(last - first, real=True)
    size += size % 2
    n = (np.arange(size) + first) / rate
    edge = np.clip(np.minimum(n - _FROM + _FADE, _TO + _FADE - n) / _FADE, 0, 1)
    gate = edge * edge * (3 - 2 * edge)
    way = np.clip((n - _FROM) / (_TO - _FROM), 0, 1) * (_STEPS - 1)
    hats = tuple(
        (gate * np.maximum(0, 1 - np.abs(way - step))).astype(np.float32) for step in range(_STEPS)
    )
    return gate.astype(np.float32), hats, first


def _around(values: npt.NDArray[np.number], reach: int) -> npt.NDArray[np.number]:
    """Sums over `reach` bins to each side; five bins fewer at each end."""
    count = values.shape[-1] - 10
    return sum(values[..., 5 + k : 5 + k + count] for k in range(-reach, reach + 1))


def _held(spectra: list[Spectra]) -> tuple[Audio, Spectra, Spectra]:
    """Share of each bin to be carried, its phase at the start, and its turn until the end."""
    x0, s0, x1, s1, x2, s2 = spectra
    powers = [(v.real**2 + v.imag**2).sum(axis=0) for v in spectra]
    p0, q0, p1, q1, p2, q2 = (_around(p, 1) + 1e-12 for p in powers)
    narrow = np.ones(p0.shape, bool)
    for power, sum_ in ((powers[0], p0), (powers[4], p2)):
        narrow &= sum_ > _NARROW * _around(power, 4)
    steady = 10 ** (_STEADY / 10)
    held = narrow & (np.maximum(p0, np.maximum(p1, p2)) < steady * np.minimum(p0, np.minimum(p1, p2)))
    held &= p0 > 10 ** (-_FAINT / 10) * p0.max(axis=1, keepdims=True)
    before = _around((s0 * x0.conj()).sum(axis=0), 1) / np.sqrt(p0 * q0)
    after = _around((s2 * x2.conj()).sum(axis=0), 1) / np.sqrt(p2 * q2)
    held &= (np.abs(before) > _AGREE) & (np.abs(after) > _AGREE)
    dip = 10 * np.log10(p1 / q1)
    share = np.where(held, np.clip((dip - _DIP[0]) / (_DIP[1] - _DIP[0]), 0, 1), 0)
    # A tone has its neighbours with it: the largest share within 2 bins.
    wide = np.pad(share, ((0, 0), (2, 2)))
    most = np.max([wide[:, k : k + share.shape[1]] for k in range(5)], axis=0)
    start = before / (np.abs(before) + 1e-9)
    turn = (after / (np.abs(after) + 1e-9)) * start.conj()
    return most.astype(np.float32), start, turn


def _stretched(values: Audio, at: npt.NDArray[np.float64], wanted: npt.NDArray[np.float64]) -> Audio:
    """Rows drawn on a finer grid."""
    place = np.clip(wanted / max(at[1], 1e-9), 0, len(at) - 1.001)
    low = place.astype(int)
    share = (place - low).astype(np.float32)
    return values[:, low] * (1 - share) + values[:, low + 1] * share
