"""The sign of facing and level: the athlete from above, the judges below.

One rule, on the screen and on paper: the wedge is where the face looks. In a mirror view the sign
is mirrored with the figure. The column beside it is filled as high as the body is.
"""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from rehearse.routine.model import Facing, Level
from rehearse.ui.colours import fill
from rehearse.ui.stage.layout import Box

_TALL = {Level.KNEELING: 0.42, Level.LUNGE: 0.7, Level.STANDING: 1.0}
#: The wedge as it is printed, too: its tip and its corners in radii of the ring.
_TIP, _CORNER, _SPREAD = 1.7, 0.95, 0.75


def draw_facing_icon(
    painter: QPainter,
    box: Box,
    facing: Facing,
    level: Level,
    ink: QColor,
    quiet: QColor,
    *,
    mirrored: bool = False,
) -> None:
    """Draw the sign in the square `box`; the column of the level stands at its right."""
    plan = QRectF(box.x, box.y, box.width, box.height)
    _plan(painter, plan, facing, ink, quiet, -1.0 if mirrored else 1.0)
    column = QRectF(plan.right() + box.width * 0.06, plan.y(), box.width * 0.1, plan.height())
    fill(painter, column, quiet)
    tall = column.height() * _TALL[level]
    fill(painter, QRectF(column.x(), column.bottom() - tall, column.width(), tall), ink)


def _plan(
    painter: QPainter, rect: QRectF, facing: Facing, ink: QColor, quiet: QColor, way: float
) -> None:
    foot = rect.height() * 0.06
    radius = (rect.height() - 2.2 * foot) / (2 * _TIP)
    middle = QPointF(rect.center().x(), rect.y() + radius * _TIP)
    painter.save()
    fill(painter, QRectF(rect.x(), rect.bottom() - foot, rect.width(), foot), quiet)
    painter.setPen(QPen(ink, radius * 0.24))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawEllipse(middle, radius * 0.88, radius * 0.88)
    x, y = facing.looks
    angle = math.atan2(y, way * x)
    corners = ((_TIP, 0.0), (_CORNER, _SPREAD), (_CORNER, -_SPREAD))
    points = [
        middle + QPointF(math.cos(angle + turn), math.sin(angle + turn)) * radius * far
        for far, turn in corners
    ]
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ink)
    painter.drawPolygon(QPolygonF(points))
    painter.restore()
