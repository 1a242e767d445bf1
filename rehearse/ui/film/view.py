"""The film with what was meant under it: the counts, the hits and the names of the poses."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QImage, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from rehearse.film.film_text import in_ms, in_words
from rehearse.practice.takelog import PoseRead
from rehearse.ui import theme
from rehearse.ui.film.beside import Beside
from rehearse.ui.film.far import paint_far, words_of
from rehearse.ui.film.fitted import paint_fitted
from rehearse.ui.stage.stage_options import ViewingDistance
from rehearse.words import _, shown

#: Seconds of music on the strip, and its height in pixels.
_SPAN, _STRIP = 6.0, 84
#: Pixels of height under which what is told of a pose is set small.
_LOW = 300
#: Part of the width that is told in.
_BESIDE = 0.24


@dataclass(frozen=True)
class Beat:
    """A count on the strip: its second of the music, and what is said on it."""

    second: float
    said: str


class FilmView(QWidget):
    """Paints; the flow tells it what.

    Attributes:
        beside: another take at the same moment of the music. taken: when this one was filmed.
        alone: it fills the screen, and is read from `viewing`.
    """

    def __init__(self) -> None:
        super().__init__()
        self.setMinimumSize(320, 200)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)  # nothing beneath is painted
        self.setAccessibleName(_("The film"))
        self.poses: Sequence[PoseRead] = ()
        self.beats: Sequence[Beat] = ()
        self.second, self.mirrored, self.refused = 0.0, False, ""
        self.image = QImage()
        self.note = self.taken = ""
        self.told: Mapping[str, str] = {}
        self.beside: Beside | None = None
        self.full_screen, self.viewing = False, ViewingDistance()

    @property
    def picture_width(self) -> int:
        """Pixels that a picture may be wide."""
        room = (1 - _BESIDE) * self.width(), self.height() - theme.px(_STRIP)
        if self.full_screen:
            room = float(self.width()), self.height()
        wide = (
            self.image.width() / max(1, self.image.height()) if not self.image.isNull() else 16 / 9
        )
        return max(160, round(min(room[0], room[1] * wide) * self.devicePixelRatioF()))

    def current(self) -> PoseRead | None:
        """The pose whose hit is nearest."""
        if not self.poses:
            return None
        return min(self.poses, key=lambda pose: abs(pose.hit - self.second))

    def count_at(self, second: float) -> str:
        """The count that sounds at a second of the music, as said; empty before the first."""
        said = [beat.said for beat in self.beats if beat.second <= second + 1e-3]
        return said[-1].rpartition(":")[2] if said else ""

    def halves(self, room: QRectF) -> tuple[QRectF, ...]:
        """Where the takes are: one for the only one, else the one filmed first at the left."""
        if self.beside is None:
            return (room,)
        wide = (room.width() - theme.STEP) / 2
        left = QRectF(room.x(), room.y(), wide, room.height())
        return left, left.translated(wide + theme.STEP, 0)

    def verdicts(self, pose: PoseRead) -> tuple[tuple[str, ...], ...]:
        """What is said of a pose in each take, as `halves` has them, in words ever fewer."""
        own = words_of(pose, self.refused)
        if self.beside is None:
            return (own,)
        other = words_of(self.beside.read(pose.pose), self.beside.take.refused)
        return (other, own) if self.beside.earlier else (own, other)

    def paintEvent(self, event: QPaintEvent) -> None:
        """What is told of the pose at the left, the picture, the strip."""
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.fillRect(self.rect(), QColor(theme.GROUND))
            if self.full_screen:
                paint_far(painter, self)
                return
            strip, beside = theme.px(_STRIP), round(_BESIDE * self.width())
            high = max(40, self.height() - strip)
            self.paint_pictures(painter, QRectF(beside, 0, self.width() - beside, high))
            self._paint_told(painter, QRectF(0, 0, beside - 2 * theme.STEP, high))
            self._paint_strip(painter, QRectF(0, self.height() - strip, self.width(), strip))

    def paint_pictures(self, painter: QPainter, room: QRectF) -> None:
        """The film; another take left of it, or over it, half seen through."""
        beside = self.beside
        if beside is None or beside.over:
            self._paint_picture(painter, room, self.image)
            if beside is not None and not beside.image.isNull():
                painter.setOpacity(0.5)
                self._paint_picture(painter, room, beside.image)
                painter.setOpacity(1.0)
            return
        takes = [(beside.image, beside.filmed), (self.image, self.taken)]
        if not beside.earlier:
            takes.reverse()
        for half, (image, filmed) in zip(self.halves(room), takes, strict=True):
            if self.full_screen:
                self._paint_picture(painter, half, image)
                continue
            painter.setFont(_font(self, theme.SMALL))
            painter.setPen(QColor(theme.DIM))
            line = 1.5 * theme.SMALL
            high = half.height() - line
            self._paint_picture(painter, QRectF(half.x(), half.y(), half.width(), high), image)
            foot = QRectF(half.x(), half.y() + high, half.width(), line)
            painter.drawText(foot, Qt.AlignmentFlag.AlignCenter, filmed)

    def _paint_picture(self, painter: QPainter, room: QRectF, image: QImage) -> None:
        if image.isNull():
            painter.setPen(QColor(theme.DIM))
            painter.setFont(_font(self, theme.BODY))
            wrap = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
            painter.drawText(room, int(wrap), self.note)
            return
        paint_fitted(painter, image, room, mirrored=self.mirrored)

    def _paint_told(self, painter: QPainter, room: QRectF) -> None:
        pose = self.current()
        if pose is None:
            return
        ms = "" if self.refused else in_ms(pose)
        large = theme.BODY if room.height() > theme.px(_LOW) else theme.SMALL
        lines = (
            (shown(pose.name), large, theme.NEXT),
            (_("not readable") if self.refused else in_words(pose), large, theme.INK),
            (ms, theme.SMALL, theme.DIM),
            (self._told_beside(pose), theme.SMALL, theme.HELD),
            (self.told.get(pose.pose, ""), theme.SMALL, theme.INK),
            (self.note, theme.SMALL, theme.DIM),
        )
        wrap = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignTop
        for text, size, colour in lines:
            if text:
                painter.setFont(_font(self, size))
                painter.setPen(QColor(colour))
                drawn = painter.drawText(room, int(wrap), text)
                room.setTop(drawn.bottom() + theme.STEP)

    def _told_beside(self, pose: PoseRead) -> str:
        if self.beside is None:
            return ""
        words = words_of(self.beside.read(pose.pose), self.beside.take.refused)[0]
        return f"{self.beside.filmed}: {words}"

    def _paint_strip(self, painter: QPainter, room: QRectF) -> None:
        def x_of(second: float) -> float:
            return room.left() + room.width() * (0.5 + (second - self.second) / _SPAN)

        base = room.top() + 0.42 * room.height()
        painter.setFont(_font(self, theme.SMALL))
        for beat in self.beats:
            if abs(beat.second - self.second) <= _SPAN / 2:
                x = x_of(beat.second)
                painter.setPen(QPen(QColor(theme.DIM), theme.px(1)))
                painter.drawLine(QPointF(x, base - theme.px(8)), QPointF(x, base))
                wide = QFontMetricsF(painter.font()).horizontalAdvance(shown(beat.said)) + 2
                if room.left() <= x - wide / 2 and x + wide / 2 <= room.right():
                    high = base - theme.px(8) - room.top()
                    box = QRectF(x - wide / 2, room.top(), wide, high)
                    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, shown(beat.said))
        painter.setPen(QPen(QColor(theme.LINE), theme.px(2)))
        painter.drawLine(QPointF(room.left(), base), QPointF(room.right(), base))
        self._paint_hits(painter, room, base, x_of)
        painter.setPen(QPen(QColor(theme.INK), theme.px(2)))
        middle = room.center().x()
        painter.drawLine(QPointF(middle, base), QPointF(middle, room.bottom()))

    def _paint_hits(
        self, painter: QPainter, room: QRectF, base: float, x_of: Callable[[float], float]
    ) -> None:
        size = theme.px(7)
        near = [p for p in self.poses if abs(p.hit - self.second) <= _SPAN / 2 + 1]
        for k, pose in enumerate(near):
            x = x_of(pose.hit)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.NEXT))
            diamond = [
                QPointF(x, base - size), QPointF(x + size, base),
                QPointF(x, base + size), QPointF(x - size, base),
            ]  # fmt: skip
            painter.drawPolygon(diamond)
            if pose.late is not None and not self.refused:
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(QPen(QColor(theme.HELD), theme.px(2)))
                painter.drawEllipse(QPointF(x_of(pose.hit + pose.late), base), size, size)
            after = x_of(near[k + 1].hit) if k + 1 < len(near) else room.right() + 200
            metrics = QFontMetricsF(painter.font())
            wide = max(0.0, min(after - theme.STEP, room.right()) - x)
            name = metrics.elidedText(shown(pose.name), Qt.TextElideMode.ElideRight, wide)
            painter.setPen(QColor(theme.INK))
            painter.drawText(QPointF(x - size, base + size + 1.2 * theme.SMALL), name)


def _font(widget: QWidget, pixels: float) -> QFont:
    font = widget.font()
    font.setPixelSize(round(pixels))
    return font
