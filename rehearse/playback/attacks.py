"""Where the attacks of a track are: drum hits, plucked strings, consonants.

An attack is a sudden rise of power in several bands. What counts is the rise above the loudest
moment of the 26 ms before, not above their mean: the pulses of a low saw or of a deep voice follow
one another within that time and are no attacks. Its place is the first sample at which the power
of the slope passes an eighth of its way up.

Nothing but what lies within `CONTEXT` seconds has a say in it, and the frames lie on a grid of the
track. So any part of a track yields the same attacks as the whole, in whatever process it is
looked at.
"""

from __future__ import annotations

import threading
import weakref
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Audio = npt.NDArray[np.float32]
Frames = npt.NDArray[np.int64]

#: Mean rise (dB) of the three bands that rise most; below 6 noise is taken for attacks.
_RISE = 7.0
_MOST = 24.0
_HOP = 0.00145
_EDGES = (60, 250, 600, 1200, 2400, 4800, 9600, 20000)
#: Frames looked back for the loudest moment before, and to each side for a higher peak.
_BACK, _PEAK = 18, 6
#: Seconds to each side of which the mean power sets the floor, as a share of it.
_NEAR, _FLOOR = 0.3, 1e-5
#: Seconds searched for the first sample, before and after; the share of the way up; least apart.
_BEFORE, _AFTER, _START = 0.008, 0.007, 0.12
APART = 0.009
#: Of soft attacks: mean rise (dB) of the four bands that rise most, frames of 5.8 ms looked back,
#: and to each side for a higher peak; seconds to the nearest other attack.
_SOFT_RISE, _SOFT_BACK, _SOFT_PEAK, _ALONE = 3.0, 12, 8, 0.06
#: Seconds of music that an attack's being found depends on, before and after it.
CONTEXT = 0.5
_BLOCK = 6.0


@dataclass(frozen=True, eq=False)
class Attacks:
    """What slow versions of a track must know of it.

    Args:
        frames: the first frame of each attack, rising.
        soft: for each whether it is a soft one.
        peak: the magnitude of the track's highest sample.
    """

    frames: Frames
    soft: npt.NDArray[np.bool_]
    peak: float

    def within(self, first: int, last: int) -> Attacks:
        """Those in [first, last), counted from `first`."""
        low, high = np.searchsorted(self.frames, (first, last))
        return Attacks(self.frames[low:high] - first, self.soft[low:high], self.peak)


def find_attacks(
    samples: Audio, rate: int, first: int = 0, last: int | None = None, peak: float | None = None
) -> Attacks:
    """Attacks in a part of a track.

    Args:
        samples: the whole track, (frames, channels).
        rate: frames a second.
        first, last: the part [first, last), frames; all without them.
        peak: the magnitude of the track's highest sample, if it is known.
    """
    last = len(samples) if last is None else min(last, len(samples))
    step = round(_BLOCK * rate)
    parts = [
        _in_part(samples, rate, a, min(a + step, last)) for a in range(max(0, first), last, step)
    ]
    frames = np.concatenate([np.zeros(0, np.int64), *(part[0] for part in parts)])
    soft = np.concatenate([np.zeros(0, bool), *(part[1] for part in parts)])
    return Attacks(frames, soft, highest(samples) if peak is None else peak)


def highest(samples: Audio) -> float:
    """The magnitude of the highest sample."""
    if not samples.size:
        return 0.0
    return float(max(np.max(samples), -np.min(samples)))


_kept: dict[int, tuple[weakref.ref[Audio], Attacks]] = {}
_lock = threading.Lock()


def attacks_of(samples: Audio, rate: int) -> Attacks:
    """The attacks of a whole track, found once as long as its array lives.

    An array that can be written to is looked through each time.
    """
    key = id(samples)
    with _lock:
        known = _kept.get(key)
    if known is not None and known[0]() is samples:
        return known[1]
    found = find_attacks(samples, rate)
    if not samples.flags.writeable:
        with _lock:
            _kept[key] = weakref.ref(samples, lambda _: _kept.pop(key, None)), found
    return found


def _in_part(
    samples: Audio, rate: int, first: int, last: int
) -> tuple[Frames, npt.NDArray[np.bool_]]:
    """Attacks in [first, last), and which are soft."""
    hop = 4 * max(1, round(_HOP * rate / 4))
    margin = round((APART + _ALONE) * rate) + hop * (_PEAK + 4)
    low, high = (first - margin) // hop, (last + margin) // hop + 1
    near = round(_NEAR * rate / hop)
    power = _band_powers(samples, rate, hop, low - near - _BACK, high + near + 2)
    peaks = low + _peaks(_novelty(power, near), _PEAK, _RISE)
    sharp = np.maximum(_first_samples(samples, rate, peaks * hop), 0)
    sharp = sharp[np.diff(sharp, prepend=np.int64(-(1 << 40))) >= APART * rate]
    soft = _soft(samples, rate, hop, first, last)
    away = np.diff(np.searchsorted(sharp, [soft - _ALONE * rate, soft + _ALONE * rate]), axis=0)
    soft = soft[away[0] == 0]
    frames = np.concatenate([sharp, soft])
    order = np.argsort(frames, kind="stable")
    frames, flags = frames[order], (np.arange(len(frames)) >= len(sharp))[order]
    inside = (frames >= first) & (frames < last)
    return frames[inside], flags[inside]


