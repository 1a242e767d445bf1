"""What speaks for a beat being the first of its bar, measured at every beat of a song.

What listeners go by (Lerdahl & Jackendoff, "A generative theory of tonal music", MIT Press 1983:
metrical preference rules) and downbeat trackers have used since Goto, "An audio-based real-time
beat tracking system for music with or without drum-sounds" (Journal of New Music Research 30,
2001) and Davies & Plumbley, "A spectral difference approach to downbeat extraction in musical
audio" (EUSIPCO 2006): chords, bass and parts change on the first beat, long notes begin there,
low drums sound on the strong beats and high ones on the weak. (All cited from memory.) All of it
is read off the band energies that the beat network heard; its own opinion is one witness more.

A witness is heard against its neighbourhood, so that what counts is that a beat differs from the
beats around it, and in units of its own spread over the song.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.features import FPS, SHORT_BANDS
from rehearse.music.analysis.network import Activation

Floats = npt.NDArray[np.float32]
Curve = npt.NDArray[np.float64]
Frames = npt.NDArray[np.int64]

#: The witnesses, in the order of `evidence`'s columns.
WITNESSES = (
    "network", "low attack", "middle attack", "high attack", "chord, 1 beat", "chord, 2 beats",
    "bass, 1 beat", "bass, 2 beats", "sound, 2 beats", "sound, 4 beats", "sound, 8 beats",
    "sound, 16 beats", "level", "long low note", "long high note", "bass note",
)  # fmt: skip

# Bands: of the short window below 150 Hz, 200 to 1000 Hz and above 2 kHz; of the long one the bass.
_LOW, _MIDDLE, _HIGH, _BASS = slice(0, 2), slice(3, 13), slice(25, 48), slice(0, 14)
# Beats around a beat that it is compared with: whole bars of three and of four.
_AROUND = 12
# Spreads beyond which a single beat cannot speak; log odds of the network that make one unit.
_LOUDEST, _UNIT = 3.0, 3.0
_MARGIN = 6


def evidence(energies: Floats, activation: Activation, times: Curve) -> Floats:
    """The witnesses at every beat, each about −3 to 3.

    Args:
        energies: band energies of the song, shape (t, bands).
        activation: what the network made of them.
        times: seconds of at least two beats, rising, shape (n,).

    Returns:
        Shape (n, `len(WITNESSES)`).
    """
    short, long = energies[:, :SHORT_BANDS], energies[:, SHORT_BANDS:]
    beat, after = _frames(times, len(energies))
    columns = [_network(activation.first, beat)]
    columns += [_against_mean(_attack(short[:, part], beat)) for part in (_LOW, _MIDDLE, _HIGH)]
    tones = _Means(_peaks_of(long))
    chord = tones.between(beat + 2, after - 1)
    bass = tones.between(beat + 1, after - 1)[:, _BASS]
    columns += [_against_next(_turn(chord, n)) for n in (1, 2)]
    columns += [_against_next(_turn(bass, n)) for n in (1, 2)]
    sound = _Means(short).between(beat - 1, after - 1)
    columns += [_against_next(_change(sound, n)) for n in (2, 4, 8, 16)]
    columns.append(_against_mean(sound.mean(axis=1)))
    columns += [_against_mean(c) for c in _notes(long, beat, after)]
    return np.column_stack(columns).astype(np.float32)


class _Means:
    """Means over stretches of frames of a curve of shape (t, bands)."""

    def __init__(self, curve: Floats) -> None:
        self._frames = len(curve)
        zero = np.zeros((1, curve.shape[1]))
        self._sums = np.concatenate([zero, np.cumsum(curve, axis=0, dtype=np.float64)])

    def between(self, first: Frames, last: Frames) -> Curve:
        """Means of frames [first, last), of one frame at least, shape (n, bands)."""
        first = np.clip(first, 0, self._frames - 1)
        last = np.clip(np.maximum(last, first + 1), 1, self._frames)
        result: Curve = (self._sums[last] - self._sums[first]) / (last - first)[:, None]
        return result


def _frames(times: Curve, count: int) -> tuple[Frames, Frames]:
    """Frame of every beat and of the one after it, as far as a beat reaches."""
    step = np.diff(times)
    step = np.minimum(np.append(step, step[-1]), 2 * float(np.median(step)))
    beat = np.clip(np.round(times * FPS), _MARGIN, max(_MARGIN, count - 1 - _MARGIN))
    return beat.astype(np.int64), np.round((times + step) * FPS).astype(np.int64)


def _network(first: Floats, beat: Frames) -> Curve:
    near = np.max([first[beat + k] for k in (-1, 0, 1)], axis=0)
    result: Curve = np.clip((near + first[beat]) / 2, -6.0, 6.0) / _UNIT
    return result


def _attack(bands: Floats, beat: Frames) -> Curve:
    """Rise of the level at a beat, mean over the bands."""
    top = np.max([bands[beat + k] for k in (0, 1, 2)], axis=0)
    before = np.min([bands[beat - k] for k in (2, 3)], axis=0)
    result: Curve = np.maximum(0.0, top - before).mean(axis=1, dtype=np.float64)
    return result


def _peaks_of(bands: Floats) -> Floats:
    """What stands out of its neighbouring bands: tones rather than noise."""
    from scipy.ndimage import uniform_filter1d

    result: Floats = np.maximum(0.0, bands - uniform_filter1d(bands, 7, axis=1, mode="nearest"))
    return result


def _sides(beats: Curve, n: int) -> tuple[Curve, Curve]:
    """Means of the `n` beats from each beat on and of the `n` before it."""
    means = _Means(beats.astype(np.float32))
    here = np.arange(len(beats))
    return means.between(here, here + n), means.between(np.maximum(here - n, 0), here)


def _turn(beats: Curve, n: int) -> Curve:
    """Change of the pattern of bands whatever its level: 1 − cosine of both sides."""
    one, other = (
        s / np.maximum(np.linalg.norm(s, axis=1), 1e-6)[:, None] for s in _sides(beats, n)
    )
    return _without_start(1 - np.einsum("ij,ij->i", one, other))


def _change(beats: Curve, n: int) -> Curve:
    """Distance of both sides."""
    one, other = _sides(beats, n)
    return _without_start(np.linalg.norm(one - other, axis=1) / np.sqrt(beats.shape[1]))


def _without_start(change: Curve) -> Curve:
    """Nothing is known of what was before the first beat."""
    change[0] = change[1:3].mean()
    return change


def _notes(long: Floats, beat: Frames, after: Frames) -> list[Curve]:
    """New low and high tones that last beyond the next beat, and new low ones that need not."""
    means, step = _Means(long), after - beat
    before = means.between(beat - np.maximum(3, (0.4 * step).astype(np.int64)), beat - 1)
    new = means.between(beat + 2, beat + np.maximum(4, (0.6 * step).astype(np.int64)))
    later = means.between(after - 3, after + (0.8 * step).astype(np.int64))
    lasting = np.maximum(0.0, np.minimum(new, later) - before)
    low, high = lasting[:, _BASS].mean(axis=1), lasting[:, _BASS.stop :].mean(axis=1)
    return [low, high, np.maximum(0.0, new - before)[:, _BASS].mean(axis=1)]


def _against_mean(curve: Curve) -> Curve:
    """Against the mean of the beats around."""
    count = min(_AROUND, len(curve))
    start = np.clip(np.arange(len(curve)) - count // 2, 0, len(curve) - count)
    around = _Means(curve[:, None].astype(np.float32)).between(start, start + count)[:, 0]
    return _in_spreads(curve - around, curve)


def _against_next(curve: Curve) -> Curve:
    """Against the beats on either side: a change is where it is greatest."""
    padded = np.pad(curve, 1, mode="edge")
    return _in_spreads(curve - (padded[:-2] + padded[2:]) / 2, curve)


def _in_spreads(difference: Curve, curve: Curve) -> Curve:
    # A witness that hardly moves must not be made loud by dividing by next to nothing.
    spread = float(difference.std()) + 0.12 * float(np.abs(curve).mean()) + 1e-4
    result: Curve = np.clip(difference / spread, -_LOUDEST, _LOUDEST)
    return result
