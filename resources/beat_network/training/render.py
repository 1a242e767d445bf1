"""Pieces made audible with sound fonts, by way of tinysoundfont."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from training.piece import DRUMS, Piece, Rng

Floats = npt.NDArray[np.float32]


class Fonts:
    """Sound fonts, loaded once a process."""

    def __init__(self, paths: Sequence[Path], rate: int) -> None:
        import tinysoundfont

        self.rate = rate
        self._synth: Any = tinysoundfont.Synth(gain=-6, samplerate=rate)
        self._ids = [self._synth.sfload(str(path)) for path in paths]

    def play(self, piece: Piece, rng: Rng, channels: set[int] | None = None) -> Floats:
        """The piece as mono sound, float32, shape (frames,); fonts are chosen by chance.

        Args:
            channels: play only these.
        """
        synth = self._synth
        synth.sounds_off()
        main = self._ids[int(rng.integers(len(self._ids)))]
        for channel, program in piece.programs.items():
            own = rng.random() < 0.25
            font = self._ids[int(rng.integers(len(self._ids)))] if own else main
            self._choose(channel, font, program)
        total = int((piece.beats[-1] + 1.5) * self.rate)
        out = np.zeros((total, 2), np.float32)
        now = 0
        for at, on, note, channel, velocity in _events(piece, self.rate, rng, channels):
            if at >= total:
                break
            if at > now:
                out[now:at] = self._next(at - now)
                now = at
            if on:
                synth.noteon(channel, note, velocity)
            else:
                synth.noteoff(channel, note)
        out[now:] = self._next(total - now)
        return np.asarray(out.mean(axis=1), np.float32)

    def _choose(self, channel: int, font: int, program: int) -> None:
        bank = 128 if channel == DRUMS else 0
        try:
            self._synth.program_select(channel, font, bank, program, channel == DRUMS)
        except Exception:  # a font without that sound or kit
            self._synth.program_select(channel, font, bank, 0, channel == DRUMS)

    def _next(self, frames: int) -> Floats:
        return np.frombuffer(self._synth.generate(frames), np.float32).reshape(-1, 2)


def _events(
    piece: Piece, rate: int, rng: Rng, channels: set[int] | None
) -> list[tuple[int, bool, int, int, int]]:
    notes = [n for n in piece.notes if channels is None or n.channel in channels]
    starts = piece.seconds([n.at for n in notes]) if notes else np.zeros(0)
    ends = piece.seconds([n.at + n.length for n in notes]) if notes else np.zeros(0)
    stray = rng.normal(0, 1, len(notes)) * piece.loose
    events = []
    for note, start, end, off in zip(notes, starts, ends, stray, strict=True):
        late = piece.lags.get(note.channel, 0.0) + off
        pitch = min(115, max(12, note.pitch))
        velocity = min(127, max(8, int(note.velocity)))
        first = max(0, int((start + late) * rate))
        last = max(first + rate // 50, int((end + late) * rate) - 1)
        events.append((first, True, pitch, note.channel, velocity))
        events.append((last, False, pitch, note.channel, 0))
    return sorted(events)
