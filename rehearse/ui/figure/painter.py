"""Paints a figure at any size from the Qt-free shapes, in two colours and their mixtures."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPolygonF
from shiboken6 import Shiboken

from rehearse.routine.anatomy import FOOTROOM, WINDOW, figure_shapes
from rehearse.routine.bones import Figure


def paint_figure(
    painter: QPainter,
    rect: QRectF,
    figure: Figure,
    *,
    ink: QColor,
    accent: QColor,
    ground: QColor | None = None,
    mirrored: bool = False,
) -> None:
    """Draw `figure` standing at the bottom middle of `rect`, every pose at the same scale.

    Args:
        painter, rect: where; the painter is left as it was.
        figure: the pose.
        ink: the lit body; its shaded sides are a darker mixture. accent: the briefs.
        ground: what fills the gaps between limbs; None shows what was painted before, which
            takes a layer of its own.
        mirrored: as a mirror shows it; only the view changes.
    """
    if ground is not None:
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(rect.topLeft())
        _fill(painter, rect, figure, _tones(ink, accent, ground), mirrored)
        painter.restore()
        return
    ratio = painter.device().devicePixelRatioF()
    width, height = max(1, round(rect.width() * ratio)), max(1, round(rect.height() * ratio))
    layer = QImage(width, height, QImage.Format.Format_ARGB32_Premultiplied)
    layer.setDevicePixelRatio(ratio)
    layer.fill(Qt.GlobalColor.transparent)
    brush = QPainter(layer)
    brush.setRenderHint(QPainter.RenderHint.Antialiasing)
    _fill(brush, rect, figure, _tones(ink, accent, QColor(Qt.GlobalColor.transparent)), mirrored)
    brush.end()
    painter.drawImage(rect.topLeft(), layer)


def _fill(
    painter: QPainter,
    rect: QRectF,
    figure: Figure,
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
    last = ""
    for shape in figure_shapes(figure, view_mirrored=mirrored):
        if shape.tone != last:
            painter.setBrush(tones[shape.tone])
            last = shape.tone
        painter.drawPolygon(_polygon(shape.points))


def _polygon(points: npt.NDArray[np.float64]) -> QPolygonF:
    """`points`, shape (n, 2), copied at once: a QPointF for each costs more than the drawing."""
    polygon = QPolygonF()
    polygon.resize(len(points))
    memory = Shiboken.VoidPtr(polygon.data(), points.size * 8, True)
    np.frombuffer(memory, np.float64).reshape(-1, 2)[:] = points
    return polygon


def _tones(ink: QColor, accent: QColor, ground: QColor) -> dict[str, QColor]:
    shade = QColor.fromRgbF(ink.redF() * 0.62, ink.greenF() * 0.60, ink.blueF() * 0.60)
    return {"ink": ink, "shade": shade, "accent": accent, "gap": ground}
