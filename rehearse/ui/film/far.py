"""The film on the whole screen, read from three metres: the picture, and beneath it two lines.

Letters span what the stage display's do; what has no room in that size is said in fewer words.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from rehearse.film.film_text import in_few_words, in_words
from rehearse.practice.takelog import PoseRead
from rehearse.ui import theme
from rehearse.ui.stage.fit import fit, fit_whole
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.stage_options import GLANCE, ViewingDistance
from rehearse.ui.stage.text_cache import advance, draw_lines
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.ui.film.view import FilmView

#: Metres from which it is read at most: whoever studies a film stands nearer than who dances.
FARTHEST = 3.0
#: Height of a line in cap heights, of the marks beneath in a line's, and seconds that they span.
_LINE, _MARKS, _SPAN = 1.5, 0.5, 6.0


def cap_of(viewing: ViewingDistance) -> float:
    """Pixels of a capital that is read at a glance from where a film is studied."""
    near = ViewingDistance(min(viewing.distance, FARTHEST), viewing.pixel_mm)
    return near.pixels(GLANCE)


def paint_far(painter: QPainter, view: FilmView) -> None:
    """Paint the whole screen."""
    whole = QRectF(view.rect())
    cap = min(cap_of(view.viewing), 0.16 * whole.height())
    line = _LINE * cap
    band = QRectF(whole)
    band.setTop(whole.bottom() - (2 + _MARKS) * line)
    picture = QRectF(whole)
    picture.setBottom(band.top())
    view.paint_pictures(painter, picture)
    pose = view.current()
    if pose is not None:
        count = view.count_at(view.second)
        wide = advance("88") * cap
        room = Box(band.x() + cap / 2, band.y() + 0.25 * cap, band.width() - wide - 2 * cap, cap)
        paint_line(painter, room, (pose.name,), cap, theme.NEXT)
        place = Box(band.right() - wide - cap / 2, room.y, wide, cap)
        paint_line(painter, place, (count,), cap, theme.INK)
        _verdicts(painter, view, pose, Box(room.x, room.y + line, band.width() - cap, cap), cap)
    _marks(painter, view, QRectF(band.x(), band.bottom() - _MARKS * line, band.width(), 0))


def _verdicts(painter: QPainter, view: FilmView, pose: PoseRead, room: Box, cap: float) -> None:
    """What became of the pose; of two takes each beneath its picture."""
    halves = view.halves(QRectF(room.x, room.y, room.width, room.height))
    for half, words in zip(halves, view.verdicts(pose), strict=True):
        place = Box(half.x(), half.y(), half.width() - cap / 2, half.height())
        paint_line(painter, place, words, cap, theme.INK)


def words_of(pose: PoseRead | None, refused: str) -> tuple[str, ...]:
    """What is said of a pose, in words ever fewer."""
    if pose is None:
        return (_("not in this take"),)
    return (_("not readable"),) if refused else (in_words(pose), in_few_words(pose))


def paint_line(
    painter: QPainter, place: Box, texts: Sequence[str], cap: float, colour: str
) -> None:
    """One line with capitals of `cap` pixels; `texts` say the same in words ever fewer."""
    sizes = {"least": cap, "most": cap}
    room = place.width, 1.4 * cap
    fitted = fit(texts, *room, **sizes, advance=advance, lines=1)
    fitted = fitted or fit_whole(texts[-1:], *room, **sizes, advance=advance, lines=1)
    draw_lines(painter, place, fitted, QColor(colour))


def _marks(painter: QPainter, view: FilmView, line: QRectF) -> None:
    """Hits as diamonds, arrivals as rings, on a line that runs past the middle."""
    size, base = theme.px(8), line.y() + theme.px(12)
    painter.setPen(QPen(QColor(theme.LINE), theme.px(2)))
    painter.drawLine(QPointF(line.left(), base), QPointF(line.right(), base))
    for pose in view.poses:
        x = line.center().x() + line.width() * (pose.hit - view.second) / _SPAN
        painter.setPen(QPen(QColor(theme.NEXT), 1))
        painter.setBrush(QColor(theme.NEXT))
        corners = QPointF(0, -size), QPointF(size, 0), QPointF(0, size), QPointF(-size, 0)
        painter.drawPolygon(QPolygonF([QPointF(x, base) + corner for corner in corners]))
        if pose.late is not None and not view.refused:
            painter.setPen(QPen(QColor(theme.HELD), theme.px(2)))
            painter.setBrush(QColor(0, 0, 0, 0))
            at = x + line.width() * pose.late / _SPAN
            painter.drawEllipse(QPointF(at, base), size, size)
    painter.setPen(QPen(QColor(theme.INK), theme.px(2)))
    middle = line.center().x()
    painter.drawLine(QPointF(middle, base - size), QPointF(middle, base + size))
