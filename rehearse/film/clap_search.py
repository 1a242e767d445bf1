"""Claps in a film's sound: the one played before the run, and one of hands that is seen, too."""

from __future__ import annotations

import numpy as np
from scipy import fft, signal

from rehearse.cueing.clap import clap
from rehearse.film.sound import RATE, Sound

#: Standard deviations that the clap must stand out by, and times the best other place.
LEAST, RATIO = 9.0, 1.4
#: Seconds round the best place that are still that place: the room's echoes.
_ROUND = 0.12
#: Seconds round a picture in which its clap is listened for; Hz above which; samples of the rise
#: and before it; how many times as loud it must become.
_NEAR, _SHARP, _RISE, _BEFORE, _LEAST_RISE = 0.3, 1200.0, 32, 240, 8.0
#: Seconds by which an echo that is louder than the clap itself may come later, and the part of it
#: that the clap then has at least.
_ECHO, _DIRECT = 0.04, 0.5
#: How far the spectrum is evened out, as for the music.
_WHITENING = 0.7


def find_clap(film: Sound, begins: float) -> float | None:
    """The film second of the clap; None where it is not heard for certain, or twice.

    Args:
        film: shape (n,) at 8 kHz. begins: film second of its first sample.
    """
    wanted = clap(RATE)
    if len(film) <= len(wanted):
        return None
    size = fft.next_fast_len(len(film) + len(wanted), real=True)
    cross = fft.rfft(film, size) * np.conj(fft.rfft(wanted, size))
    magnitude = np.abs(cross)
    if not magnitude.max() > 0:
        return None
    cross /= (magnitude + 1e-6 * magnitude.max()) ** _WHITENING
    found = fft.irfft(cross, size)[: len(film)]
    found /= found.std() + 1e-20
    best = int(found.argmax())
    near = round(_ROUND * RATE)
    others = np.delete(found, slice(max(0, best - near), best + near + 1))
    if found[best] < LEAST or (len(others) and found[best] < RATIO * others.max()):
        return None
    # An echo may be the loudest of all: the clap is the first of its group.
    ahead = max(0, best - round(_ECHO * RATE))
    first = ahead + int(np.flatnonzero(found[ahead : best + 1] >= _DIRECT * found[best])[0])
    return begins + first / RATE


def hands_heard(sound: Sound, second: float) -> float | None:
    """The second at which hands are heard to meet near `second`; None where nothing sharp is.

    The steepest rise of what lies above the music's body: the level of 4 ms against that of the
    30 ms before.

    Args:
        sound: shape (n,) at 8 kHz, its first sample at second 0 of the film.
    """
    first = max(0, round((second - _NEAR) * RATE))
    piece = sound[first : round((second + _NEAR) * RATE)].astype(np.float64)
    if len(piece) < 4 * _BEFORE:
        return None
    sharp = signal.sosfilt(signal.butter(4, _SHARP, "high", fs=RATE, output="sos"), piece) ** 2
    sums = np.concatenate([[0.0], np.cumsum(sharp)])
    at = np.arange(_BEFORE, len(piece) - _RISE)
    before = (sums[at] - sums[at - _BEFORE]) / _BEFORE
    rise = (sums[at + _RISE] - sums[at]) / _RISE / (before + 1e-4 * sharp.max() + 1e-20)
    best = int(rise.argmax())
    return None if rise[best] < _LEAST_RISE else (first + int(at[best])) / RATE
