"""Small pictures of poses, painted once and kept."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from PySide6.QtCore import (
    QBuffer,
    QByteArray,
    QIODevice,
    QObject,
    QPointF,
    QRectF,
    QSize,
    QSizeF,
    Qt,
    QTimer,
    Slot,
)
from PySide6.QtGui import QColor, QIcon, QImage, QImageReader, QPainter, QPixmap

from rehearse.files.door import path_inside
from rehearse.files.user_error import UserError
from rehearse.routine.anatomy import WINDOW
from rehearse.routine.model import Facing, Level
from rehearse.routine.photos import Picture, read_picture
from rehearse.routine.pose import Pose
from rehearse.ui import theme
from rehearse.ui.figure.painter import paint_figure

#: Pictures kept, and large ones that smaller ones are made of.
_KEPT, _LARGE = 600, 96
#: Height in device pixels of the large pictures; a figure wanted taller is painted for itself.
TALLEST = 240
#: Milliseconds between two pictures painted ahead.
_PAUSE = 15

_Key = tuple[object, ...]

#: Large pictures by what is painted, the same for every page that shows poses.
_large_ones: OrderedDict[_Key, QImage] = OrderedDict()


class Thumbs(QObject):
    """Pictures of poses by height; the least used ones are given up.

    A figure is painted once, large, and scaled down to what is asked for. An own pose with a
    photo shows the photo, found in `folder`.
    """

    def __init__(self) -> None:
        super().__init__()
        self.folder: Path | None = None
        self._kept: OrderedDict[_Key, QPixmap] = OrderedDict()
        self._ahead: list[Pose] = []
        self._pause = QTimer(self, interval=_PAUSE)
        self._pause.timeout.connect(self._paint_ahead)

    def paint_ahead(self, poses: Iterable[Pose]) -> None:
        """Paint these poses in quiet moments, so that none takes its time when it is needed."""
        self._ahead = [pose for pose in poses if not pose.picture][::-1]
        self._pause.start()

    @property
    def ahead(self) -> bool:
        """Whether pictures are still to be painted ahead."""
        return bool(self._ahead)

    @Slot()
    def _paint_ahead(self) -> None:
        if self._ahead:
            _large_one(self._ahead.pop(), None, None, False)
        else:
            self._pause.stop()

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
            pose.look,
            pose.picture,
            pose.facing,
            pose.level,
            facing,
            level,
            height,
            mirrored,
            ratio,
        )
        kept = self._kept.get(key)
        if kept is None:
            kept = self._photo(pose, height, ratio) or self._figure(
                pose, height, facing, level, mirrored, ratio
            )
        _keep(self._kept, key, kept, _KEPT)
        return kept

    def _figure(
        self,
        pose: Pose,
        height: int,
        facing: Facing | None,
        level: Level | None,
        mirrored: bool,
        ratio: float,
    ) -> QPixmap:
        size = QSize(round(width_of(height) * ratio), round(height * ratio))
        if size.height() > TALLEST:
            picture = _painted(pose, size, facing, level, mirrored)
        else:
            large = _large_one(pose, facing, level, mirrored)
            picture = large.scaled(
                size,
                Qt.AspectRatioMode.IgnoreAspectRatio,
                Qt.TransformationMode.SmoothTransformation,
            )
        picture.setDevicePixelRatio(ratio)
        return QPixmap.fromImage(picture)

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
        try:
            return photo_of(path_inside(self.folder, pose.picture), height, ratio)
        except UserError:
            return None


def decoded(picture: Picture, height: int) -> QImage:
    """A photo upright, large enough to be shown `height` pixels high; null where it is damaged.

    Only the format that its head names is tried, and a large JPEG is read at a fraction of its
    size: of fifty megapixels a few are needed.
    """
    data = QByteArray(picture.data)
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer, QByteArray(picture.kind.encode()))
    reader.setAutoDetectImageFormat(False)
    reader.setAutoTransform(True)
    least = min(picture.width, picture.height)
    if picture.kind == "jpeg" and least > 2 * height > 0:
        reader.setScaledSize(QSize(picture.width, picture.height) * (2 * height / least))
    return reader.read()


def photo_of(path: Path, height: int, ratio: float = 1.0) -> QPixmap | None:
    """The photo in a file, upright, fitted into a figure's window; None where there is none."""
    try:
        photo = decoded(read_picture(path), round(height * ratio))
    except UserError:
        return None
    if photo.isNull():
        return None
    size = QSizeF(width_of(height), height) * ratio
    picture = QPixmap(size.toSize())
    picture.fill(Qt.GlobalColor.transparent)
    smooth = Qt.TransformationMode.SmoothTransformation
    small = photo.scaled(picture.size(), Qt.AspectRatioMode.KeepAspectRatio, smooth)
    with QPainter(picture) as painter:
        painter.drawImage(
            (picture.width() - small.width()) // 2, picture.height() - small.height(), small
        )
    picture.setDevicePixelRatio(ratio)
    return picture


def width_of(height: float) -> int:
    """Width in pixels of a picture of this height."""
    return max(1, round(height * WINDOW[0] / WINDOW[1]))


def height_of(width: float) -> int:
    """Height in pixels of a picture as wide as this."""
    return max(1, int(width * WINDOW[1] / WINDOW[0]))


def _large_one(pose: Pose, facing: Facing | None, level: Level | None, mirrored: bool) -> QImage:
    key = (pose.seen(facing, level), pose.look, mirrored)
    large = _large_ones.get(key)
    if large is None:
        large = _painted(pose, QSize(width_of(TALLEST), TALLEST), facing, level, mirrored)
    _keep(_large_ones, key, large, _LARGE)
    return large


def _painted(
    pose: Pose, size: QSize, facing: Facing | None, level: Level | None, mirrored: bool
) -> QImage:
    picture = QImage(size, QImage.Format.Format_ARGB32_Premultiplied)
    picture.fill(Qt.GlobalColor.transparent)
    with QPainter(picture) as painter:
        paint_figure(
            painter,
            QRectF(QPointF(0, 0), QSizeF(size)),
            pose.seen(facing, level),
            pose.look,
            ink=QColor(theme.INK),
            accent=QColor(theme.DIM),
            mirrored=mirrored,
        )
    return picture


def _keep(kept: OrderedDict[_Key, Any], key: _Key, value: object, most: int) -> None:
    """Remember `value` as the one used last; the one used longest ago goes."""
    kept[key] = value
    kept.move_to_end(key)
    if len(kept) > most:
        kept.popitem(last=False)
