"""Keeping the screen awake while the athlete poses and touches nothing.

The desktop's own service is asked over D-Bus (`org.freedesktop.ScreenSaver`, `Inhibit`), on a
connection of its own: an inhibition ends when the connection that asked for it is closed, even
if the program is killed. Nothing waits for the answer; where there is no such service the screen
does as it is set to.
"""

from __future__ import annotations

import logging

from PySide6.QtCore import QObject

log = logging.getLogger(__name__)
_SERVICE, _PATH = "org.freedesktop.ScreenSaver", "/org/freedesktop/ScreenSaver"
_CONNECTION = "rehearse-awake"


class Awake(QObject):
    """Holds one inhibition at most."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._held = False

    @property
    def held(self) -> bool:
        """Whether the desktop was asked to stay awake."""
        return self._held

    def set_wanted(self, wanted: bool) -> None:
        """Stay awake, or no longer."""
        if wanted == self._held:
            return
        from PySide6.QtDBus import QDBusConnection, QDBusMessage

        if not wanted:
            QDBusConnection.disconnectFromBus(_CONNECTION)
            self._held = False
            return
        bus = QDBusConnection.connectToBus(QDBusConnection.BusType.SessionBus, _CONNECTION)
        if not bus.isConnected():
            log.info("no session bus: the screen may go to sleep")
            return
        message = QDBusMessage.createMethodCall(_SERVICE, _PATH, _SERVICE, "Inhibit")
        message.setArguments(["Rehearse", "a routine is being rehearsed"])
        self._held = bus.send(message)
