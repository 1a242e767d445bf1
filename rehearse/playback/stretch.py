"""Slower (or slightly faster) music at the same pitch, its attacks crisp.

A spectral stretch by the library python-stretch, used so that its weaknesses do not show:

- Two channels are stretched as their sum and difference, so that a mono recording stays exactly
  mono. The library ties the phases of its channels to the loudest one and so loses up to 1 dB of
  the difference where the sides have little in common: its level is put right.
- Window and hop (115 ms and 28 ms) lie a little below the library's own choice: half the jitter
  of attacks and 10 dB less roughness on held notes, measured in tests/bench/stretch.py.
- Beyond half tempo the library gives attacks up to random phases (its pre-echo at 0.4 was -12 dB,
  in two steps it is -19 dB): slower tempos are reached in two steps.
- Attacks come out up to 0.9 ms late at half tempo, softer ones more so, lone clicks 0.2 ms: half
  of that is taken back, and what the stretch makes of attacks is then repaired (`attack_repair`):
  pre-echo -63 instead of -23 dB, 0.2 instead of 2 ms off at half tempo.
- Level and peaks are brought back to the source's (`level`).
- It is seeded, so that the same music comes out the same on every call.
- It keeps its ratio as a short float and ends a few frames early after ten minutes: it is fed
  some silence after the end, and the result is cut to the exact length.

One call holds the interpreter lock throughout: call it in a worker process, never in the window.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from rehearse.playback.attacks import Attacks

Audio = npt.NDArray[np.float32]

SLOWEST, FASTEST = 0.25, 1.05
_CLEAN = 0.5
_WINDOW, _HOP = 0.115, 0.028
_SEED = 1
_WIDENING = 0.8, 1.25
_TAIL = 0.25
#: Seconds by which attacks are late at half tempo; less at others in proportion to what is added.
_LATE = 0.00045


def stretch(audio: Audio, sample_rate: int, tempo: float) -> Audio:
    """Play `audio` at `tempo` times its speed without changing its pitch.

    Args:
        audio: float, shape (frames, channels), any memory layout.
        sample_rate: frames a second.
        tempo: 0.25–1.05 of the music's own; 1.0 returns the samples bit for bit.

    Returns:
        float32, shape (round(frames / tempo), channels), C-contiguous. What sounds at second `t`
        of the input sounds at `t / tempo` of the result.

    Raises:
        ValueError: tempo out of range, or audio not two-dimensional or not finite.
    """
    return stretch_with(None, audio, sample_rate, tempo)


def stretch_with(attacks: Attacks | None, audio: Audio, sample_rate: int, tempo: float) -> Audio:
    """`stretch` for part of a track whose attacks are known; without them they are found here."""
    if not SLOWEST <= tempo <= FASTEST:
        raise ValueError(f"tempo {tempo} is outside {SLOWEST}–{FASTEST}")
    if audio.ndim != 2:
        raise ValueError(f"audio has {audio.ndim} dimensions; expected (frames, channels)")
    frames = round(len(audio) / tempo)
    if tempo == 1.0:
        return np.array(audio, np.float32, order="C")
    if frames == 0 or audio.shape[1] == 0:
        return np.zeros((frames, audio.shape[1]), np.float32)
    if not np.isfinite(audio).all():
        raise ValueError("audio has samples that are not finite numbers")
    # Not needed by the window, which reads the bounds of the tempo from here at its start.
    from rehearse.playback.attack_repair import repair
    from rehearse.playback.attacks import find_attacks
    from rehearse.playback.level import hold_peaks, match_level

    known = attacks or find_attacks(audio, sample_rate)
    planes = _split(audio, tail=min(int(_TAIL * sample_rate), len(audio) // 8))
    slow = engine(planes, sample_rate, tempo)
    slow = repair(planes, slow, known, sample_rate, tempo)
    slow = match_level(planes, slow, sample_rate, tempo)
    slow = hold_peaks(_widened(slow, planes), known.peak, sample_rate)
    return _join(slow, frames)


def engine(planes: Audio, sample_rate: int, tempo: float) -> Audio:
    """The stretch as the library makes it, with its delay put right."""
    late = int(_LATE * np.clip(1 / tempo - 1, 0, 1) * sample_rate)
    slow = planes
    if tempo < _CLEAN:
        slow = _process(planes, sample_rate, tempo / _CLEAN)
        tempo = _CLEAN
    return _process(slow, sample_rate, tempo)[:, late:]


def _widened(slow: Audio, source: Audio) -> Audio:
    """Bring the difference of two channels back to its level against their sum, in place."""
    width, now = _width(source), _width(slow)
    if width > 0 and now > 0:
        slow[1] *= np.float32(np.clip(width / now, *_WIDENING))
    return slow


def _width(planes: Audio) -> float:
    """Level of the difference of two channels against their sum; 0 where either is silent."""
    if len(planes) != 2:
        return 0.0
    total, difference = (float(np.dot(plane, plane)) for plane in planes)
    return (difference / total) ** 0.5 if total > 0 else 0.0


def _process(planes: Audio, sample_rate: int, tempo: float) -> Audio:
    from python_stretch import Signalsmith

    engine: Any = Signalsmith.Stretch(_SEED)
    window, hop = max(16, int(_WINDOW * sample_rate)), max(4, int(_HOP * sample_rate))
    engine.configure(len(planes), window, hop)
    engine.setTimeFactor(tempo)
    result: Audio = engine.process(np.ascontiguousarray(planes))
    return result


def _split(audio: Audio, tail: int) -> Audio:
    """Planes (channels, frames + tail), C-contiguous as the library silently requires."""
    planes = np.zeros((audio.shape[1], len(audio) + tail), np.float32)
    planes[:, : len(audio)] = audio.T
    if len(planes) == 2:
        left = planes[0].copy()
        planes[0] = (left + planes[1]) * np.float32(0.5)
        planes[1] = (left - planes[1]) * np.float32(0.5)
    return planes


def _join(planes: Audio, frames: int) -> Audio:
    result = np.zeros((frames, len(planes)), np.float32)
    planes = planes[:, :frames]
    filled = result[: planes.shape[1]]
    if len(planes) == 2:
        np.add(planes[0], planes[1], out=filled[:, 0])
        np.subtract(planes[0], planes[1], out=filled[:, 1])
    else:
        filled[:] = planes.T
    return result
