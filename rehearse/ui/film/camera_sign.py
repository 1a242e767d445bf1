"""The sign of the own camera: a ring and words while it is switched on, a disc while it films."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from rehearse.ui import theme
from rehearse.ui.fonts import face
from rehearse.words import _

#: What stands beside the sign, by what the camera does.
SAID = {
    "ready": _("Camera on: runs are filmed"),
    "filming": _("The camera films"),
    "showing": _("The camera shows, nothing is kept"),
}


class CameraSign(QWidget):
    """A line of its own, so that it covers nothing; away while the camera is switched off.

    Attributes:
        state: a key of `SAID`; empty: off.
    """

    def __init__(self) -> None:
        super().__init__()
        self.state = ""
        self.setFixedHeight(5 * theme.STEP)
        self.hide()

    def show_state(self, state: str) -> None:
        """Show what the camera does."""
        if state != self.state:
            self.state = state
            self.setAccessibleName(SAID.get(state, ""))
            self.setVisible(bool(state))
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Disc or ring, and the words."""
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.fillRect(self.rect(), QColor(theme.GROUND))
            high = float(self.height())
            films = self.state == "filming"
            colour = QColor(theme.FAULT if films else theme.INK)
            radius = 0.34 * high
            painter.setPen(QPen(colour, theme.px(3)))
            painter.setBrush(colour if films else Qt.BrushStyle.NoBrush)
            painter.drawEllipse(QPointF(high, high / 2), radius, radius)
            painter.setPen(QColor(theme.INK))
            painter.setFont(face(round(0.62 * high)))
            room = QRectF(1.8 * high, 0, self.width() - 1.8 * high, high)
            painter.drawText(room, int(Qt.AlignmentFlag.AlignVCenter), SAID.get(self.state, ""))
