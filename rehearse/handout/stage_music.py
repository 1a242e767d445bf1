"""The file the show's desk plays: the stage part as set, nothing added, checked by decoding it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rehearse.files.atomic import save_atomic
from rehearse.files.user_error import UserError
from rehearse.handout.encode import Label, decoded, encode, refuse_nothing, resampled
from rehearse.handout.formats import AudioFormat, format_of
from rehearse.music.track import Samples, Track
from rehearse.music.trim import cut_part
from rehearse.routine.model import StagePart
from rehearse.words import _
from rehearse.work.progress import Report, between

RATE = 44100
#: An m4a ends with its last whole block; what the encoder pads there is silence.
_PADDED = {"m4a": 1024}
_FULL = 32767 / 32768
#: What is taken off after each try beyond what was found too high. A lossy encoder overshoots
#: elsewhere when the level changes, so that what was found alone is not always enough.
_BEYOND = (1.0, 0.99, 0.97, 0.94, 0.9)


@dataclass(frozen=True)
class StageMusic:
    """What was written and what decoding it again showed.

    Args:
        path: the file.
        frames: frames of sound put in. rate: frames a second.
        padding: frames of silence the format adds at the end (mp3, flac and wav: none).
        peak: highest sample found, of full scale.
        lowered: dB the whole was turned down so that nothing clips; 0.0 as a rule.
    """

    path: Path
    frames: int
    rate: int
    padding: int
    peak: float
    lowered: float

    @property
    def length(self) -> float:
        """Seconds."""
        return self.frames / self.rate


def stage_sound(track: Track, part: StagePart, silence: float, rate: int = RATE) -> Samples:
    """The stage part, cut and faded as set, after `silence` seconds of nothing.

    Returns:
        shape (n, 2) at `rate`.
    """
    end = min(part.end, track.duration)
    if end <= part.start:
        raise UserError(
            _("the stage part lies outside the song"), do=_("set its ends on the Music page")
        )
    fades = (part.fade_in, part.fade_out)
    cut = cut_part(track.samples, track.sample_rate, part.start, end, fades)
    head = np.zeros((round(silence * rate), 2), np.float32)
    return np.concatenate([head, resampled(cut, track.sample_rate, rate)])


def write_stage_music(
    track: Track,
    part: StagePart,
    path: Path,
    *,
    form: AudioFormat | None = None,
    silence: float = 0.0,
    label: Label | None = None,
    report: Report | None = None,
) -> StageMusic:
    """Write the file and prove it: length to the sample, nothing clipped.

    Args:
        form: mp3 at 320 kbit/s unless said; wav and flac have 16 bits.
        silence: seconds of nothing before the music, 0–10.
        report: told how far it is; may raise to stop, then nothing is written.

    Raises:
        UserError: the part lies outside the song or is silent, the disk is full, or the written
            file does not decode to what was put in.
    """
    form = form or format_of("mp3")
    sound = stage_sound(track, part, silence)
    refuse_nothing(
        sound, RATE, _("the stage music"), _("set the stage part's ends on the Music page")
    )
    peak = float(np.abs(sound).max(initial=0.0))
    gain = min(1.0, _FULL / max(peak, 1e-9))
    told = report or (lambda fraction, text: None)
    done = 0.1
    for beyond in _BEYOND:
        begun, done = done, done + 0.6 * (1.0 - done)
        checking = begun + 0.8 * (done - begun)
        writing = between(told, begun, checking)
        data = encode(sound * np.float32(gain), RATE, form, label=label, report=writing)
        told(checking, _("checking it by decoding it again"))
        padding, found = _check(data, form, sound * np.float32(gain))
        if found <= 1.0:
            save_atomic(path, data)
            lowered = -20 * float(np.log10(gain))
            return StageMusic(path, len(sound), RATE, padding, found, lowered)
        # A lossy decoder can overshoot a full-scale master; what it would clip is taken off.
        gain *= _FULL / found * beyond
    raise UserError(
        _("the music clips in this format"), where=path.name, do=_("write it as wav or flac")
    )


def _check(data: bytes, form: AudioFormat, sound: Samples) -> tuple[int, float]:
    """Frames of padding and the peak found when `data` is decoded.

    Raises:
        UserError: it does not decode to the length and the sound that were put in.
    """
    again = decoded(data, form)
    padding = again.frames - len(sound)
    wrong = UserError(_("the written file does not match the music"), do=_("choose another format"))
    if not 0 <= padding <= _PADDED.get(form.key, 0) or again.sample_rate != RATE:
        raise wrong
    error = again.samples[: len(sound)] - sound
    # Lossless: half a step of 16 bits. Lossy: well below the music (other music, or the same at
    # another place, differs by twice its power).
    if not form.lossy and float(np.abs(error).max()) > 1.01 / 32768:
        raise wrong
    if form.lossy and float(np.mean(error**2)) > 0.5 * float(np.mean(sound**2)) + 1e-9:
        raise wrong
    return padding, float(np.abs(again.samples).max())
