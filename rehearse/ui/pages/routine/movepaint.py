"""Paints what lies between the poses of the lane: moves with their names, turns, hits once more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from rehearse.routine.model import Side
from rehearse.routine.moves import MoveCatalogue
from rehearse.routine.moving import Timed
from rehearse.routine.timed_pose import TimedPose
from rehearse.ui import theme
from rehearse.ui.figure.move_thumbs import MoveThumbs
from rehearse.ui.fonts import face
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.ui.pages.routine.pose_timings import PoseTimings
from rehearse.words import shown

if TYPE_CHECKING:
    from rehearse.ui.pages.routine.lanepaint import LaneScene

#: Height of a bar, as the lane's own.
_BAR = 4 * theme.STEP
#: Narrower than this, in pixels, a move has no name.
_NAMED = 28
_INK, _DIM, _LINE, _GROUND, _NEXT = (
    QColor(c) for c in (theme.INK, theme.DIM, theme.LINE, theme.GROUND, theme.NEXT)
)


@dataclass(frozen=True)
class MovePictures:
    """Where the pictures of moves come from; photos of own moves lie in `folder`."""

    thumbs: MoveThumbs
    catalogue: MoveCatalogue
    folder: Path | None


def paint_moves(
    painter: QPainter, scene: LaneScene, timings: PoseTimings, timed_poses: Sequence[TimedPose],
    editor: EditorState, pictures: MovePictures,
) -> None:  # fmt: skip
    """Paint the moves of the poses in view, their turns and repeated hits, and the way off."""
    top = scene.height - theme.px(_BAR) - theme.STEP
    moves = [timed for span in timed_poses for timed in span.moves]
    moves += [t for t in timings.way_off if t.start < scene.scale.end and t.end > scene.scale.start]
    painter.setFont(face(theme.SMALL))
    metrics = QFontMetricsF(painter.font())
    for timed in moves:
        chosen = timed.move.id == editor.move
        aside = 0.0 if chosen else _picture(painter, scene, timed, top, pictures)
        _move(painter, scene, timed, top, metrics, chosen=chosen, aside=aside)
    ticks = [
        QLineF(x, top - 10, x, top - 1)
        for span in timed_poses
        for x in (scene.scale.x(time) for time in span.again)
    ]
    if ticks:  # the bindings crash on an empty list
        painter.setPen(QPen(_INK, 3))
        painter.drawLines(ticks)
    for span in timed_poses:
        if span.placed.turn is not None:
            _turn(painter, QPointF(scene.scale.x(span.hit) - 14, top - 12), span.placed.turn)


def _move(
    painter: QPainter, scene: LaneScene, timed: Timed, top: float, metrics: QFontMetricsF, *,
    chosen: bool, aside: float = 0.0,
) -> None:  # fmt: skip
    left, right = scene.scale.x(timed.start), scene.scale.x(timed.end)
    box = QRectF(left + 1, top + 1, max(1.0, right - left - 2), theme.px(_BAR) - 2)
    painter.setPen(QPen(_INK if chosen else _DIM, 1))
    painter.setBrush(_INK if chosen else Qt.BrushStyle.NoBrush if aside else _GROUND)
    painter.drawRect(box)
    if right - left - aside < _NAMED:
        return
    move = timed.move
    words = " ".join(shown(p) for p in (move.move, move.side, move.direction) if p)
    seen = box.intersected(QRectF(0, 0, scene.width, scene.height))
    room = seen.adjusted(5 + max(0.0, aside + box.left() - seen.left()), 0, -3, 0)
    if room.width() < _NAMED - 8:
        return
    painter.setPen(_GROUND if chosen else _INK)
    text = metrics.elidedText(words, Qt.TextElideMode.ElideRight, room.width())
    painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, text)


def _picture(
    painter: QPainter, scene: LaneScene, timed: Timed, top: float, pictures: MovePictures
) -> float:
    """Paint the move's picture at the head of its bar; the room it takes, 0 where there is none."""
    left, right = scene.scale.x(timed.start), scene.scale.x(timed.end)
    size = QSize(theme.px(_BAR) - 4, theme.px(_BAR) - 4)
    if right - left < size.width() + 6:
        return 0.0
    move = timed.move
    try:
        kind = pictures.catalogue.find(move.move)
    except KeyError:
        return 0.0
    picture = pictures.thumbs.picture(
        kind, move.side, move.direction, size, ratio=scene.ratio, folder=pictures.folder
    )
    if picture is None:
        return 0.0
    room = picture.deviceIndependentSize()
    painter.fillRect(QRectF(left + 1, top + 1, right - left - 2, theme.px(_BAR) - 2), _GROUND)
    painter.drawPixmap(QPointF(left + 3 + (size.width() - room.width()) / 2, top + 2), picture)
    return size.width() + 2.0


def _turn(painter: QPainter, middle: QPointF, turn: Side) -> None:
    """Which way round, seen from above: to the left is against the clock."""
    radius = 6.0
    box = QRectF(middle.x() - radius, middle.y() - radius, 2 * radius, 2 * radius)
    painter.setPen(QPen(_INK, 2))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    way = -1 if turn is Side.RIGHT else 1
    # Three quarters of a circle that end at its bottom, and the head there.
    painter.drawArc(box, (0 if way > 0 else 180) * 16, way * 270 * 16)
    end = middle + QPointF(0, radius)
    head = [end + QPointF(0, -4), end + QPointF(6 * way, 0), end + QPointF(0, 4)]
    painter.setBrush(_INK)
    painter.drawPolygon(QPolygonF(head))
