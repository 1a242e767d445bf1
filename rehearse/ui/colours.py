"""The look's colours as Qt has them: of the stage display, mixed, and let through."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from rehearse.ui import theme

GROUND, INK, DIM, LINE, NEXT, HELD, FAULT = (
    QColor(colour)
    for colour in (
        theme.GROUND,
        theme.INK,
        theme.DIM,
        theme.LINE,
        theme.NEXT,
        theme.HELD,
        theme.FAULT,
    )
)
#: The rim unlit, lit at rest, and on the hit.
UNLIT, REST, WHOLE = QColor("#2a221b"), QColor("#b48335"), QColor("#fff0cc")
#: The lit rim where flashes are reduced: its luminance stays within a tenth of the unlit one's,
#: and less than a tenth of the maximum is no flash (WCAG 2.2, definition of general flash).
LOW = QColor("#775828")


def mixed(a: QColor, b: QColor, part: float) -> QColor:
    """`part` (0..1) of the way from `a` to `b`."""
    ends = (
        (a.redF(), b.redF()),
        (a.greenF(), b.greenF()),
        (a.blueF(), b.blueF()),
        (a.alphaF(), b.alphaF()),
    )
    return QColor.fromRgbF(*(x * (1 - part) + y * part for x, y in ends))


def tint(colour: str, alpha: float) -> QColor:
    """`colour` at `alpha` 0..1."""
    result = QColor(colour)
    result.setAlphaF(alpha)
    return result


def fill(painter: QPainter, rect: QRectF, colour: QColor) -> None:
    """Fill a rectangle, as `fill_all`."""
    fill_all(painter, (rect,), colour)


def fill_all(painter: QPainter, rects: Iterable[QRectF], colour: QColor) -> None:
    """Fill rectangles to whole pixels; the painter draws smooth edges and no lines afterwards.

    Its own `fillRect` would have Qt for Python load the 169 presets of gradients before the
    window's first picture.
    """
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    for rect in rects:
        painter.drawRect(rect)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
