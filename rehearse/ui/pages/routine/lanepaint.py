"""Paints the lane of poses: figures on a floor, their bars beneath, the cursor over all."""

from __future__ import annotations

import statistics
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPen, QPixmap, QPolygonF

from rehearse.ui import theme
from rehearse.ui.figure.thumbs import Thumbs, width_of
from rehearse.ui.fonts import face
from rehearse.ui.pages.routine.choice import Choice
from rehearse.ui.pages.routine.spans import Span, Spans

if TYPE_CHECKING:
    from rehearse.ui.pages.routine.lane import PoseLane

#: Heights of a figure go in steps, so that few pictures are painted; less shows nothing.
STEP, SHORTEST = 16, 40
#: Room over the figures for their marks, and the height of a bar.
TOP, BAR = 2 * theme.STEP, 4 * theme.STEP

_INK, _DIM, _LINE, _GROUND, _RAISED, _NEXT, _HELD, _FAULT = (
    QColor(c)
    for c in (
        theme.INK,
        theme.DIM,
        theme.LINE,
        theme.GROUND,
        theme.RAISED,
        theme.NEXT,
        theme.HELD,
        theme.FAULT,
    )
)


def bar_top(lane: PoseLane) -> int:
    """Where the bars begin; the floor the figures stand on is just above."""
    return lane.height() - BAR - theme.STEP


def figure_height(lane: PoseLane, spans: Spans) -> int:
    """Height of the figures: as tall as the usual distance of two hits allows, 0 for none."""
    scale, tallest = lane.scale, bar_top(lane) - TOP
    hits = [s.hit for s in spans.visible(scale.start, scale.end)]
    if len(hits) < 2:
        return tallest
    room = statistics.median(b - a for a, b in pairwise(hits)) * scale.per_second
    if room < width_of(SHORTEST) * 0.5:
        return 0
    return int(min(tallest, max(SHORTEST, room * 1.1)) // STEP * STEP)


def paint(painter: QPainter, lane: PoseLane, spans: Spans, thumbs: Thumbs, choice: Choice) -> None:
    """Paint the lane as it is now."""
    scale = lane.scale
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.fillRect(lane.rect(), _GROUND)
    if choice.ready:
        _eights(painter, lane, choice)
    height, floor = figure_height(lane, spans), bar_top(lane) - 4
    painter.setPen(QPen(_LINE, 1))
    painter.drawLine(0, floor, lane.width(), floor)
    half = width_of(height) / 2 / scale.per_second if height else 0.0
    shown = spans.visible(scale.start - half, scale.end + half)
    ratio = lane.devicePixelRatioF()
    now = choice.cursor
    coming = next((s for s in shown if s.hit > now), None)
    for time, pose in lane.offered:
        if scale.start - half <= time <= scale.end + half:
            _offer(painter, lane, thumbs.picture(pose, height or SHORTEST, ratio=ratio), time)
    ends = [scale.x(later.start) for later in shown[1:]] + [float(lane.width())]
    for before, span, room in zip((None, *shown), shown, ends, strict=False):
        clash = before is not None and before.end > span.start + 0.02
        _bar(
            painter,
            lane,
            span,
            choice,
            room,
            clash=clash,
            held=lane.playing and span.hit <= now < span.end,
        )
        if height:
            _figure(painter, lane, span, thumbs, height)
        _hit(painter, scale.x(span.hit), floor, _NEXT if span is coming else _INK)
        if mark := lane.marked.get(span.placed.id):
            _mark(painter, scale.x(span.hit), mark)
    if choice.ready and not spans.all:
        painter.setFont(face(theme.SMALL))
        painter.setPen(_INK)
        words = "No pose yet: press P for one at the cursor, or Space and then B on the beat."
        place = lane.rect().adjusted(0, floor, 0, 0)
        box = painter.fontMetrics().boundingRect(place, Qt.AlignmentFlag.AlignCenter, words)
        painter.fillRect(box.adjusted(-8, 0, 8, 0), _GROUND)
        painter.drawText(place, Qt.AlignmentFlag.AlignCenter, words)
    x = round(scale.x(now)) + 0.5
    painter.setPen(QPen(_INK, 2))
    painter.drawLine(QPointF(x, 0), QPointF(x, lane.height()))


def _eights(painter: QPainter, lane: PoseLane, choice: Choice) -> None:
    beatmap, scale = choice.beatmap, lane.scale
    first, last = np.searchsorted(beatmap.times, (scale.start, scale.end))
    ones = [k for k in range(first, last) if beatmap.counts[k].count == 1]
    if len(ones) * 24 > scale.width:
        return
    painter.setPen(QPen(_RAISED, 2))
    for k in ones:
        x = round(scale.x(beatmap.beats[k]))
        painter.drawLine(x, 0, x, lane.height())


def _bar(
    painter: QPainter,
    lane: PoseLane,
    span: Span,
    choice: Choice,
    room: float,
    *,
    clash: bool,
    held: bool,
) -> None:
    bar, hit = lane.bar(span), lane.scale.x(span.hit)
    chosen = span.placed.id in choice.chosen
    fill = _HELD if held else _INK if chosen else _RAISED
    painter.setPen(Qt.PenStyle.NoPen)
    # The transition rises to the hit, the hold stays level.
    wedge = QPolygonF([bar.bottomLeft(), QPointF(hit, bar.top()), QPointF(hit, bar.bottom())])
    painter.setBrush(_INK if chosen else _LINE)
    painter.drawPolygon(wedge)
    hold = QRectF(hit, bar.top(), max(1.5, bar.right() - hit), bar.height())
    painter.setBrush(fill)
    painter.drawRect(hold)
    if clash:
        # Told by hatching, then by colour: this transition begins before the last hold is over.
        painter.setPen(QPen(_FAULT, 2))
        painter.setBrush(QBrush(_FAULT, Qt.BrushStyle.BDiagPattern))
        painter.drawPolygon(wedge)
    _name(painter, span.placed.pose, hold, room, inverse=chosen or held)


def _name(painter: QPainter, name: str, hold: QRectF, end: float, *, inverse: bool) -> None:
    """The name from the hit on, past the end of the hold up to where the next pose begins."""
    room = QRectF(hold.left() + 6, hold.top(), end - hold.left() - 8, hold.height())
    if room.width() < 24:
        return
    painter.setFont(face(theme.SMALL))
    metrics = QFontMetricsF(painter.font())
    text = metrics.elidedText(name, Qt.TextElideMode.ElideRight, room.width())
    outside = QRectF(hold.right(), hold.top(), max(0.0, end - hold.right()), hold.height())
    for clip, ink in ((hold, _GROUND if inverse else _INK), (outside, _INK)):
        painter.save()
        painter.setClipRect(clip, Qt.ClipOperation.IntersectClip)
        painter.setPen(ink)
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, text)
        painter.restore()


