"""Small widgets and models that several pages use: lists of lines, fields, labels."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    QSize,
    Qt,
    QTimer,
)
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QLabel, QLayout, QSizePolicy, QSpinBox, QWidget

from rehearse.ui import theme
from rehearse.ui.actions import key
from rehearse.words import _

#: An index as Qt hands it to models and delegates.
Index = QModelIndex | QPersistentModelIndex


class LineModel(QAbstractListModel):
    """One row a line.

    Args:
        name: what makes a line the same one as before.
    """

    def __init__(self, name: Callable[[Any], Hashable]) -> None:
        super().__init__()
        self.lines: tuple[Any, ...] = ()
        self._name = name

    def put(self, lines: tuple[Any, ...]) -> None:
        """Show these lines; where they are the same ones the choice stays."""
        same = [*map(self._name, lines)] == [*map(self._name, self.lines)]
        if not same:
            self.beginResetModel()
        self.lines = lines
        if not same:
            self.endResetModel()
        elif lines:
            self.dataChanged.emit(self.index(0), self.index(len(lines) - 1))

    def rowCount(self, parent: Index | None = None) -> int:
        """One row a line."""
        return len(self.lines)


def mirror_margins(widget: QWidget) -> None:
    """Swap the margins left and right inside a widget where its language is read from the right.

    Qt mirrors where things lie, not the room that a layout keeps at its sides.
    """
    if not widget.isRightToLeft():
        return
    for layout in widget.findChildren(QLayout):
        kept = layout.contentsMargins()
        if kept.left() != kept.right():
            layout.setContentsMargins(kept.right(), kept.top(), kept.left(), kept.bottom())


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


class LastStep(QWidget):
    """What was done last, in what room there is; unlike a label it never lays the page out anew."""

    def __init__(self) -> None:
        super().__init__()
        self._text = ""
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def text(self) -> str:
        """The words shown."""
        return self._text

    def show_step(self, words: str) -> None:
        """Show what was done last, and the key that undoes it."""
        self._text = f"{words}   {key('undo')}" if words else ""
        self.setAccessibleName(_("Last step: {words}", words=words or _("none")))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """One dim line, cut at its middle where it is too long."""
        with QPainter(self) as painter:
            painter.setPen(QColor(theme.DIM))
            words = painter.fontMetrics().elidedText(
                self._text, Qt.TextElideMode.ElideMiddle, self.width()
            )
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignVCenter, words)


class ElidedLabel(QLabel):
    """A line of text; where it is too long it ends in dots and its tooltip tells it in full.

    Args:
        across: what it does with room to its side; `Ignored` asks for none.
    """

    def __init__(self, across: QSizePolicy.Policy = QSizePolicy.Policy.Ignored) -> None:
        super().__init__()
        self.setSizePolicy(across, QSizePolicy.Policy.Preferred)
        self._whole = ""

    def setText(self, text: str) -> None:
        """Show another text."""
        self._whole = text
        super().setText(text)
        self.setToolTip(theme.tip(text))
        self.updateGeometry()
        self._fit()

    def sizeHint(self) -> QSize:
        """Room for all of it, where there is any."""
        self.ensurePolished()
        width = self.fontMetrics().horizontalAdvance(self._whole) + 2
        return QSize(width, super().sizeHint().height())

    def minimumSizeHint(self) -> QSize:
        """Room for its beginning."""
        return QSize(min(self.sizeHint().width(), 12 * theme.STEP), super().sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """As much of it as there is room for."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        words = self.fontMetrics().elidedText(
            self._whole, Qt.TextElideMode.ElideRight, self.width()
        )
        if words != self.text():
            super().setText(words)
