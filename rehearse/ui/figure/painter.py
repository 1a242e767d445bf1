"""Paints a figure at any size from the Qt-free shapes, in two colours and their mixtures."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPolygonF

from rehearse.routine.anatomy import WINDOW, figure_shapes
from rehearse.routine.figure import Figure

#: Room, in body heights, left under the floor for feet seen a little from above.
FOOTROOM = 0.05


def paint_figure(
    painter: QPainter,
    rect: QRectF,
    figure: Figure,
    *,
    ink: QColor,
    accent: QColor,
    mirrored: bool = False,
) -> None:
    """Draw `figure` standing at the bottom middle of `rect`, every pose at the same scale.

    The gaps between limbs show what lies under the figure. `mirrored` only changes the view.
    """
    ratio = painter.device().devicePixelRatioF()
    layer = QImage(
        max(1, round(rect.width() * ratio)),
        max(1, round(rect.height() * ratio)),
        QImage.Format.Format_ARGB32_Premultiplied,
    )
    layer.setDevicePixelRatio(ratio)
    layer.fill(Qt.GlobalColor.transparent)
    brush = QPainter(layer)
    brush.setRenderHint(QPainter.RenderHint.Antialiasing)
    brush.setPen(Qt.PenStyle.NoPen)
    scale = min(rect.width() / WINDOW[0], rect.height() / WINDOW[1])
    brush.translate(rect.width() / 2, rect.height() - FOOTROOM * scale)
    brush.scale(scale, -scale)
    tones = {"ink": ink, "shade": _shade(ink), "accent": accent, "gap": QColor(0, 0, 0)}
    for shape in figure_shapes(figure, view_mirrored=mirrored):
        cut = shape.tone == "gap"
        brush.setCompositionMode(
            QPainter.CompositionMode.CompositionMode_DestinationOut
            if cut
            else QPainter.CompositionMode.CompositionMode_SourceOver
        )
        brush.setBrush(tones[shape.tone])
        brush.drawPolygon(QPolygonF([QPointF(x, y) for x, y in shape.points.tolist()]))
    brush.end()
    painter.drawImage(rect.topLeft(), layer)


def _shade(ink: QColor) -> QColor:
    return QColor.fromRgbF(ink.redF() * 0.62, ink.greenF() * 0.60, ink.blueF() * 0.60)