def _figure(painter: QPainter, lane: PoseLane, span: Span, thumbs: Thumbs, height: int) -> None:
    picture = thumbs.picture(
        span.pose,
        height,
        facing=span.placed.facing,
        level=span.placed.level,
        mirrored=lane.mirrored,
        ratio=lane.devicePixelRatioF(),
    )
    x = lane.scale.x(span.hit) - width_of(height) / 2
    painter.drawPixmap(QPointF(x, bar_top(lane) - 4 - height), picture)


def _hit(painter: QPainter, x: float, floor: int, colour: QColor) -> None:
    painter.setPen(QPen(colour, 3))
    painter.drawLine(QPointF(x, floor), QPointF(x, floor + BAR + 8))


def _mark(painter: QPainter, x: float, mark: str) -> None:
    # A full triangle is a fault, an empty one a warning, as in the list of checks.
    painter.setPen(QPen(_FAULT, 2))
    painter.setBrush(_FAULT if mark == "fault" else Qt.BrushStyle.NoBrush)
    top = 2.0
    shape = [QPointF(x - 7, top + 12), QPointF(x, top), QPointF(x + 7, top + 12)]
    painter.drawPolygon(QPolygonF(shape))


def _offer(painter: QPainter, lane: PoseLane, picture: QPixmap, time: float) -> None:
    """A pose that might stand here: faint, on a dashed line."""
    x, floor = lane.scale.x(time), bar_top(lane) - 4
    size = picture.deviceIndependentSize()
    painter.setOpacity(0.45)
    painter.drawPixmap(QPointF(x - size.width() / 2, floor - size.height()), picture)
    painter.setOpacity(1.0)
    painter.setPen(QPen(_DIM, 2, Qt.PenStyle.DashLine))
    painter.drawLine(QPointF(x, floor), QPointF(x, floor + BAR))
