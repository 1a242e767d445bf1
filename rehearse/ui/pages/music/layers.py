"""What the Music page paints onto the wave: pins, taps, and the part used on stage."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from rehearse.ui import theme
from rehearse.ui.colours import tint
from rehearse.ui.fonts import face
from rehearse.ui.wave.scale import Scale
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.ui.pages.music.mapping import Mapping
    from rehearse.ui.pages.music.stage import StageLine
    from rehearse.ui.pages.music.tapping import Tapping
    from rehearse.ui.workspace import Workspace

_ON_STAGE = _("on stage")
#: Height of the stage band; pixels within which one of its ends is caught.
BAND, CATCH = 5 * theme.STEP, 12.0


class PinLayer:
    """Pins as rings on a stem, taps as short strokes."""

    def __init__(self, mapping: Mapping, tapping: Tapping) -> None:
        self._mapping, self._tapping = mapping, tapping

    def paint(self, painter: QPainter, scale: Scale) -> None:
        """Paint both."""
        wave = scale.wave
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(theme.INK), 2))
        painter.setBrush(QColor(theme.GROUND))
        for pin in self._mapping.pins:
            x = scale.x(pin)
            painter.drawLine(QLineF(x, wave.top() + 12, x, wave.bottom()))
            painter.drawEllipse(QPointF(x, wave.top() + 12), 6, 6)
        painter.setPen(QPen(QColor(theme.NEXT), 3))
        for tap in self._tapping.taps:
            x = scale.x(tap)
            painter.drawLine(QLineF(x, wave.bottom() - 24, x, wave.bottom()))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)

    def press(self, point: QPointF, scale: Scale) -> bool:
        """Pins are not dragged."""
        return False

    def drag(self, point: QPointF, scale: Scale) -> None:
        """Never called."""

    def release(self, point: QPointF, scale: Scale) -> None:
        """Never called."""


class JoinLayer:
    """Where the parts of a cut meet: a line through the wave, with its word at the foot."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace

    def paint(self, painter: QPainter, scale: Scale) -> None:
        """Paint the joins in view."""
        routine = self._workspace.routine
        if routine is None or routine.cut is None:
            return
        wave, high = scale.wave, theme.px(22)
        painter.setFont(face(theme.SMALL))
        width = painter.fontMetrics().horizontalAdvance(_("join")) + 12
        for time in routine.cut.joins:
            if scale.shows(time, time):
                x = scale.x(time)
                painter.setPen(QPen(QColor(theme.INK), 2, Qt.PenStyle.DashLine))
                painter.drawLine(QLineF(x, wave.top(), x, wave.bottom()))
                box = QRectF(x + 4, wave.bottom() - high - 2, width, high)
                painter.fillRect(box, tint(theme.GROUND, 0.85))
                painter.setPen(QColor(theme.INK))
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, _("join"))

    def press(self, point: QPointF, scale: Scale) -> bool:
        """Joins are not dragged here."""
        return False

    def drag(self, point: QPointF, scale: Scale) -> None:
        """Never called."""

    def release(self, point: QPointF, scale: Scale) -> None:
        """Never called."""


_drags = count(1)


class StageLayer:
    """The part used on stage as a bar with its fades; its ends can be dragged."""

    def __init__(self, line: StageLine) -> None:
        self._line = line
        self._end = ""
        self._merge = ""

    def paint(self, painter: QPainter, scale: Scale) -> None:
        """Shade what is not used, and draw the bar."""
        part = self._line.part
        if part is None:
            return
        left, right = scale.x(part.start), scale.x(part.end)
        for a, b in ((0.0, min(left, scale.width)), (max(0.0, right), scale.width)):
            if b > a:
                painter.fillRect(
                    QRectF(a, scale.wave.top(), b - a, scale.wave.height()), tint(theme.GROUND, 0.6)
                )
        band = scale.layers.adjusted(0, 6, 0, -6)
        rise, fall = part.fade_in * scale.per_second, part.fade_out * scale.per_second
        bar = QPolygonF(
            [
                QPointF(left, band.bottom()),
                QPointF(left + rise, band.top()),
                QPointF(right - fall, band.top()),
                QPointF(right, band.bottom()),
            ]
        )
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.LINE))
        painter.drawPolygon(bar)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        for x in (left, right):
            painter.fillRect(QRectF(x - 3, band.top() - 3, 6, band.height() + 6), QColor(theme.INK))
        seen = QRectF(left, band.top(), right - left, band.height()).intersected(
            QRectF(0, 0, scale.width, scale.height)
        )
        painter.setFont(face(theme.SMALL, strong=True))
        painter.setPen(QColor(theme.INK))
        if seen.width() > painter.fontMetrics().horizontalAdvance(_ON_STAGE) + 24:
            painter.drawText(seen.adjusted(12, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter, _ON_STAGE)

    def press(self, point: QPointF, scale: Scale) -> bool:
        """Take the nearer end when the press is on it."""
        part = self._line.part
        if part is None or not scale.layers.contains(point):
            return False
        ends = {"start": scale.x(part.start), "end": scale.x(part.end)}
        self._end = min(ends, key=lambda end: abs(ends[end] - point.x()))
        self._merge = f"stage {next(_drags)}"
        return abs(ends[self._end] - point.x()) <= CATCH

    def drag(self, point: QPointF, scale: Scale) -> None:
        """Move the end, onto accents and beats."""
        self._line.move_end(self._end, scale.time(point.x()), CATCH / scale.per_second, self._merge)

    def release(self, point: QPointF, scale: Scale) -> None:
        """The drag is over; its last step stands."""
