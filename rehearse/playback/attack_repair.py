"""Attacks of stretched music made as crisp as the source's.

A spectral stretch spreads an attack over its window: a pre-echo before it, a softer and later rise.
Here the surroundings of each attack are repaired after the stretch:

- Before it, every band is taken down to the level that the source has at the corresponding
  place. What sounds on through the attack is as loud in both and stays.
- From it on the source's own samples are put in (`attack_paste`).
- Tones held through it are carried (`held_tones`).

All powers are sums over the planes (sum and difference of the channels), and all gains are common
to them: the stereo image stays, and silence in the difference stays silence.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from scipy.fft import irfft, rfft

from rehearse.playback.attack_paste import CLEAR, ENTRY, LONGEST, SEGMENT, paste
from rehearse.playback.attacks import Attacks
from rehearse.playback.held_tones import carry_tones
from rehearse.playback.spectra import Audio, Frames, add_rows, around, means, power, rows

#: Attacks repaired at once.
_TOGETHER = 64
#: Hertz: from short frames above to long ones below; seconds of both.
_SPLIT, _SIZES = (700.0, 1100.0), (0.0058, 0.0232)
#: A little more than the source's power is left (0.5 dB), so that nothing is ever thinned.
_LEFT = 1.12
#: Seconds of silence around what is repaired.
_PAD = 0.33


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
    ends = np.minimum(round(LONGEST * rate), gap - round(CLEAR * rate))
    reach = round(min(0.095, 0.05 * (1 / tempo - 1) + 0.045) * rate)
    free = np.diff(places, prepend=-(1 << 60)) - np.concatenate([[0], ends[:-1]])
    room = np.minimum(free, reach)
    pad = round((_PAD + SEGMENT) * rate)
    x, s = (np.pad(planes, ((0, 0), (pad, pad))) for planes in (source, slow))
    out = s.copy()
    for a in range(0, len(attacks), _TOGETHER):
        part = slice(a, a + _TOGETHER)
        at, to = attacks[part] + pad, places[part] + pad
        for resolution in _resolutions(rate):
            _clear_before(x, s, out, at, to, room[part], resolution, tempo)
        paste(x, s, out, at, to, ends[part], known.soft[part], rate, tempo)
        carry_tones(x, s, out, at, to, rate)
    return out[:, pad : pad + slow.shape[1]]


@dataclass(frozen=True)
class _Resolution:
    """Frames of one size and the bins [low, high) that are taken from them."""

    size: int
    entry: int
    low: int
    high: int
    window: Audio
    share: Audio
    near: tuple[Frames, Frames]


@functools.lru_cache
def _resolutions(rate: int) -> tuple[_Resolution, ...]:
    found = []
    for seconds, upper in zip(_SIZES, (True, False), strict=True):
        size = 2 * max(8, round(seconds * rate / 2))
        frequency = np.arange(size // 2 + 1) * rate / size
        share = np.clip((frequency - _SPLIT[0]) / (_SPLIT[1] - _SPLIT[0]), 0, 1)
        share = share if upper else 1 - share
        low, high = int(np.flatnonzero(share)[0]), int(np.flatnonzero(share)[-1]) + 1
        window = np.sin(np.pi * (np.arange(size) + 0.5) / size)
        bins = np.arange(low, high, dtype=np.float64)
        near = around(bins, bins, 1 / 3, 2.1)
        found.append(
            _Resolution(
                size,
                max(1, round(ENTRY * rate)),
                low,
                high,
                window.astype(np.float32),
                share[low:high].astype(np.float32),
                near,
            )
        )
    return tuple(found)


def _clear_before(
    source: Audio,
    slow: Audio,
    out: Audio,
    at: Frames,
    to: Frames,
    room: Frames,
    resolution: _Resolution,
    tempo: float,
) -> None:
    """Take the pre-echo away over `room` frames before each attack.

    Frame j of an attack is centred j halves of a frame before it and compared with the frame of
    the source as far before it as the tempo makes that, but never so near that it hears the attack.
    """
    half, window = resolution.size // 2, resolution.window
    bins = slice(resolution.low, resolution.high)
    count = int(np.ceil(room.max() / half))
    if count < 1:
        return
    # The stretch up to the attack, faded out over its last millisecond; frame 0 is the last.
    heard = rows(slow, to - (count + 1) * half, (count + 2) * half)
    heard[..., -half:] = 0
    fade = (np.arange(resolution.entry) + 0.5) / resolution.entry
    heard[..., -half - len(fade) : -half] *= (1 - fade).astype(np.float32)
    halves = heard.reshape(*heard.shape[:-1], count + 2, half)
    frames = np.concatenate([halves[..., :-1, :], halves[..., 1:, :]], axis=-1)
    spectra = rfft(frames * window, axis=-1)[..., bins]

    ahead = np.arange(count, 0, -1) * half
    back = np.maximum(np.round(ahead * tempo).astype(np.int64), half + len(fade) // 2)
    own = rfft(rows(source, at[:, None] - back - half, resolution.size) * window, axis=-1)
    gain = _gain(power(own[..., bins]), power(spectra[..., :-1, :]), resolution)
    # Frame 0 hears half as much and takes the gain of its neighbour.
    gain = np.concatenate([gain, gain[:, -1:]], axis=1)
    begun = np.clip((room[:, None] - np.arange(count, -1, -1) * half) / resolution.size, 0, 1)
    gain = (gain - 1) * begun.astype(np.float32)[..., None] * resolution.share

    full = np.zeros((*spectra.shape[:-1], half + 1), np.complex64)
    full[..., bins] = spectra * gain
    parts = irfft(full, resolution.size, axis=-1) * window
    change = np.zeros(halves.shape, np.float32)
    change[..., :-1, :] += parts[..., :half]
    change[..., 1:, :] += parts[..., half:]
    add_rows(out, to - (count + 1) * half, change[..., :-1, :].reshape(*heard.shape[:-1], -1))


def _gain(wanted: Audio, there: Audio, resolution: _Resolution) -> Audio:
    """For each frame and bin the gain from the power that is there to the one wanted, at most 1.

    Args:
        wanted, there: powers (attacks, frames, bins); `wanted` is smoothed over three frames.
    """
    before, after = np.roll(wanted, 1, axis=1), np.roll(wanted, -1, axis=1)
    before[:, :1], after[:, -1:] = wanted[:, :1], wanted[:, -1:]
    wanted = means((before + wanted + after) / np.float32(3), *resolution.near)
    left = _LEFT * wanted / (means(there, *resolution.near) + np.float32(1e-20))
    gain: Audio = np.sqrt(np.minimum(1, left))
    return gain
