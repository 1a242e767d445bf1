"""Small pictures of poses, painted once and kept."""

from __future__ import annotations

from collections import OrderedDict
from pathlib import Path

from PySide6.QtCore import QRectF, QSizeF, Qt
from PySide6.QtGui import QColor, QIcon, QImage, QImageReader, QPainter, QPixmap

from rehearse.routine.anatomy import WINDOW
from rehearse.routine.model import Facing, Level
from rehearse.routine.poses import Pose
from rehearse.ui import theme
from rehearse.ui.figure.painter import paint_figure

_KEPT = 600


class Thumbs:
    """Pictures of poses by height; the least used ones are given up.

    An own pose with a photo shows the photo, found in `folder`.
    """

    def __init__(self) -> None:
        self.folder: Path | None = None
        self._kept: OrderedDict[tuple[object, ...], QPixmap] = OrderedDict()

    def picture(
        self,
        pose: Pose,
        height: int,
        *,
        facing: Facing | None = None,
        level: Level | None = None,
        mirrored: bool = False,
        ratio: float = 1.0,
    ) -> QPixmap:
        """The pose `height` logical pixels high, as wide as the figure's window asks."""
        key = (
            pose.name,
            pose.picture,
            pose.facing,
            pose.level,
            facing,
            level,
            height,
            mirrored,
            ratio,
        )
        kept = self._kept.pop(key, None)
        if kept is None:
            kept = self._photo(pose, height, ratio) or _painted(
                pose, height, facing, level, mirrored, ratio
            )
        self._kept[key] = kept
        if len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        return kept

    def icon(
        self, pose: Pose, height: int, *, facing: Facing | None = None, level: Level | None = None
    ) -> QIcon:
        """The same as an icon that a list does not tint when its row is selected."""
        picture = self.picture(pose, height, facing=facing, level=level)
        icon = QIcon(picture)
        icon.addPixmap(picture, QIcon.Mode.Selected)
        return icon

    def _photo(self, pose: Pose, height: int, ratio: float) -> QPixmap | None:
        if not pose.picture or self.folder is None:
            return None
        reader = QImageReader(str(self.folder / pose.picture))
        reader.setAutoTransform(True)
        photo = reader.read()
        return None if photo.isNull() else _fitted(photo, height, ratio)


def _fitted(photo: QImage, height: int, ratio: float) -> QPixmap:
    size = QSizeF(width_of(height), height) * ratio
    picture = QPixmap(size.toSize())
    picture.fill(Qt.GlobalColor.transparent)
    smooth = Qt.TransformationMode.SmoothTransformation
    small = photo.scaled(picture.size(), Qt.AspectRatioMode.KeepAspectRatio, smooth)
    painter = QPainter(picture)
    painter.drawImage(
        (picture.width() - small.width()) // 2, picture.height() - small.height(), small
    )
    painter.end()
    picture.setDevicePixelRatio(ratio)
    return picture


def width_of(height: float) -> int:
    """Width in pixels of a picture of this height."""
    return max(1, round(height * WINDOW[0] / WINDOW[1]))


def height_of(width: float) -> int:
    """Height in pixels of a picture as wide as this."""
    return max(1, int(width * WINDOW[1] / WINDOW[0]))


def _painted(
    pose: Pose,
    height: int,
    facing: Facing | None,
    level: Level | None,
    mirrored: bool,
    ratio: float,
) -> QPixmap:
    width = width_of(height)
    picture = QPixmap(round(width * ratio), round(height * ratio))
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    paint_figure(
        painter,
        QRectF(0, 0, width, height),
        pose.seen(facing, level),
        ink=QColor(theme.INK),
        accent=QColor(theme.DIM),
        mirrored=mirrored,
    )
    painter.end()
    return picture
