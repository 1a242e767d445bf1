"""What the last gesture did, said beside what it did it to."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from rehearse.ui import theme
from rehearse.ui.actions import key


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
        self.setAccessibleName(f"Last step: {words or 'none'}")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """One dim line, cut at its middle where it is too long."""
        painter = QPainter(self)
        painter.setPen(QColor(theme.DIM))
        words = painter.fontMetrics().elidedText(
            self._text, Qt.TextElideMode.ElideMiddle, self.width()
        )
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignVCenter, words)
        painter.end()
