"""The sound of a film, and music as it is compared with it: mono, 8 kHz.

Conventions: film time is the container's, in seconds, as the pictures have it. Sound is placed by
its first time stamp and then by counting samples: an encoder's priming is among the samples.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soxr

from rehearse.files.media import FILM, open_media
from rehearse.files.user_error import UserError
from rehearse.words import _
from rehearse.work.progress import Report

Sound = npt.NDArray[np.float32]

RATE = 8000
#: Seconds by which a time stamp may differ from the count of samples before it is believed: a
#: phone that dropped sound leaves a hole.
_HOLE = 0.08


def film_sound(path: Path, report: Report) -> tuple[Sound, float]:
    """The sound of a film, shape (n,) at `RATE`, and the film second of its first sample.

    Raises:
        UserError: it has no sound, or as `open_media`.
    """
    parts: list[Sound] = []
    with open_media(path, FILM) as film:
        stream = film.sound
        if stream is None:
            what = _("has no sound, by which it is laid on the music")
            raise UserError(what, where=path.name, do=_("film again with the sound on"))
        length = float(film.container.duration or 0) / 1e6
        first = heard = 0.0
        resampler = None
        for _unused, frames in film.decoded(stream):
            for frame in frames:
                if resampler is None:
                    resampler = soxr.ResampleStream(frame.sample_rate, RATE, 1, dtype="float32")
                    first = _time(frame, 0.0)
                hole = _time(frame, first + heard) - first - heard
                if hole > _HOLE:
                    silence = np.zeros(round(hole * frame.sample_rate), np.float32)
                    parts.append(resampler.resample_chunk(silence))
                    heard += hole
                parts.append(resampler.resample_chunk(_mono(frame)))
                heard += frame.samples / frame.sample_rate
            report(min(1.0, heard / length) if length > 0 else 0.0, _("Listening to the film"))
    if resampler is None:
        what = _("has no sound that can be read")
        raise UserError(what, where=path.name, do=_("copy it again from the phone"))
    parts.append(resampler.resample_chunk(np.zeros(0, np.float32), last=True))
    return np.concatenate(parts), first


def _time(frame: Any, otherwise: float) -> float:
    return otherwise if frame.pts is None else float(frame.pts * frame.time_base)


def _mono(frame: Any) -> Sound:
    """One channel, shape (n,), float, full scale ±1."""
    samples = frame.to_ndarray()
    channels = len(frame.layout.channels)
    scale = 1.0
    if samples.dtype.kind in "iu":
        scale = 1.0 / float(np.iinfo(samples.dtype).max)
    samples = samples.astype(np.float32) * scale
    if samples.shape[0] == 1 and channels > 1:  # packed: one row, channel by channel
        samples = samples.reshape(-1, channels).T
    mono: Sound = np.ascontiguousarray(samples.mean(axis=0), np.float32)
    return mono


def music_sound(samples: npt.NDArray[np.float32], sample_rate: int) -> Sound:
    """Music of shape (frames, channels) as it is compared with a film, shape (n,) at `RATE`."""
    sound: Sound = soxr.resample(samples.mean(axis=1), sample_rate, RATE)
    return sound
