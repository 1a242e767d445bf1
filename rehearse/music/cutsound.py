"""The sound of a cut: parts of a song laid one behind the other, faded into each other.

A fade keeps the power where the two sounds differ and the amplitude where they are alike: its gains
are a cosine and a sine, divided by the power that sounds of their correlation add up to. The gain
of a part that begins louder or softer goes back to nothing in even decibels.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from rehearse.files.atomic import user_error_of, written_aside
from rehearse.music.cut import RELAXED, Cut
from rehearse.music.track import Samples
from rehearse.words import _
from rehearse.work.progress import Report

#: Frames written at once.
_BLOCK = 1 << 16


def splice_sound(
    samples: Samples, rate: int, cut: Cut, *, first: float = 0.0, last: float | None = None
) -> Samples:
    """The cut's sound, or a stretch of it.

    Args:
        samples: of the song, shape (frames, 2). rate: frames a second.
        first, last: seconds of the cut; None: to its end.

    Returns:
        shape (n, 2), float32, n = round(last · rate) − round(first · rate).
    """
    return _Sound(samples, rate, cut).stretch(first, cut.length if last is None else last)


def fade_span(cut: Cut, k: int, rate: int) -> tuple[int, int]:
    """Frames of the cut [first, last) over which the sound changes over to part `k`."""
    begin = round(cut.begins[k] * rate)
    if k == 0:
        return 0, 0
    part, before = cut.parts[k], round(cut.begins[k - 1] * rate)
    end = max(before, begin - round(part.ahead * rate))
    # Neither before the song's first sample nor before the part that is left.
    room = max(0, min(round(part.start * rate) - (begin - end), end - before))
    return end - min(round(part.fade * rate), room), end


class _Sound:
    """Lays the parts of one cut."""

    def __init__(self, samples: Samples, rate: int, cut: Cut) -> None:
        self.samples, self.rate, self.cut = samples, rate, cut
        self.begins = [round(begin * rate) for begin in cut.begins]
        self.fades = [fade_span(cut, k, rate) for k in range(len(cut.parts))]

    def stretch(self, first: float, last: float) -> Samples:
        """Frames between two times of the cut."""
        low = round(first * self.rate)
        high = max(low, min(round(last * self.rate), self.begins[-1]))
        sound = np.zeros((high - low, 2), np.float32)
        for k in range(len(self.cut.parts)):
            # Heard from the start of its own fade to the end of the next part's.
            a = self.fades[k][0]
            b = self.fades[k + 1][1] if k + 1 < len(self.fades) else self.begins[-1]
            if a < high and b > low:
                piece = self._faded(k, a, b)
                at, end = max(low, a), min(high, b)
                sound[at - low : end - low] = piece[at - a : end - a]
        return sound

    def _faded(self, k: int, a: int, b: int) -> Samples:
        piece, faded = self._part(k, a, b), self.fades[k][1]
        if faded > a:
            before = self._part(k - 1, a, faded)
            piece[: faded - a] = cross_fade(before, piece[: faded - a])
        return piece

    def _part(self, k: int, a: int, b: int) -> Samples:
        """Frames [a, b) of the cut as part `k` has them, at its own level."""
        part, begin = self.cut.parts[k], self.begins[k]
        at = round(part.start * self.rate) - begin
        piece = np.zeros((b - a, 2), np.float32)
        low, high = max(0, a + at), min(len(self.samples), b + at)
        if high > low:
            piece[low - a - at : high - a - at] = self.samples[low:high]
        if k and part.level:
            seconds = (np.arange(a, b) - begin) / self.rate
            length = min(RELAXED, max(0.5, part.end - part.start))
            decibels = part.level * np.clip(1.0 - seconds / length, 0.0, 1.0)
            piece *= (10.0 ** (decibels / 20.0))[:, np.newaxis].astype(np.float32)
        return piece


def cross_fade(before: Samples, after: Samples) -> Samples:
    """From one sound to another of the same length, shape (n, 2)."""
    n = len(before)
    power = float(np.sqrt(np.sum(before**2.0) * np.sum(after**2.0)))
    alike = float(np.sum(before.astype(np.float64) * after)) / power if power > 0 else 0.0
    alike = min(1.0, max(0.0, alike))
    phase = (np.arange(n) + 0.5) / max(1, n) * (np.pi / 2)
    gains = np.stack([np.cos(phase), np.sin(phase)])
    gains = gains / np.sqrt(1.0 + 2.0 * alike * gains[0] * gains[1])
    mixed = before * gains[0][:, np.newaxis] + after * gains[1][:, np.newaxis]
    return np.asarray(mixed, np.float32)


def write_sound(path: Path, sound: Samples, rate: int, report: Report) -> float:
    """Write the sound of a cut as flac of 24 bits, whole or not at all.

    A song mastered beyond full scale is turned down, the whole of it, so that nothing clips.

    Returns:
        Decibels by which it was turned down.

    Raises:
        UserError: the folder is read-only or gone, or the disk full.
    """
    import soundfile

    peak = float(np.abs(sound).max(initial=0.0))
    gain = 1.0 if peak <= 1.0 else (1.0 - 2.0**-23) / peak
    try:
        path.parent.mkdir(exist_ok=True)
        with (
            written_aside(path) as part,
            soundfile.SoundFile(
                part, "w", samplerate=rate, channels=2, format="FLAC", subtype="PCM_24"
            ) as file,
        ):
            for at in range(0, len(sound), _BLOCK):
                file.write(sound[at : at + _BLOCK] * np.float32(gain))
                report(min(1.0, at / max(1, len(sound))), _("Writing the cut"))
    except OSError as error:
        raise user_error_of(error, path) from error
    except soundfile.LibsndfileError as error:
        raise user_error_of(OSError(5, _("the sound could not be written")), path) from error
    return -20.0 * float(np.log10(gain))
