"""A key held down is one key press and its repeats, also where the window system says otherwise.

Seen with Qt 6.11 under X: each repeat of a held key arrives as a release and a fresh press, so
that a held Space paused and went on 25 times a second and a held clicker button never counted as
held. X gives both the same moment, which no finger can: by that they are known here. The releases
in between are dropped, the presses told as repeats, and what is to be done once for each press is
not done for them.
"""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QEvent, QKeyCombination, QObject, Qt, QTimer, Slot
from PySide6.QtGui import QAction, QGuiApplication, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QApplication, QWidget
from shiboken6 import isValid

#: Milliseconds between the two within which they are of one moment, and for which a release waits
#: for its press.
_SAME, _WAIT = 1, 40
_KEYS = (QEvent.Type.KeyPress, QEvent.Type.KeyRelease, QEvent.Type.ShortcutOverride)


class KeyRepeat(QObject):
    """Stands before whatever has the keys.

    It watches the object with the focus, and not the application, where it would be asked about
    every event there is.
    """

    def __init__(self, application: QGuiApplication) -> None:
        super().__init__(application)
        self._up: tuple[QObject, QKeyEvent, int] | None = None  # a release, and when it was
        self._repeat = (0, -1)  # key and moment of the latest repeat
        self._passing_on = False
        self._waiting = QTimer(self, singleShot=True, interval=_WAIT)
        self._waiting.timeout.connect(self._let_up)
        application.focusObjectChanged.connect(self._watch)
        self._watch(application.focusObject())

    @Slot(QObject)
    def _watch(self, focus: QObject | None) -> None:
        if focus is not None:
            focus.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Hold releases back for a moment; tell repeats as such."""
        if self._passing_on or event.type() not in _KEYS or not isinstance(event, QKeyEvent):
            return False
        if not event.spontaneous() or QGuiApplication.focusObject() is not watched:
            return False
        if event.type() == QEvent.Type.KeyRelease:
            self._let_up()
            self._up = (watched, _again(event), event.timestamp())
            self._waiting.start()
            event.accept()
            return True
        if self._up is not None:
            _, before, at = self._up
            if before.key() == event.key() and abs(event.timestamp() - at) <= _SAME:
                self._up = None
                self._waiting.stop()
                self._repeat = (event.key(), event.timestamp())
            else:
                self._let_up()
        if (event.key(), event.timestamp()) != self._repeat:
            return False
        if event.type() == QEvent.Type.KeyPress:
            self._pass_on(watched, _again(event, repeats=True))
            event.accept()
            return True
        if _once_only(event):
            event.accept()  # it is no shortcut; as a press it is told as a repeat
            return True
        return False

    @Slot()
    def _let_up(self) -> None:
        """The key was let go for good."""
        if self._up is None:
            return
        (receiver, event, _), self._up = self._up, None
        self._waiting.stop()
        if isValid(receiver):
            self._pass_on(receiver, event)

    def _pass_on(self, receiver: QObject, event: QKeyEvent) -> None:
        self._passing_on = True
        try:
            QCoreApplication.sendEvent(receiver, event)
        finally:
            self._passing_on = False


def _again(event: QKeyEvent, *, repeats: bool = False) -> QKeyEvent:
    """The event as one that can be kept and sent."""
    return QKeyEvent(
        event.type(),
        event.key(),
        event.modifiers(),
        event.nativeScanCode(),
        event.nativeVirtualKey(),
        event.nativeModifiers(),
        event.text(),
        repeats,
        event.count(),
    )


def _once_only(event: QKeyEvent) -> bool:
    """Whether the key is that of something to be done once for each press."""
    window = QApplication.activeWindow()
    if window is None:
        return False
    held = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
    keys = QKeySequence(QKeyCombination(held, Qt.Key(event.key())))
    once = [a for a in window.findChildren(QAction) if not a.autoRepeat() and a.isEnabled()]
    for action in once:
        shown = [w for w in action.associatedObjects() if isinstance(w, QWidget) and w.isVisible()]
        if shown and keys in action.shortcuts():
            return True
    return any(
        not shortcut.autoRepeat() and shortcut.isEnabled() and shortcut.keys().count(keys)
        for shortcut in window.findChildren(QShortcut)
        if isinstance(parent := shortcut.parent(), QWidget) and parent.isVisible()
    )
