"""A plain synthesizer in NumPy: drums, plucked, blown and swelling tones of no real instrument.

Besides variety in training it plays the scores of the tests, sample by sample where they are due.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from training.piece import DRUMS, Piece, Rng

Floats = npt.NDArray[np.float32]


def play(piece: Piece, rate: int, rng: Rng, channels: set[int] | None = None) -> Floats:
    """The piece as mono sound.

    Args:
        channels: play only these.

    Returns:
        float32, shape (frames,), peaks near 1.
    """
    out = np.zeros(int((piece.beats[-1] + 1.5) * rate), np.float32)
    voices = {c: _Voice(rng) for c in piece.programs}
    for note in piece.notes:
        if channels is not None and note.channel not in channels:
            continue
        times = piece.seconds([note.at, note.at + note.length])
        start = int((times[0] + piece.lags.get(note.channel, 0.0)) * rate)
        if not 0 <= start < len(out) - 1:
            continue
        voice = voices[note.channel]
        if note.channel == DRUMS:
            sound = voice.stroke(note.pitch, rate)
        else:
            sound = voice.tone(note.pitch, float(times[1] - times[0]), rate)
        end = min(len(out), start + len(sound))
        out[start:end] += (max(note.velocity, 1) / 127) ** 1.5 * sound[: end - start]
    peak = float(np.abs(out).max()) or 1.0
    out /= np.float32(peak)
    return out


class _Voice:
    """One set of sounds, kept while the piece lasts."""

    def __init__(self, rng: Rng) -> None:
        self.rng = rng
        count = int(rng.integers(1, 9))
        self.partials = rng.uniform(0.2, 1, count) / np.arange(1, count + 1) ** rng.uniform(0.5, 2)
        self.attack = float(10 ** rng.uniform(-3, -1.3))
        self.decay = float(10 ** rng.uniform(-1.0, 0.4))
        self.held = rng.random() < 0.5
        self.sweep = rng.uniform(20, 60)
        self.colour = rng.uniform(0.2, 1.0)
        self._strokes: dict[int, Floats] = {}

    def tone(self, pitch: int, length: float, rate: int) -> Floats:
        """A pitched note of `length` seconds and its release."""
        hertz = 440 * 2 ** ((pitch - 69) / 12)
        t = np.arange(int((min(length, 6.0) + 0.06) * rate), dtype=np.float32) / rate
        sound = np.zeros_like(t)
        for k, level in enumerate(self.partials, 1):
            if k * hertz < 0.45 * rate:
                sound += np.float32(level) * np.sin(np.float32(2 * np.pi * k * hertz) * t)
        shape = np.minimum(1, t / self.attack)
        shape *= np.where(self.held, 1.0, np.exp(-t / self.decay))
        shape *= np.clip((t[-1] - t) / 0.05, 0, 1)
        return (0.3 * sound * shape).astype(np.float32)

    def stroke(self, drum: int, rate: int) -> Floats:
        """A drum of General MIDI's key map: low ones are sweeps, the others noise and a ring."""
        if drum not in self._strokes:
            self._strokes[drum] = self._new_stroke(drum, rate)
        return self._strokes[drum]

    def _new_stroke(self, drum: int, rate: int) -> Floats:
        rng = self.rng
        long = drum in (46, 49, 51)
        last = 0.8 if long else 0.25
        t = np.arange(int(last * rate), dtype=np.float32) / rate
        noise = rng.normal(0, 1, len(t)).astype(np.float32)
        if drum in (35, 36, 41, 43, 45, 47, 50):
            base = 45 + 12 * max(0, drum - 40)
            phase = 2 * np.pi * (base * t + self.sweep / 12 * (1 - np.exp(-t * 30)) * 2)
            sweep = np.sin(phase) * np.exp(-t * 14) + 0.1 * noise * np.exp(-t * 200)
            return np.asarray(sweep, np.float32)
        if drum in (38, 39, 40, 37):
            ring = np.sin(2 * np.pi * rng.uniform(160, 240) * t) * np.exp(-t * 25)
            mixed = self.colour * noise * np.exp(-t * rng.uniform(12, 30)) + 0.5 * ring
            return (0.7 * mixed).astype(np.float32)
        bright = np.diff(noise, prepend=np.float32(0))
        return (0.25 * bright * np.exp(-t * (6 if long else rng.uniform(25, 70)))).astype("f4")
