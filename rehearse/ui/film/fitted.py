"""Painting a picture of a film as large as a room takes it, whole and in the middle."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QPainter

#: Pixels of width by which a picture may differ from its room and is not scaled.
_ALIKE = 4


def paint_fitted(painter: QPainter, image: QImage, room: QRectF, *, mirrored: bool = False) -> None:
    """Paint `image` into `room`, in its own proportions; nothing where there is none.

    Args:
        mirrored: left and right changed over.
    """
    if image.isNull():
        return
    size = image.size().scaled(room.size().toSize(), Qt.AspectRatioMode.KeepAspectRatio)
    if abs(size.width() - image.width()) <= _ALIKE:  # as it was asked for: only copied
        size = image.size()
    place = QRectF(QPointF(), size.toSizeF())
    place.moveCenter(room.center())
    place.moveTopLeft(place.topLeft().toPoint().toPointF())
    painter.save()
    if mirrored:
        painter.translate(2 * room.center().x(), 0)
        painter.scale(-1, 1)
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
    painter.drawImage(place, image)
    painter.restore()
