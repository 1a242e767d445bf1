"""Small pictures of moves: a ghost, the body, and an arrow; painted once and kept."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache, partial
from pathlib import Path

from PySide6.QtCore import QObject, QPointF, QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QColor, QImage, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from rehearse.files.door import path_inside
from rehearse.files.user_error import UserError
from rehearse.routine.anatomy import Shape
from rehearse.routine.look import MAN, Look
from rehearse.routine.model import Side
from rehearse.routine.movepicture import MovePicture, move_shapes
from rehearse.routine.moves import MoveKind
from rehearse.ui import theme
from rehearse.ui.figure.pose_thumbs import photo_of

#: Pictures kept, and milliseconds between two that are painted.
_KEPT, _PAUSE = 300, 15


def move_picture(
    kind: MoveKind,
    side: Side | None,
    size: QSize,
    direction: str = "",
    *,
    ratio: float = 1.0,
    look: Look = MAN,
    folder: Path | None = None,
) -> QPixmap:
    """A move as a picture of `size` logical pixels, on nothing.

    Args:
        kind, side, direction: the move as it is done.
        ratio: device pixels a logical one. look: whose body. folder: where own photos lie.
    """
    if kind.pictures and folder is not None:
        try:
            photo = photo_of(path_inside(folder, kind.pictures[0]), size.height(), ratio)
        except UserError:
            photo = None
        if photo is not None:
            return photo
    picture = QPixmap.fromImage(_image(kind, side, direction, look, *(_device(size, ratio))))
    picture.setDevicePixelRatio(ratio)
    return picture


class MoveThumbs(QObject):
    """Pictures of moves that are painted in quiet moments, one after the other.

    Signals:
        painted: one more is there.
    """

    painted = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._kept: dict[tuple[object, ...], QPixmap] = {}
        self._wanted: dict[tuple[object, ...], Callable[[], QPixmap]] = {}
        self._pause = QTimer(self, interval=_PAUSE)
        self._pause.timeout.connect(self._paint_one)

    @property
    def waiting(self) -> bool:
        """Whether pictures are still to be painted."""
        return bool(self._wanted)

    def picture(
        self,
        kind: MoveKind,
        side: Side | None,
        direction: str,
        size: QSize,
        *,
        ratio: float = 1.0,
        folder: Path | None = None,
    ) -> QPixmap | None:
        """The picture, or None until it is painted."""
        key = (kind, side, direction, size.width(), size.height(), ratio, folder)
        if key not in self._kept:
            paint = partial(move_picture, kind, side, size, direction, ratio=ratio, folder=folder)
            self._wanted.setdefault(key, paint)
            self._pause.start()
        return self._kept.get(key)

    @Slot()
    def _paint_one(self) -> None:
        if not self._wanted:
            self._pause.stop()
            return
        key = next(iter(self._wanted))
        if len(self._kept) >= _KEPT:
            self._kept.pop(next(iter(self._kept)))
        self._kept[key] = self._wanted.pop(key)()
        self.painted.emit()


def _device(size: QSize, ratio: float) -> tuple[int, int]:
    return max(1, round(size.width() * ratio)), max(1, round(size.height() * ratio))


@lru_cache(maxsize=400)
def _image(
    kind: MoveKind, side: Side | None, direction: str, look: Look, width: int, height: int
) -> QImage:
    image = QImage(width, height, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.transparent)
    shapes = move_shapes(kind, side, direction, look)
    if shapes is None:
        return image
    with QPainter(image) as painter:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        left, bottom, wide, high = shapes.frame
        scale = min(width / wide, height / high)
        painter.translate((width - wide * scale) / 2 - left * scale, (height + high * scale) / 2)
        painter.translate(0, bottom * scale)
        painter.scale(scale, -scale)
        line, ink = QColor(theme.LINE), QColor(theme.INK)
        _fill(painter, shapes.ghost, line, line.darker(125))
        _fill(painter, shapes.body, ink, QColor(theme.DIM))
        _arrow(painter, shapes, max(1.6, height / 26) / scale)
    return image


def _fill(painter: QPainter, shapes: tuple[Shape, ...], ink: QColor, shade: QColor) -> None:
    tones = {"ink": ink, "shade": shade, "accent": shade, "gap": QColor(theme.GROUND)}
    painter.setPen(Qt.PenStyle.NoPen)
    for shape in shapes:
        painter.setBrush(tones.get(shape.tone, shade))
        painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in shape.points.tolist()]))


def _arrow(painter: QPainter, shapes: MovePicture, width: float) -> None:
    points = [QPointF(x, y) for x, y in shapes.arrow.tolist()]
    path = QPainterPath(points[0])
    for point in points[1:]:
        path.lineTo(point)
    tip = points[-1]
    back = next(
        (p for p in reversed(points) if math.dist(p.toTuple(), tip.toTuple()) > 2 * width),
        points[0],
    )
    angle = math.atan2(tip.y() - back.y(), tip.x() - back.x())
    head = [tip + QPointF(math.cos(angle), math.sin(angle)) * (3.2 * width)]
    head += [
        tip + QPointF(math.cos(angle + turn), math.sin(angle + turn)) * (2.4 * width)
        for turn in (2.2, -2.2)
    ]
    for colour, extra in ((QColor(theme.GROUND), 1.2 * width), (QColor(theme.NEXT), 0.0)):
        pen = QPen(colour, width + extra)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPath(path)
        painter.setPen(QPen(colour, extra) if extra else Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        painter.drawPolygon(QPolygonF(head))
