"""Being ended from outside: Ctrl+C, log out and shut down save and leave as quitting does."""

from __future__ import annotations

import contextlib
import os
import signal

from PySide6.QtCore import QObject, QSocketNotifier, Qt, QTimer, Signal, Slot

_SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP")
#: Milliseconds between two looks where signals cannot wake the window.
_LOOK_EVERY = 250


class Ending(QObject):
    """Hears the signals that ask a program to end.

    Python runs its signal handlers between two steps of its own, and none is taken while Qt waits:
    the system writes into a pipe that Qt watches.

    Signals:
        asked: end now, as asked for by the system.
    """

    asked = Signal()
    _heard = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        # A handler may run in the middle of a paint: leaving waits for its turn.
        self._heard.connect(self.asked, Qt.ConnectionType.QueuedConnection)
        self._before = {
            number: signal.signal(number, self._hear)
            for name in _SIGNALS
            if (number := getattr(signal, name, None)) is not None
        }
        self._pipe: tuple[int, int] | None = None
        if os.name == "posix":
            self._pipe = os.pipe()
            for end in self._pipe:
                os.set_blocking(end, False)
            signal.set_wakeup_fd(self._pipe[1], warn_on_full_buffer=False)
            waker = QSocketNotifier(self._pipe[0], QSocketNotifier.Type.Read, self)
            waker.activated.connect(self._drain)
        else:
            timer = QTimer(self, interval=_LOOK_EVERY)
            timer.timeout.connect(self._drain)
            timer.start()

    @Slot()
    def _drain(self) -> None:
        # Coming here at all has let Python run its handlers.
        if self._pipe is not None:
            with contextlib.suppress(BlockingIOError):
                os.read(self._pipe[0], 512)

    def _hear(self, *_: object) -> None:
        self._heard.emit()

    def stop(self) -> None:
        """Leave signals to whoever had them before."""
        for number, before in self._before.items():
            signal.signal(number, before)
        if self._pipe is not None:
            signal.set_wakeup_fd(-1)
            for end in self._pipe:
                os.close(end)
            self._pipe = None
