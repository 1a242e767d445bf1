"""What the room sounds like while the own camera films, for laying the film on the music.

Conventions: 8 kHz, one channel; seconds are those of `time.perf_counter`.
"""

from __future__ import annotations

import statistics
import threading
import time
from typing import Any, Protocol

import numpy as np
import soxr

from rehearse.files.user_error import UserError
from rehearse.film.camera_source import FilmCamera
from rehearse.film.sound import RATE, Sound, film_sound
from rehearse.playback.output import library
from rehearse.words import _

_TAKEN_AT, _BLOCK = 44_100, 2_205  # 50 ms
#: Blocks that the moment of the first one is taken from: the latest come late under load.
_SOME = 400


class Ear(Protocol):
    """Listens from when it is made."""

    def heard(self) -> tuple[Sound, float]:
        """All so far, shape (n,), and the second of its first sample; listening ends."""


class Microphone:
    """The system's microphone, read on a thread of its own.

    Raises:
        UserError: it cannot be opened.
    """

    def __init__(self) -> None:
        sounddevice = library()
        try:
            self._stream: Any = sounddevice.InputStream(
                samplerate=_TAKEN_AT, channels=1, dtype="float32", blocksize=_BLOCK
            )
            self._stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            do = _("allow this program to use it, or film without it")
            raise UserError(_("no microphone can be opened"), do=do) from error
        self._lost = sounddevice.PortAudioError
        self._parts: list[Sound] = []
        self._firsts: list[float] = []
        self._resampler = soxr.ResampleStream(_TAKEN_AT, RATE, 1, dtype="float32")
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._listen, name="microphone", daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        count = 0
        try:
            while not self._ended.is_set():
                block, _unused = self._stream.read(_BLOCK)
                count += _BLOCK
                if len(self._firsts) < _SOME:
                    late = float(self._stream.latency)
                    self._firsts.append(time.perf_counter() - count / _TAKEN_AT - late)
                self._parts.append(self._resampler.resample_chunk(block[:, 0]))
        except self._lost:
            return  # what was heard stays

    def heard(self) -> tuple[Sound, float]:
        """As `Ear.heard`."""
        self._ended.set()
        self._thread.join(1.0)
        self._stream.abort()
        self._stream.close()
        if not self._firsts:
            return np.zeros(0, np.float32), 0.0
        return np.concatenate(self._parts), statistics.median(self._firsts)


class FilmEar:
    """The sound of the film that stands in for a camera."""

    def __init__(self, camera: FilmCamera) -> None:
        self._camera = camera

    def heard(self) -> tuple[Sound, float]:
        """As `Ear.heard`; the part that was due by now."""
        camera = self._camera
        sound, begins = film_sound(camera.film, lambda _done, _words: None)
        begins += camera.started
        due = max(0, round((time.perf_counter() - begins) * RATE))
        return sound[:due], begins


def listen(camera: object) -> Ear:
    """Listen beside a camera.

    Raises:
        UserError: the microphone cannot be opened.
    """
    return FilmEar(camera) if isinstance(camera, FilmCamera) else Microphone()
