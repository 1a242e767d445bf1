"""Paints a figure at any size from the Qt-free shapes, in two colours and their mixtures."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPolygonF
from shiboken6 import Shiboken

from rehearse.routine.anatomy import FOOTROOM, WINDOW, figure_shapes
from rehearse.routine.bones import Figure
from rehearse.routine.look import MAN, Look
from rehearse.ui import theme


def paint_figure(
    painter: QPainter,
    rect: QRectF,
    figure: Figure,
    look: Look = MAN,
    *,
    ink: QColor,
    accent: QColor,
    ground: QColor | None = None,
    mirrored: bool = False,
) -> None:
    """Draw `figure` standing at the bottom middle of `rect`, every pose at the same scale.

    Args:
        painter, rect: where; the painter is left as it was.
        figure: the pose. look: whose body, dress and skin.
        ink: the lit body, its shaded sides a darker mixture; `theme.INK` stands for the skin, any
            other colour marks the whole body. accent: the dress.
        ground: what fills the gaps between limbs; None shows what was painted before, which
            takes a layer of its own.
        mirrored: as a mirror shows it; only the view changes.
    """
    if ground is not None:
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(rect.topLeft())
        _fill(painter, rect, (figure, look), _tones(look, ink, accent, ground), mirrored)
        painter.restore()
        return
    ratio = painter.device().devicePixelRatioF()
    width, height = max(1, round(rect.width() * ratio)), max(1, round(rect.height() * ratio))
    layer = QImage(width, height, QImage.Format.Format_ARGB32_Premultiplied)
    layer.setDevicePixelRatio(ratio)
    layer.fill(Qt.GlobalColor.transparent)
    with QPainter(layer) as brush:
        brush.setRenderHint(QPainter.RenderHint.Antialiasing)
        clear = QColor(Qt.GlobalColor.transparent)
        _fill(brush, rect, (figure, look), _tones(look, ink, accent, clear), mirrored)
    painter.drawImage(rect.topLeft(), layer)


def _fill(
    painter: QPainter,
    rect: QRectF,
    body: tuple[Figure, Look],
    tones: dict[str, QColor],
    mirrored: bool,
) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    # Every tone covers or, for a gap without a ground, clears: one mode, and the painter's
    # fastest, serves both.
    painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_Source)
    scale = min(rect.width() / WINDOW[0], rect.height() / WINDOW[1])
    painter.translate(rect.width() / 2, rect.height() - FOOTROOM * scale)
    painter.scale(scale, -scale)
    last, polygon, places = "", QPolygonF(), np.empty((0, 2))
    for shape in figure_shapes(*body, view_mirrored=mirrored):
        if shape.tone != last:
            painter.setBrush(tones[shape.tone])
            last = shape.tone
        if len(shape.points) != len(places):
            polygon, places = _polygon(len(shape.points))
        places[:] = shape.points
        painter.drawPolygon(polygon)


def _polygon(count: int) -> tuple[QPolygonF, npt.NDArray[np.float64]]:
    """A polygon, and its points as an array, shape (count, 2), that is written into.

    A QPointF for each would cost more than the drawing, and a polygon for each outline as much.
    """
    polygon = QPolygonF()
    polygon.resize(count)
    # The stubs know neither this constructor nor that the pointer is a buffer.
    memory: Any = Shiboken.VoidPtr(polygon.data(), count * 16, True)  # type: ignore[call-arg, arg-type]
    return polygon, np.frombuffer(memory, np.float64).reshape(-1, 2)


def _tones(look: Look, ink: QColor, accent: QColor, ground: QColor) -> dict[str, QColor]:
    dark = look.skin == "dark" and ink == QColor(theme.INK)
    ink = QColor(theme.SKIN) if dark else ink
    red, rest = (0.50, 0.46) if dark else (0.62, 0.60)
    shade = _darker(ink, red, rest)
    return {
        "ink": ink,
        "shade": shade,
        "hair": _darker(shade, 0.78, 0.74),
        "accent": accent,
        "gap": ground,
    }


def _darker(colour: QColor, red: float, rest: float) -> QColor:
    return QColor.fromRgbF(colour.redF() * red, colour.greenF() * rest, colour.blueF() * rest)
