"""Keeping the screen awake while the athlete poses and touches nothing.

On Linux the desktop's own service is asked over D-Bus (`org.freedesktop.ScreenSaver`, `Inhibit`),
on a connection of its own: an inhibition ends when the connection that asked for it is closed,
even if the program is killed. Nothing waits for the answer; where there is no such service the
screen does as it is set to. Windows is told by `SetThreadExecutionState`, a Mac by its own
command `caffeinate`; both forget it when the program ends, too.
"""

from __future__ import annotations

import logging
import os
import subprocess
import sys

from PySide6.QtCore import QObject

from rehearse.words import _

log = logging.getLogger(__name__)
_SERVICE, _PATH = "org.freedesktop.ScreenSaver", "/org/freedesktop/ScreenSaver"
_CONNECTION = "rehearse-awake"
#: ES_CONTINUOUS, ES_SYSTEM_REQUIRED and ES_DISPLAY_REQUIRED of winbase.h.
_FROM_NOW_ON, _SYSTEM, _DISPLAY = 0x80000000, 0x1, 0x2


class Awake(QObject):
    """Asks once at most until it lets go."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._held = False
        self._command: subprocess.Popen[bytes] | None = None

    @property
    def held(self) -> bool:
        """Whether the desktop was asked to stay awake."""
        return self._held

    def set_wanted(self, wanted: bool) -> None:
        """Stay awake, or no longer."""
        if wanted == self._held:
            return
        if sys.platform == "win32":
            self._held = _tell_windows(wanted) and wanted
        elif sys.platform == "darwin":
            self._held = self._tell_mac(wanted)
        else:
            self._held = _tell_desktop(wanted)

    def _tell_mac(self, wanted: bool) -> bool:
        if self._command is not None:
            self._command.terminate()
            self._command.wait()
            self._command = None
        if wanted:
            command = ["caffeinate", "-d", "-i", "-w", str(os.getpid())]
            try:
                self._command = subprocess.Popen(command)
            except OSError:
                log.info("no caffeinate: the screen may go to sleep")
        return self._command is not None


def _tell_windows(wanted: bool) -> bool:
    import ctypes

    what = _SYSTEM | _DISPLAY if wanted else 0
    kernel = ctypes.windll.kernel32  # type: ignore[attr-defined,unused-ignore]
    return bool(kernel.SetThreadExecutionState(_FROM_NOW_ON | what))


def _tell_desktop(wanted: bool) -> bool:
    from PySide6.QtDBus import QDBusConnection, QDBusMessage

    if not wanted:
        QDBusConnection.disconnectFromBus(_CONNECTION)
        return False
    bus = QDBusConnection.connectToBus(QDBusConnection.BusType.SessionBus, _CONNECTION)
    if not bus.isConnected():
        log.info("no session bus: the screen may go to sleep")
        return False
    message = QDBusMessage.createMethodCall(_SERVICE, _PATH, _SERVICE, "Inhibit")
    message.setArguments(["Rehearse", _("a routine is being rehearsed")])
    return bool(bus.send(message))
