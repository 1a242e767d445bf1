"""The figure on its way from pose to pose, drawn no more often than the eye needs."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.cueing.cues import Cue
from rehearse.routine.figure import between
from rehearse.ui.figure.painter import paint_figure
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.tones import INK

#: Pictures of one way from pose to pose at most; between them the last one stays.
STEPS = 40
_KEPT = 8


class Mover:
    """Pictures of the figure in one place, the last few kept.

    A figure is some two hundred polygons: drawing it costs more than all else on the stage. So
    the way is cut into steps and a frame that falls into the same step copies its picture; the
    pose itself, needed on the frame of the hit, is drawn ahead of time.
    """

    def __init__(self, box: Box, ratio: float, *, mirrored: bool = False) -> None:
        self._box, self._ratio, self._mirrored = box, ratio, mirrored
        self._pictures: dict[tuple[object, ...], QImage] = {}

    def draw(
        self, painter: QPainter, cue: Cue, last: Cue | None, travel: float, accent: QColor
    ) -> None:
        """Draw the way from `last` to `cue` at `travel` (0..1)."""
        picture = self.picture(cue, last, travel, accent)
        painter.drawImage(QRectF(*self._place()).topLeft(), picture)

    def picture(self, cue: Cue, last: Cue | None, travel: float, accent: QColor) -> QImage:
        """The picture of that step, drawn now or before."""
        step = STEPS if last is None else int(travel * STEPS)
        # A figure at rest looks the same whether it leaves one pose or has arrived in it.
        if step == STEPS:
            key: tuple[object, ...] = (cue, accent.rgb())
        elif step == 0:
            key = (last, accent.rgb())
        else:
            key = (cue.index, step, accent.rgb())
        key = tuple(id(part) if isinstance(part, Cue) else part for part in key)
        picture = self._pictures.pop(key, None) or self._drawn(cue, last, step / STEPS, accent)
        self._pictures[key] = picture
        while len(self._pictures) > _KEPT:
            self._pictures.pop(next(iter(self._pictures)))
        return picture

    def _drawn(self, cue: Cue, last: Cue | None, travel: float, accent: QColor) -> QImage:
        figure = cue.pose.seen(cue.facing, cue.level)
        if last is not None and travel < 1.0:
            figure = between(last.pose.seen(last.facing, last.level), figure, travel)
        rect = QRectF(*self._place())
        picture = QImage(
            (rect.size() * self._ratio).toSize(), QImage.Format.Format_ARGB32_Premultiplied
        )
        picture.setDevicePixelRatio(self._ratio)
        picture.fill(0)
        brush = QPainter(picture)
        rect.moveTo(0, 0)
        paint_figure(brush, rect, figure, ink=INK, accent=accent, mirrored=self._mirrored)
        brush.end()
        return picture

    def _place(self) -> tuple[float, float, float, float]:
        return self._box.x, self._box.y, self._box.width, self._box.height
