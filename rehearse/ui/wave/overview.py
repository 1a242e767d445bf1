"""The whole song in a strip; what is in view stands out and can be moved."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Slot
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from rehearse.ui import theme
from rehearse.ui.colours import tint
from rehearse.ui.wave.wave_view import WaveView
from rehearse.words import _


class Overview(QWidget):
    """Shows where in the song `view` is; press or drag to go elsewhere."""

    def __init__(self, view: WaveView) -> None:
        super().__init__()
        self._view = view
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(_("Whole song"))
        self.setAccessibleDescription(_("Page Up and Page Down move the waveform"))
        view.rangeChanged.connect(self.update)
        view.painted.connect(self.update)

    def sizeHint(self) -> QSize:
        """A strip."""
        return QSize(400, theme.px(5 * theme.STEP))

    def paintEvent(self, event: QPaintEvent) -> None:
        """The song's outline, the part in view framed."""
        if not self._view.duration:
            return
        with QPainter(self) as painter:
            painter.drawImage(self.rect(), self._view.outline(self.width(), self.height()))
            scale = self._view.scale
            per_second = self.width() / self._view.duration
            left, right = scale.start * per_second, scale.end * per_second
            for a, b in ((0.0, left), (right, float(self.width()))):
                painter.fillRect(QRectF(a, 0, b - a, self.height()), tint(theme.GROUND, 0.55))
            painter.setPen(QPen(QColor(theme.INK), 2))
            frame = QRectF(left, 0, max(4.0, right - left), self.height())
            painter.drawRoundedRect(frame.adjusted(1, 1, -1, -1), 3, 3)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Go there."""
        self._go(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go along."""
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._go(event)

    @Slot()
    def _go(self, event: QMouseEvent) -> None:
        scale = self._view.scale
        half = (scale.end - scale.start) / 2
        middle = event.position().x() / max(1, self.width()) * self._view.duration
        self._view.set_range(middle - half, middle + half)
