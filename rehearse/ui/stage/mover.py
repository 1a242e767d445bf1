"""The figure on its way from pose to pose, drawn no more often than the eye needs."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.cueing.moment import Cue
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.tones import INK

#: Pictures of one way from pose to pose at most; between them the last one stays.
STEPS = 24
_KEPT = 8

Key = tuple[object, ...]


class Mover:
    """Pictures of the figure in one place, the last few kept.

    A figure is some two hundred polygons: drawing it costs more than all else on the stage. So
    the way is cut into steps and a frame that falls into the same step copies its picture; the
    pose itself, needed on the frame of the hit, is drawn ahead of time.
    """

    def __init__(self, box: Box, ratio: float, *, mirrored: bool = False) -> None:
        self._box, self._ratio, self._mirrored = box, ratio, mirrored
        self._pictures: dict[Key, QImage] = {}
        self._shown: Key = ()

    def choose(
        self, cue: Cue, last: Cue | None, travel: float, accent: QColor, *, hurry: bool = False
    ) -> Key:
        """Choose the picture for the way from `last` to `cue` at `travel` (0..1); returns its key.

        In a hurry the picture chosen before stays where a new one would have to be drawn.
        """
        step = STEPS if last is None else int(travel * STEPS)
        # A figure at rest looks the same whether it leaves one pose or has arrived in it.
        at_rest = cue if step == STEPS else last if step == 0 else None
        key = (id(at_rest) if at_rest else (id(cue), step), accent.rgb())
        if key not in self._pictures:
            if hurry and self._shown in self._pictures:
                return self._shown
            self._pictures[key] = self._drawn(cue, last, step / STEPS, accent)
        self._shown = key
        self._pictures[key] = self._pictures.pop(key)  # the newest is dropped last
        while len(self._pictures) > _KEPT:
            self._pictures.pop(next(iter(self._pictures)))
        return key

    def prepare(self, cue: Cue, accent: QColor) -> None:
        """Draw the pose of `cue` ahead of time; what is shown stays."""
        shown = self._shown
        self.choose(cue, None, 1.0, accent)
        self._shown = shown

    def draw(self, painter: QPainter) -> None:
        """Draw the picture chosen last."""
        if picture := self._pictures.get(self._shown):
            painter.drawImage(QPointF(self._box.x, self._box.y), picture)

    def _drawn(self, cue: Cue, last: Cue | None, travel: float, accent: QColor) -> QImage:
        # The first picture of the window is on the screen before these are loaded.
        from rehearse.routine.figure import between
        from rehearse.ui.figure.painter import paint_figure

        figure = cue.pose.seen(cue.facing, cue.level)
        if last is not None and travel < 1.0:
            figure = between(last.pose.seen(last.facing, last.level), figure, travel)
        rect = QRectF(0, 0, self._box.width, self._box.height)
        picture = QImage(
            (rect.size() * self._ratio).toSize(), QImage.Format.Format_ARGB32_Premultiplied
        )
        picture.setDevicePixelRatio(self._ratio)
        picture.fill(0)
        brush = QPainter(picture)
        paint_figure(brush, rect, figure, ink=INK, accent=accent, mirrored=self._mirrored)
        brush.end()
        return picture
