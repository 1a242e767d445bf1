"""The window's side of the process that films: nothing here ever waits for it."""

from __future__ import annotations

import threading
import time
from collections import deque
from pathlib import Path
from typing import Any

from rehearse.film.camera_messages import Began, Begin, End, Ended, Failed, Opened, Show
from rehearse.words import _
from rehearse.work.child import Child

#: How far the process steps back for others, above all for whatever sounds.
NICE = 10
#: Seconds that a camera may take to open, and a recording to end.
_OPENING, _ENDING = 30.0, 5.0
_LOST = _("The camera stopped – the music goes on; press its key twice to try again.")


class CameraClient:
    """A process that opens the camera once it is told to; `poll` says what became of it.

    Raises:
        OSError, RuntimeError: the system has no process or thread to spare.

    Attributes:
        started: it was told to open. open: it gives pictures. over: the process is gone.
        recording: one was begun and is not over. number: of the last one that was begun.
        part, zero: of it, as `Began` has them.
    """

    def __init__(self) -> None:
        self.open = self.over = self.started = self.recording = False
        self.part: Path | None = None
        self.zero, self.number = 0.0, 0
        self._inbox: deque[Any] = deque()
        self._until, self._waits = 0.0, False
        self._child = child = Child("rehearse.film.recorder:serve", nice=NICE)
        inbox = self._inbox
        self._reader = threading.Thread(target=_listen, args=(child, inbox), name="camera")
        self._reader.daemon = True
        self._reader.start()

    @property
    def pid(self) -> int:
        """The process's number."""
        return self._child.process.pid

    def start(self, name: str = "") -> None:
        """Open a camera, as `camera_source.listed` has it; empty: the first one."""
        if not self.started:
            self.started = True
            self._until, self._waits = time.monotonic() + _OPENING, True
            self._child.send(name)

    def begin(self, routine: Path, *, sound: bool) -> None:
        """Film into this routine's folder; `Began` follows with the first picture."""
        self.recording, self.part = True, None
        self.number += 1
        self._child.send(Begin(routine, sound, self.number))

    def end(self, *, keep: bool) -> None:
        """End the recording; `Ended` follows, also where the process hangs."""
        self._child.send(End(keep))
        self._until, self._waits = time.monotonic() + _ENDING, True

    def show(self, on: bool) -> None:
        """Hand over every picture from now on, or none."""
        self._child.send(Show(on))

    def poll(self) -> tuple[Any, ...]:
        """What has been said since the last call: messages of `recorder`."""
        found = []
        while self._inbox:
            message = self._inbox.popleft()
            self._notice(message)
            found.append(message)
        if not self.over and self._waits and time.monotonic() > self._until:
            self._child.end()
            self._waits = False  # that it is gone is said by the reader
        if any(isinstance(message, Failed) for message in found):
            self.over = True
            self.open = self.recording = False
            if self.part is not None:  # what was filmed is there
                found.append(Ended(self.part, self.number))
                self.part = None
        return tuple(found)

    def _notice(self, message: Any) -> None:
        if isinstance(message, Opened):
            self.open, self._waits = True, False
        elif isinstance(message, Began | Ended) and message.number != self.number:
            pass  # another one was begun since
        elif isinstance(message, Began):
            self.part, self.zero = message.part, message.zero
        elif isinstance(message, Ended):
            self.part, self.recording, self._waits = None, False, False

    def close(self) -> None:
        """End the process; the camera's light goes out."""
        self.over, self.open = True, False
        self._child.end()
        self._reader.join(0.5)
        self._inbox.clear()


def _listen(child: Child, inbox: deque[Any]) -> None:
    """Pass on what the process says until it ends; the last thing said is why."""
    told = False
    try:
        while True:
            message = child.receive()
            told = told or isinstance(message, Failed)
            inbox.append(message)
    except Exception:  # EOF, or it says what nobody here understands
        if not told:
            inbox.append(Failed(_LOST))
    child.close_output()
