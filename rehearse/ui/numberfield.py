"""A field for a number on a page whose every key does something."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QSpinBox

_K = Qt.Key
_ENTER = (_K.Key_Return, _K.Key_Enter)
_MINE = {
    *(_K.Key_0, _K.Key_1, _K.Key_2, _K.Key_3, _K.Key_4, _K.Key_5, _K.Key_6, _K.Key_7, _K.Key_8),
    *(_K.Key_9, _K.Key_Backspace, _K.Key_Delete, _K.Key_Left, _K.Key_Right, _K.Key_Up),
    *(_K.Key_Down, _K.Key_Home, _K.Key_End, *_ENTER),
}


class NumberField(QSpinBox):
    """Takes figures and what corrects them; every other key is the page's, Space before all.

    Clicked, the whole number is chosen, so that typing replaces it; Enter gives the keys back.
    """

    def event(self, event: QEvent) -> bool:
        """Leave the page its keys."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            held = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
            if event.key() not in _MINE and held != Qt.KeyboardModifier.ControlModifier:
                event.ignore()
                return False
        return bool(super().event(event))

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Choose all of it."""
        super().focusInEvent(event)
        QTimer.singleShot(0, self, self._choose_all)

    def _choose_all(self) -> None:
        if self.hasFocus():  # it may have gone on already
            self.selectAll()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter: the number is set, the page hears the keys again."""
        super().keyPressEvent(event)
        if event.key() in _ENTER:
            page = self.parentWidget()
            while page is not None and page.focusPolicy() == Qt.FocusPolicy.NoFocus:
                page = page.parentWidget()
            if page is not None:
                page.setFocus()
