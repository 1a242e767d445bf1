"""Written sound decoded again, as whoever plays it will hear it."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

from rehearse.files.atomic import fault_of
from rehearse.files.user_error import UserError
from rehearse.handout.formats import AudioFormat
from rehearse.music.decode import SHORTEST, SILENT, load_track
from rehearse.music.track import Samples, Track


def decoded(data: bytes, form: AudioFormat) -> Track:
    """The bytes of a sound file as a player hears them.

    Raises:
        UserError: there is no room for a copy of the file, or it cannot be decoded.
    """
    try:
        with tempfile.TemporaryDirectory(prefix="rehearse-") as folder:
            copy = Path(folder) / f"check.{form.key}"
            copy.write_bytes(data)
            return load_track(copy)
    except OSError as error:
        raise fault_of(error, Path(tempfile.gettempdir())) from error


def refuse_nothing(sound: Samples, sample_rate: int, what: str, do: str) -> None:
    """Refuse sound in which nothing is heard, before it is written.

    Args:
        sound: shape (frames, 2).
        what: what it would become. do: what to do about it.

    Raises:
        UserError: it is silent, or shorter than a second.
    """
    if len(sound) < SHORTEST * sample_rate:
        raise UserError(f"{what} would be shorter than a second", do=do)
    if float(np.abs(sound).max()) < SILENT:
        raise UserError(f"nothing would be heard in {what}", do=do)
