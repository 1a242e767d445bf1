"""The sign of facing and level: the athlete from above, the judges along its upper edge.

The wedge points where the athlete looks, turned as the athlete stands before the screen: up is
toward the judges and the screen, right is the athlete's right. Beside it a column is filled as
high as the body is. Words beneath say the same.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath

from rehearse.routine.model import Facing, Level
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.letters import draw_words

_TALL = {Level.KNEELING: 0.42, Level.LUNGE: 0.7, Level.STANDING: 1.0}


def draw_sign(
    painter: QPainter, box: Box, facing: Facing, level: Level, ink: QColor, quiet: QColor
) -> None:
    """Draw the sign at the top of `box`, its words at the foot."""
    words = [str(facing), *([str(level)] if level is not Level.STANDING else [])]
    cap = min(box.width * 0.24, box.height * 0.15)
    text = cap * 1.45 * 2
    size = min(box.width * 0.74, box.height - text)
    _plan(painter, QRectF(box.x, box.y, size, size), facing.turned, ink, quiet)
    _height(painter, QRectF(box.x + size * 1.12, box.y, size * 0.1, size), level, ink, quiet)
    for row, word in enumerate(words):
        foot = Box(box.x, box.y + size + cap * 1.45 * row, box.width, cap * 1.4)
        draw_words(painter, foot, word, cap, ink, strong=True)


def _plan(painter: QPainter, rect: QRectF, turn: float, ink: QColor, quiet: QColor) -> None:
    unit = rect.width() / 20
    painter.save()
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(quiet)
    painter.drawRect(QRectF(rect.x(), rect.y(), rect.width(), 1.1 * unit))
    painter.translate(rect.center() + QPointF(0, 1.6 * unit))
    painter.rotate(turn)
    painter.setBrush(ink)
    wedge = QPainterPath(QPointF(0, -7.6 * unit))
    wedge.lineTo(4.4 * unit, -2.6 * unit)
    wedge.lineTo(-4.4 * unit, -2.6 * unit)
    wedge.closeSubpath()
    painter.drawPath(wedge)
    painter.drawEllipse(QPointF(0, 1.6 * unit), 8.0 * unit, 3.1 * unit)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.restore()


def _height(painter: QPainter, rect: QRectF, level: Level, ink: QColor, quiet: QColor) -> None:
    painter.fillRect(rect, quiet)
    tall = rect.height() * _TALL[level]
    painter.fillRect(QRectF(rect.x(), rect.bottom() - tall, rect.width(), tall), ink)
