"""The figure on its way from pose to pose, drawn no more often than the eye needs.

An own pose that has a photo shows the photo: it stands still, as there is no way to it.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.cueing.moment import Cue
from rehearse.files.door import path_inside
from rehearse.files.fault import Fault
from rehearse.routine.pictures import read_picture
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

    Args:
        ink: of the body. folder: the routine's; photos of own poses lie in it.
    """

    def __init__(
        self,
        box: Box,
        ratio: float,
        *,
        ink: QColor = INK,
        mirrored: bool = False,
        folder: Path | None = None,
    ) -> None:
        self._ink = ink
        self._box, self._ratio, self._mirrored = box, ratio, mirrored
        self._folder = folder
        self._photos: dict[str, QImage | None] = {}
        self._pictures: dict[Key, QImage] = {}
        self._shown: Key = ()

    def choose(
        self, cue: Cue, last: Cue | None, travel: float, accent: QColor, *, hurry: bool = False
    ) -> Key:
        """Choose the picture for the way from `last` to `cue` at `travel` (0..1); returns its key.

        In a hurry the picture chosen before stays where a new one would have to be drawn.
        """
        still = last is None or self._photo_of(cue, hurry=hurry) is not None
        step = STEPS if still else int(travel * STEPS)
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
        if (photo := self._photo_of(cue)) is not None:
            return photo
        # The first picture of the window is on the screen before these are loaded.
        from rehearse.routine.figure import between
        from rehearse.ui.figure.painter import paint_figure

        figure = cue.pose.seen(cue.facing, cue.level)
        if last is not None and travel < 1.0:
            figure = between(last.pose.seen(last.facing, last.level), figure, travel)
        rect = QRectF(0, 0, self._box.width, self._box.height)
        picture = self._empty()
        brush = QPainter(picture)
        paint_figure(
            brush,
            rect,
            figure,
            cue.pose.look,
            ink=self._ink,
            accent=accent,
            mirrored=self._mirrored,
        )
        brush.end()
        return picture

    def _empty(self) -> QImage:
        size = QSizeF(self._box.width, self._box.height) * self._ratio
        picture = QImage(size.toSize(), QImage.Format.Format_ARGB32_Premultiplied)
        picture.setDevicePixelRatio(self._ratio)
        picture.fill(0)
        return picture

    def _photo_of(self, cue: Cue, *, hurry: bool = False) -> QImage | None:
        """The photo of an own pose in the figure's place; in a hurry only if it is read already.

        None where there is none or it cannot be read: the figure stands for it.
        """
        name = cue.pose.picture
        if not name or self._folder is None:
            return None
        if name not in self._photos and not hurry:
            self._photos[name] = self._read(self._folder, name)
        return self._photos.get(name)

    def _read(self, folder: Path, name: str) -> QImage | None:
        from rehearse.ui.figure.thumbs import decoded

        picture = self._empty()
        try:
            photo = decoded(read_picture(path_inside(folder, name)), picture.height())
        except Fault:
            return None
        if photo.isNull():
            return None
        ways = Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
        photo = photo.scaled(picture.size(), *ways)
        if self._mirrored:
            photo = photo.mirrored(True, False)
        photo.setDevicePixelRatio(self._ratio)
        room = picture.deviceIndependentSize() - photo.deviceIndependentSize()
        brush = QPainter(picture)
        brush.drawImage(QPointF(room.width() / 2, room.height()), photo)
        brush.end()
        return picture
