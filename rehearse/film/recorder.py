"""The process that films: opens the camera, records when told so, hands pictures to the window.

It runs far behind everything that sounds, encodes on one thread, and may die or hang without
anybody waiting for it: `camera_client` is the window's side.
"""

from __future__ import annotations

import contextlib
import io
import queue
import threading
import time
from typing import Any

from rehearse.files.user_error import UserError
from rehearse.film.camera_messages import (
    Began,
    Begin,
    CameraPicture,
    End,
    Ended,
    Failed,
    Opened,
    Show,
    Told,
)
from rehearse.film.camera_sound import Ear, listen
from rehearse.film.camera_source import Camera, find_camera
from rehearse.film.recording import Recording
from rehearse.work.child import Channel

#: Pixels of a picture's longer side for the late mirror, its quality, and the fewest seconds from
#: one to the next: 30 a second.
_SIDE, _QUALITY, _APART = 640, 80, 0.02


def serve(channel: Channel) -> None:
    """Main function of the process: the first message is the camera's name."""
    name = channel.receive()
    wishes: queue.SimpleQueue[Any] = queue.SimpleQueue()

    def take() -> None:
        while True:
            wishes.put(channel.receive())

    threading.Thread(target=take, name="wishes", daemon=True).start()
    recorder = Recorder(channel.send, find_camera(name), wishes)
    try:
        recorder.run()
    except UserError as error:
        recorder.stop(keep=True)
        channel.send(Failed(error.sentence))


class Recorder:
    """Takes pictures and wishes in turn.

    Args:
        send: takes what is said to the window. wishes: `Begin`, `End` and `Show`.
    """

    def __init__(self, send: Any, camera: Camera, wishes: queue.SimpleQueue[Any]) -> None:
        self._send, self._camera, self._wishes = send, camera, wishes
        self._recording: Recording | None = None
        self._number = 0
        self._ear: Ear | None = None
        self._shows, self._shown, self._since = False, 0.0, 0.0

    def run(self) -> None:
        """Until the camera fails.

        Raises:
            UserError: it cannot be opened, or went away.
        """
        opened = False
        with contextlib.closing(self._camera.pictures()) as pictures:
            for taken, frame in pictures:
                if not opened:
                    self._send(Opened())
                    opened = True
                self._obey()
                if self._recording is not None:
                    self._film(taken, frame)
                if self._shows and taken - self._shown >= _APART:
                    self._shown = taken
                    self._send(CameraPicture(taken, jpeg_of(frame)))

    def _obey(self) -> None:
        while not self._wishes.empty():
            wish = self._wishes.get()
            if isinstance(wish, Begin):
                self._begin(wish)
            elif isinstance(wish, End):
                self.stop(keep=wish.keep)
            elif isinstance(wish, Show):
                self._shows = wish.on

    def _begin(self, wish: Begin) -> None:
        self.stop(keep=False)
        self._number = wish.number
        try:
            self._recording = Recording(wish.routine)
        except UserError as error:
            self._send(Told(error.sentence))
            self._send(Ended(None, self._number))
            return
        self._camera.restart()
        self._since = time.perf_counter()
        if wish.sound:
            try:
                self._ear = listen(self._camera)
            except UserError as error:
                self._send(Told(error.sentence))

    def _film(self, taken: float, frame: Any) -> None:
        recording = self._recording
        if recording is None or taken < self._since - 1e-6:  # still under way from before
            return
        first = recording.zero is None
        try:
            recording.add(taken, frame)
        except UserError as error:
            self._send(Told(error.sentence))
            self.stop(keep=True)
            return
        if first:
            self._send(Began(recording.part, taken, self._number))

    def stop(self, *, keep: bool) -> None:
        """End the recording, if there is one; what cannot be kept is told."""
        recording, self._recording = self._recording, None
        ear, self._ear = self._ear, None
        if recording is None:
            return
        heard = ear.heard() if ear is not None else None
        if not keep or recording.zero is None:
            recording.drop()
            self._send(Ended(None, self._number))
            return
        try:
            self._send(Ended(recording.keep(heard), self._number))
        except UserError as error:
            self._send(Told(error.sentence))
            self._send(Ended(recording.part, self._number))


def jpeg_of(frame: Any) -> bytes:
    """A picture at `_SIDE`, turned as it is to be looked at."""
    from PIL import Image

    scale = min(1.0, _SIDE / max(frame.width, frame.height))
    width, height = (2 * round(x * scale / 2) for x in (frame.width, frame.height))
    small = frame.reformat(width, height, "rgb24", interpolation="FAST_BILINEAR").to_ndarray()
    image = Image.fromarray(small)
    if frame.rotation % 360:
        image = image.rotate(frame.rotation, expand=True)
    packed = io.BytesIO()
    image.save(packed, "JPEG", quality=_QUALITY)
    return packed.getvalue()
