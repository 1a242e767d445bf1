"""The keys that stop everything, on every page, in every state and in every dialogue.

Two of them: D – Ctrl+D while text is edited, which is the stop everywhere else too –, and the
clicker's back button held for a second. A field that takes no letters – numbers, minutes, a pose's
number – is no text: D stops there as well. With Shift, and with the caps lock on, it is the same.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence, QShortcut, QWindow
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QTextEdit,
    QWidget,
)

from rehearse.ui.actions import STOP, named
from rehearse.ui.bindings import key_of, keys_of
from rehearse.ui.settings import Settings

#: Milliseconds after which the clicker's button counts as held; and for which a release waits for
#: the press of the same moment by which X tells a repeat (see `repeats`).
HELD, _WAIT = 1000, 40
_KEYS = (QEvent.Type.KeyPress, QEvent.Type.KeyRelease, QEvent.Type.ShortcutOverride)


def is_stop(event: QKeyEvent) -> bool:
    """Whether a key press is the one that stops everything, with the focus where it is now."""
    held = event.modifiers() & ~(
        Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier
    )
    if event.key() != Qt.Key.Key_D:
        return False
    if held == Qt.KeyboardModifier.ControlModifier:
        return True
    focus = QApplication.focusWidget()
    return held == Qt.KeyboardModifier.NoModifier and not takes_letters(focus)


def takes_letters(widget: QWidget | None) -> bool:
    """Whether a letter typed into `widget` is text; in a spin box or a number's field it is not."""
    if isinstance(widget, QLineEdit):
        digits = widget.inputMethodHints() & Qt.InputMethodHint.ImhDigitsOnly
        return not (widget.isReadOnly() or digits)
    if isinstance(widget, QPlainTextEdit | QTextEdit):
        return not widget.isReadOnly()
    return isinstance(widget, QComboBox) and widget.isEditable()


class StopKey(QObject):
    """Hears the stop before any widget does, in whichever window of the program has the keys.

    It stands before the window that has the focus – dialogues come and go –, and not before the
    application, where it would be asked about every event there is. The shortcut beside it is for
    keyboards whose D is another letter: Qt looks through their other layouts.

    Signals:
        pressed: stop everything now; once for a key held down.
    """

    pressed = Signal()

    def __init__(self, window: QWidget, settings: Settings) -> None:
        super().__init__(window)
        self._settings, self._down = settings, ""
        self._held = QTimer(self, singleShot=True, interval=HELD)
        self._held.timeout.connect(self.pressed)
        self._let_go = QTimer(self, singleShot=True, interval=_WAIT)
        self._let_go.timeout.connect(self._forget)
        application = QGuiApplication.instance()
        assert isinstance(application, QGuiApplication)
        application.focusWindowChanged.connect(self._watch)
        self._watch(application.focusWindow())
        # A press that is a shortcut never reaches the window; what has the focus is asked first.
        application.focusObjectChanged.connect(self._watch)
        self._watch(application.focusObject())
        for key in STOP.keys:
            shortcut = QShortcut(QKeySequence(key), window)
            shortcut.setContext(Qt.ShortcutContext.ApplicationShortcut)
            shortcut.setAutoRepeat(False)
            shortcut.activated.connect(self.pressed)

    @Slot(QObject)
    def _watch(self, one: QObject | None) -> None:
        if one is not None:
            one.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take the stop away from whatever would have had the key; notice a clicker's button."""
        kind = event.type()
        if kind not in _KEYS or not isinstance(event, QKeyEvent):
            return False
        if kind == QEvent.Type.ShortcutOverride:
            self._notice(event)
            return False
        if kind == QEvent.Type.KeyRelease:
            self._up(event)
            return False
        if not isinstance(watched, QWindow):
            return False
        if is_stop(event):
            if not event.isAutoRepeat():
                self.pressed.emit()
            return True
        self._notice(event)
        return False

    def _notice(self, event: QKeyEvent) -> None:
        """A key goes down: the clicker's own begins to count as held."""
        key = key_of(event)
        if key and key == self._down:
            self._let_go.stop()  # a repeat of it
            return
        self._forget()
        text = len(key) == 1 and takes_letters(QApplication.focusWidget())
        if not text and key in keys_of(named("clicker_back"), self._settings):
            self._down = key
            self._held.start()

    def _up(self, event: QKeyEvent) -> None:
        if self._down and not event.isAutoRepeat() and key_of(event) == self._down:
            self._let_go.start()

    @Slot()
    def _forget(self) -> None:
        self._down = ""
        self._let_go.stop()
        self._held.stop()