def _soft(samples: Audio, rate: int, hop: int, first: int, last: int) -> Frames:
    """First frames of soft attacks: bowed, blown, softly struck; the few bands of a note rise.

    Bands a sixth of an octave wide, in frames of 23 ms, must rise above the loudest of themselves
    and their neighbours in the 70 ms before, so that a vibrato is none (Böck & Widmer, "Maximum
    filter vibrato suppression for onset detection", DAFx 2013).
    """
    step = 4 * hop
    low, high = first // step - _SOFT_PEAK - 4, last // step + _SOFT_PEAK + 6
    near = round(_NEAR * rate / step)
    edges = 90 * 2 ** (np.arange(37) / 6)
    power = _band_powers(samples, rate, step, low - near - _SOFT_BACK, high + near + 3, edges)
    level = _floored(power, near, 1e-4)
    wide = np.maximum(level, np.maximum(np.roll(level, 1, axis=1), np.roll(level, -1, axis=1)))
    before = _running_max(wide, _SOFT_BACK - 3)
    count = len(level) - _SOFT_BACK - 2
    after = np.mean([level[_SOFT_BACK + k : _SOFT_BACK + k + count] for k in range(3)], axis=0)
    share = after / (after + np.float32(0.005) * after.sum(axis=1, keepdims=True))
    rise = np.clip(share * 10 * np.log10(after / before[:count]), 0, _MOST)
    novelty = np.sort(rise, axis=1)[:, -4:].mean(axis=1)
    return (low + _peaks(novelty, _SOFT_PEAK, _SOFT_RISE) - 2) * step


def _cut(samples: Audio, a: int, b: int) -> Audio:
    """Frames [a, b) as planes; silence beyond the ends."""
    out = np.zeros((samples.shape[1], b - a), np.float32)
    low, high = max(a, 0), min(b, len(samples))
    if low < high:
        out[:, low - a : high - a] = samples[low:high].T
    return out


def _band_powers(
    samples: Audio,
    rate: int,
    hop: int,
    low: int,
    high: int,
    limits: npt.ArrayLike = _EDGES,
) -> Audio:
    """Power of the bands at frames low .. high of the grid, float32 (frames, bands)."""
    from scipy.fft import rfft

    size = 4 * hop
    planes = _cut(samples, low * hop - size // 2, high * hop + size // 2)
    window = np.hanning(size + 1)[:size].astype(np.float32)
    edges = np.unique(np.ceil(np.asarray(limits) * size / rate).astype(np.int64))
    bands = int(np.searchsorted(edges, size // 2 + 1)) - int(edges[-1] <= size // 2)
    edges = edges[edges <= size // 2]
    total = np.zeros((high - low, bands), np.float32)
    for plane in planes:
        frames = np.lib.stride_tricks.sliding_window_view(plane, size)[::hop][: high - low]
        spectrum = rfft(frames * window, axis=1)
        squares = spectrum.real**2 + spectrum.imag**2
        total += np.add.reduceat(squares, edges, axis=1)[:, :bands]
    return total / np.float32(size * size)


def _novelty(power: Audio, near: int) -> Audio:
    """Rise (dB) of the three bands that rise most; `near + _BACK` frames fewer in front."""
    level = _floored(power, near, _FLOOR)
    before = np.float32(0.5) * _running_max(level, _BACK - 1)  # of frames i-18 .. i-2, from i-18 on
    count = len(level) - _BACK - 1
    after = np.maximum(level[_BACK : _BACK + count], level[_BACK + 1 : _BACK + 1 + count])
    share = after / (after + np.float32(0.002) * after.sum(axis=1, keepdims=True))
    rise = np.clip(share * 10 * np.log10(after / before[:count]), 0, _MOST)
    novelty: Audio = np.sort(rise, axis=1)[:, -3:].mean(axis=1)
    return novelty


def _floored(power: Audio, near: int, share: float) -> Audio:
    """Powers above a floor, a share of the mean power around; `near` frames fewer at each end."""
    sums = np.concatenate([[0.0], np.cumsum(power.sum(axis=1, dtype=np.float64))])
    mean = (sums[2 * near + 1 :] - sums[: -2 * near - 1]) / (2 * near + 1)
    floor = (share * mean + 1e-13).astype(np.float32)
    floored: Audio = power[near : near + len(mean)] + floor[:, None]
    return floored


def _running_max(values: Audio, length: int) -> Audio:
    """Largest of `length` rows from each row on."""
    width, out = 1, values
    while 2 * width <= length:
        out = np.maximum(out[:-width], out[width:])
        width *= 2
    rest = length - width
    return np.maximum(out[:-rest], out[rest:]) if rest else out


def _peaks(novelty: Audio, reach: int, least: float) -> Frames:
    """Frames at which it is high enough and highest within `reach` frames to each side."""
    highest = _running_max(np.pad(novelty, reach), 2 * reach + 1)
    peak = (novelty >= least) & (novelty >= highest)
    peak[1:] &= novelty[1:] > novelty[:-1]  # of equal neighbours the first
    return np.flatnonzero(peak)


def _first_samples(samples: Audio, rate: int, places: Frames) -> Frames:
    """The first frame of the attack at each place."""
    before, after = round(_BEFORE * rate), round(_AFTER * rate)
    box = max(1, round(0.0003 * rate))
    if not len(places):
        return places
    low = int(places.min()) - before - box
    planes = _cut(samples, low, int(places.max()) + after + box + 1)
    slope = np.square(np.diff(planes, axis=1)).sum(axis=0, dtype=np.float64)
    sums = np.concatenate([[0.0], np.cumsum(slope)])
    index = places[:, None] - low + np.arange(-before, after)
    power = sums[index + (box + 1) // 2] - sums[index - box // 2]
    base = np.median(power[:, : before // 2], axis=1, keepdims=True)
    above = power >= base + _START * (power.max(axis=1, keepdims=True) - base)
    return np.asarray(places - before + np.argmax(above, axis=1), np.int64)
