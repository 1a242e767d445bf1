"""The figure on its way from pose to pose, drawn no more often than the eye needs.

An own pose that has a photo shows the photo: it stands still, as there is no way to it. An own move
shows its photos in turn while it is done.
"""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from rehearse.cueing.cue_state import Cue
from rehearse.files.door import path_inside
from rehearse.files.user_error import UserError
from rehearse.routine.bones import Figure
from rehearse.routine.way import Way
from rehearse.ui.colours import INK
from rehearse.ui.stage.layout import Box

#: Pictures of one way from pose to pose at least, and of a second; between them the last one stays.
STEPS, RATE = 24, 15
#: How far a body reaches beyond its joints, in body heights.
_BEYOND = 0.05
#: Pictures, and photos of own moves, that are kept: a photo fills the figure's whole place.
_KEPT, _PHOTOS = 8, 32

#: The picture is empty: its gaps are cleared in place, without a layer of their own.
_CLEAR = QColor(Qt.GlobalColor.transparent)

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
        self._ahead: tuple[Key, Figure, float] | None = None

    def choose(
        self, cue: Cue, last: Cue | None, travel: float, accent: QColor, *, skip_slow: bool = False
    ) -> Key:
        """Choose the picture for the way from `last` to `cue` at `travel` (0..1); returns its key.

        In a hurry the picture chosen before stays where a new one would have to be drawn.
        """
        way = cue.way
        enters = last is None and way is not None and bool(way.moves) and travel < 1.0
        still = last is None and not enters
        steps = max(STEPS, round(RATE * (way.end - way.start))) if way else STEPS
        step = steps if still else int(travel * steps)
        # Until the way begins the body is still in the pose before.
        shown = self._own_move(cue, travel) if travel > 0.0 and not still else ""
        if not shown and self._photo_of(cue, skip_slow=skip_slow) is not None:
            step = steps
        # A figure at rest looks the same whether it leaves one pose or has arrived in it.
        at_rest = cue if step == steps else last if step == 0 else None
        if at_rest is not None and not skip_slow:
            self._read_ahead(cue)
        key = (shown or (id(at_rest) if at_rest else (id(cue), step)), accent.rgb())
        if key not in self._pictures:
            if skip_slow and self._shown in self._pictures:
                return self._shown
            photo = self._photo(shown) if shown else None
            self._pictures[key] = photo or self._drawn(cue, at_rest, (step, steps), accent)
        elif not (still or shown or skip_slow) and step + 1 < steps:
            self._lay_ahead(cue, step + 1, steps)
        self._shown = key
        self._pictures[key] = self._pictures.pop(key)  # the newest is dropped last
        while len(self._pictures) > _KEPT:
            self._pictures.pop(next(iter(self._pictures)))
        return key

    def _read_ahead(self, cue: Cue) -> None:
        """While the figure stands: one photo a frame of the own moves that come next."""
        moves = cue.way.moves if cue.way is not None else ()
        names = [name for done in moves for name in done.kind.pictures[:_PHOTOS]]
        new = next((name for name in names if name not in self._photos), "")
        if new:
            needed = {*names, cue.pose.picture}
            spare = max(0, len(self._photos) - _PHOTOS)
            for old in [name for name in self._photos if name not in needed][:spare]:
                del self._photos[old]
            self._photo(new)

    def prepare(self, cue: Cue, accent: QColor) -> None:
        """Draw the pose of `cue` ahead of time; what is shown stays."""
        from rehearse.routine.motion import plan_of

        shown = self._shown
        if cue.way is not None:
            plan_of(cue.way)  # kept: laying it out takes as long as a figure
        self.choose(cue, None, 1.0, accent)
        self._shown = shown

    def draw(self, painter: QPainter) -> None:
        """Draw the picture chosen last."""
        if picture := self._pictures.get(self._shown):
            painter.drawImage(QPointF(self._box.x, self._box.y), picture)

    def _own_move(self, cue: Cue, travel: float) -> str:
        """The photo of the own move that is done at this part of the way; empty for none."""
        if (way := cue.way) is None:
            return ""
        time = way.start + travel * (way.end - way.start)
        for done in way.moves:
            photos = done.kind.pictures
            if photos and done.start <= time < done.end:
                part = (time - done.start) / (done.end - done.start)
                name = photos[min(len(photos) - 1, int(part * len(photos)))]
                return name if self._photo(name) is not None else ""
        return ""

    def _lay_ahead(self, cue: Cue, step: int, steps: int) -> None:
        """Find the outlines of the next step in a frame that has nothing to draw.

        They take as long as filling them: the frame that draws them has half as much to do.
        """
        if cue.way is None or (self._ahead is not None and self._ahead[0] == (id(cue), step)):
            return
        from rehearse.routine.anatomy import figure_shapes

        figure, aside = self._on_the_way(cue.way, step / steps)
        self._ahead = (id(cue), step), figure, aside
        figure_shapes(figure, cue.pose.look)  # keeps them

    def _drawn(
        self, cue: Cue, at_rest: Cue | None, step: tuple[int, int], accent: QColor
    ) -> QImage:
        # The first picture of the window is on the screen before this is loaded.
        from rehearse.ui.figure.painter import paint_figure

        shown = at_rest or cue
        if at_rest is not None and (photo := self._photo_of(at_rest)) is not None:
            return photo
        figure = shown.pose.seen(shown.facing, shown.level)
        rect = QRectF(0, 0, self._box.width, self._box.height)
        if at_rest is None and cue.way is not None:
            if self._ahead is not None and self._ahead[0] == (id(cue), step[0]):
                figure, aside = self._ahead[1:]
            else:
                figure, aside = self._on_the_way(cue.way, step[0] / step[1])
            rect.translate(-aside if self._mirrored else aside, 0)
        picture = self._empty()
        with QPainter(picture) as brush:
            paint_figure(
                brush,
                rect,
                figure,
                cue.pose.look,
                ink=self._ink,
                accent=accent,
                ground=_CLEAR,
                mirrored=self._mirrored,
            )
        return picture

    def _on_the_way(self, way: Way, travel: float) -> tuple[Figure, float]:
        """The body at part `travel` of its way, and how far beside the middle it is, in pixels.

        The eye follows a body that goes to another place; one that comes on or steps aside
        leaves the middle as far as there is room.
        """
        from rehearse.routine.anatomy import WINDOW
        from rehearse.routine.motion import body_at, spot

        moved = body_at(way, way.start + travel * (way.end - way.start))
        here, there = spot(way.place)[0], spot(way.goal)[0]
        if way.before is not None:
            there = here + (there - here) * travel**3 * (10 - 15 * travel + 6 * travel**2)
        scale = min(self._box.width / WINDOW[0], self._box.height / WINDOW[1])
        least, most = _room(moved.figure, self._box.width / scale / 2)
        return moved.figure, max(least, min(most, moved.x - there)) * scale

    def _empty(self) -> QImage:
        size = QSizeF(self._box.width, self._box.height) * self._ratio
        picture = QImage(size.toSize(), QImage.Format.Format_ARGB32_Premultiplied)
        picture.setDevicePixelRatio(self._ratio)
        picture.fill(0)
        return picture

    def _photo_of(self, cue: Cue, *, skip_slow: bool = False) -> QImage | None:
        """The photo of an own pose in the figure's place; in a hurry only if it is read already.

        None where there is none or it cannot be read: the figure stands for it.
        """
        return self._photo(cue.pose.picture, skip_slow=skip_slow)

    def _photo(self, name: str, *, skip_slow: bool = False) -> QImage | None:
        if not name or self._folder is None:
            return None
        if name not in self._photos and not skip_slow:
            self._photos[name] = self._read(self._folder, name)
        return self._photos.get(name)

    def _read(self, folder: Path, name: str) -> QImage | None:
        from rehearse.routine.photos import read_picture
        from rehearse.ui.figure.pose_thumbs import decoded

        picture = self._empty()
        try:
            photo = decoded(read_picture(path_inside(folder, name)), picture.height())
        except UserError:
            return None
        if photo.isNull():
            return None
        ways = Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
        photo = photo.scaled(picture.size(), *ways)
        if self._mirrored:
            photo = photo.mirrored(True, False)
        photo.setDevicePixelRatio(self._ratio)
        room = picture.deviceIndependentSize() - photo.deviceIndependentSize()
        with QPainter(picture) as brush:
            brush.drawImage(QPointF(room.width() / 2, room.height()), photo)
        return picture


def _room(figure: Figure, half: float) -> tuple[float, float]:
    """How far a figure may be left and right of the middle of a picture, in body heights.

    Args:
        half: of the picture's width.
    """
    from rehearse.routine.skeleton import joints

    points = joints(figure)
    # The middle of a figure's picture, as in `anatomy`.
    middle = 0.2 * float(points["left ankle"][0] + points["right ankle"][0])
    across = [float(point[0]) - middle for point in points.values()]
    least, most = -half - min(across) + _BEYOND, half - max(across) - _BEYOND
    return (least, most) if least < most else (0.0, 0.0)
