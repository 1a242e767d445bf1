"""Look, then again: right after a pass each of its hits in turn, large, early or late.

Read from three metres; goes on by itself, so that nobody has to walk to the laptop. What reads and
paints films is imported when there is one: the page is there before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QColor, QImage, QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QWidget

from rehearse.practice.takelog import PoseRead
from rehearse.ui import theme
from rehearse.ui.film.feeder import Feeder
from rehearse.ui.film.fitted import paint_fitted
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.stage_options import ViewingDistance
from rehearse.words import _, shown

#: Milliseconds that each hit is shown.
SHOWN = 3000
#: Height of a line in cap heights; seconds early or late at the ends of the mark's line.
_LINE, _SPAN = 1.5, 0.5
#: Part of the height that capitals take at most; pixels of width asked for at most.
_MOST, _WIDEST = 0.11, 1280
#: Seconds from a hit within which a picture is that of the hit.
_NEAR = 0.5


@dataclass(frozen=True)
class LookedAt:
    """One hit: the pose's name, the film's second of its hit, and what was read; None: not yet."""

    name: str
    film: float
    read: PoseRead | None = None


class LookView(QWidget):
    """Shows a hit and goes on to the next.

    Attributes:
        on: there is something to look at. viewing: from where it is read.
        note: what is told at the foot instead of the keys, such as how far the reading is.

    Signals:
        ended: all were shown.
    """

    ended = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName(_("Look, then again"))
        self.on, self.viewing, self.note = False, ViewingDistance(), ""
        self.hits: Sequence[LookedAt] = ()
        self.at, self.over = 0, False
        self.image = QImage()
        self._refused, self._by_clock = "", False
        self._feeder: Feeder | None = None
        self._turn = QTimer(self, singleShot=True, interval=SHOWN)
        self._turn.timeout.connect(self._go_on)

    def begin(self, film: Path, hits: Sequence[LookedAt]) -> None:
        """Show the hits of a pass, the first one until they are read."""
        self.close_film()
        self.on, self.over, self.hits, self.at = True, False, hits, 0
        self._feeder = Feeder(film)
        self._feeder.shown.connect(self._shown, Qt.ConnectionType.QueuedConnection)
        self._show()

    def tell(self, note: str) -> None:
        """Say how far the reading is, or why there is none."""
        if note != self.note:
            self.note = note
            self.update()

    def take(self, reads: Sequence[PoseRead], refused: str = "", *, by_clock: bool = False) -> None:
        """The readings are there: each hit in turn, from the first.

        Args:
            refused: why none of them can be read. by_clock: no sound helped, which is told.
        """
        self.hits = [
            LookedAt(hit.name, hit.film, read) for hit, read in zip(self.hits, reads, strict=True)
        ]
        self._refused, self._by_clock, self.at, self.note = refused, by_clock, 0, ""
        self._show()
        self._turn.start()

    def step(self, by: int) -> None:
        """Another hit, as long as it is looked at."""
        if self.hits:
            self.at = min(len(self.hits) - 1, max(0, self.at + by))
            self._show()
            if not self.over and self.hits[0].read is not None:
                self._turn.start()

    @Slot()
    def _go_on(self) -> None:
        if self.at + 1 < len(self.hits):
            self.at += 1
            self._show()
            self._turn.start()
        else:
            self.over = True
            self.update()
            self.ended.emit()

    def close_film(self) -> None:
        """Nothing is looked at any more."""
        self._turn.stop()
        self.on, self.hits, self.image, self.note, self._refused = False, (), QImage(), "", ""
        if self._feeder is not None:
            self._feeder.close()
            self._feeder = None

    def words(self) -> tuple[str, ...]:
        """What is said of the hit that is shown, in words ever fewer."""
        from rehearse.film.film_text import in_few_words, in_words

        read = self.hits[self.at].read if self.hits else None
        if read is None:
            return (self.note,) if self.note else ("",)
        if self._refused:
            return (_("not readable"),)
        few = in_few_words(read)
        if self._by_clock and read.doubt is not None and read.late is not None:
            words = {"words": in_words(read), "doubt": 1000 * read.doubt}
            return (_("{words}, by the clock ± {doubt:.0f} ms", **words), in_words(read), few)
        return in_words(read), few

    def _show(self) -> None:
        if self._feeder is not None and self.hits:
            width = min(_WIDEST, max(160, round(self.width() * self.devicePixelRatioF())))
            self._feeder.ask(self.hits[self.at].film, width)
            self.setAccessibleDescription(f"{shown(self.hits[self.at].name)}: {self.words()[0]}")
        self.update()

    @Slot(float, QImage)
    def _shown(self, own: float, image: QImage) -> None:
        if self.hits and abs(own - self.hits[self.at].film) <= _NEAR:  # not of the hit before
            self.image = image
            self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another size wants another picture."""
        super().resizeEvent(event)
        self._show()

    def paintEvent(self, event: QPaintEvent) -> None:
        """The picture at the hit; beneath it name and verdict, and where on the counts it was."""
        from rehearse.ui.film.far import cap_of

        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.fillRect(self.rect(), QColor(theme.GROUND))
            if not self.hits:
                return
            whole = QRectF(self.rect())
            cap = min(cap_of(self.viewing), _MOST * whole.height())
            line = _LINE * cap
            band = QRectF(whole)
            band.setTop(whole.bottom() - 2.6 * line)
            picture = QRectF(whole)
            picture.setBottom(band.top())
            paint_fitted(painter, self.image, picture)
            self._paint_words(painter, band, cap)
            mark = QRectF(band.x(), band.bottom() - 0.4 * line, band.width(), 0)
            _paint_mark(painter, mark, self.hits[self.at].read, bool(self._refused))

    def _paint_words(self, painter: QPainter, band: QRectF, cap: float) -> None:
        from rehearse.ui.film.far import paint_line

        hit, edge, line = self.hits[self.at], cap / 2, _LINE * cap
        place = f"{self.at + 1}/{len(self.hits)}"
        wide = (0.8 + 0.75 * len(place)) * cap
        room = Box(band.x() + edge, band.y() + 0.25 * cap, band.width() - wide - 2 * edge, cap)
        paint_line(painter, room, (shown(hit.name),), cap, theme.NEXT)
        number = Box(band.right() - wide, room.y, wide, cap)
        paint_line(painter, number, (place,), cap, theme.INK)
        told = Box(room.x, room.y + line, band.width() - 2 * edge, cap)
        if words := [words for words in self.words() if words]:
            paint_line(painter, told, words, cap, theme.INK)


def _paint_mark(painter: QPainter, line: QRectF, read: PoseRead | None, refused: bool) -> None:
    """The hit as a diamond in the middle, the arrival as a ring left (early) or right of it."""
    size, middle = theme.px(9), line.center()
    painter.setPen(QPen(QColor(theme.LINE), theme.px(2)))
    painter.drawLine(QPointF(line.left(), middle.y()), QPointF(line.right(), middle.y()))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.NEXT))
    corners = QPointF(0, -size), QPointF(size, 0), QPointF(0, size), QPointF(-size, 0)
    painter.drawPolygon(QPolygonF([middle + corner for corner in corners]))
    if read is not None and read.late is not None and not refused:
        late = min(_SPAN, max(-_SPAN, read.late)) / (2 * _SPAN)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(theme.HELD), theme.px(3)))
        painter.drawEllipse(
            QPointF(middle.x() + 0.96 * late * line.width(), middle.y()), size, size
        )
