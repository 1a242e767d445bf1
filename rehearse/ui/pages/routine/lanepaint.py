"""Paints the lane of poses: figures on a floor, their bars beneath, the cursor over all."""

from __future__ import annotations

import math
import statistics
from collections.abc import Set
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFontMetricsF,
    QPainter,
    QPen,
    QPixmap,
    QPolygonF,
)

from rehearse.routine.accent_pins import is_pinned
from rehearse.routine.pose import Pose
from rehearse.routine.timed_pose import TimedPose
from rehearse.ui import theme
from rehearse.ui.actions import key
from rehearse.ui.figure.move_thumbs import MoveThumbs
from rehearse.ui.figure.pose_thumbs import Thumbs, width_of
from rehearse.ui.fonts import face
from rehearse.ui.pages.routine.edit_steps import NO_MAP
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.ui.pages.routine.movepaint import MovePictures, paint_moves
from rehearse.ui.pages.routine.pose_timings import PoseTimings
from rehearse.ui.wave.scale import Scale
from rehearse.words import _, shown

#: Heights of a figure go in steps, so that few pictures are painted; less shows nothing.
STEP, SHORTEST = 16, 40
#: Room over the figures for their marks, and the height of a bar.
TOP, BAR = 2 * theme.STEP, 4 * theme.STEP
_APART = 18

NO_POSE_YET = _(
    "No pose yet: press {key_put} for one at the cursor, or Space and then {key_beat} on the beat.",
    key_put=key("put"),
    key_beat=key("beat"),
)

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


@dataclass
class LaneScene:
    """What the lane shows beside the poses themselves.

    Args:
        scale: the stretch in view. width, height: of the lane, in pixels. ratio: device pixels in
            one. marked: "fault" or "warning" by a pose's id. limit: seconds of the track at which
            the rules' time is over. offered: times and poses that might stand there.
        mirrored: as a mirror shows the figures. playing: whether the music plays.
    """

    scale: Scale = field(default_factory=lambda: Scale(0.0, 60.0, 1.0, 1.0))
    width: int = 1
    height: int = 1
    ratio: float = 1.0
    marked: dict[str, str] = field(default_factory=dict)
    limit: float | None = None
    offered: tuple[tuple[float, Pose], ...] = ()
    mirrored: bool = False
    playing: bool = False


def bar_top(scene: LaneScene) -> int:
    """Where the bars begin; the floor the figures stand on is just above."""
    return scene.height - theme.px(BAR) - theme.STEP


def figure_height(scene: LaneScene, timings: PoseTimings) -> int:
    """Height of the figures: as tall as the usual distance of two hits allows, 0 for none."""
    scale, tallest = scene.scale, bar_top(scene) - theme.px(TOP)
    hits = [s.hit for s in timings.visible(scale.start, scale.end)]
    if len(hits) < 2:
        return tallest
    room = statistics.median(b - a for a, b in pairwise(hits)) * scale.per_second
    if room < width_of(SHORTEST) * 0.5:
        return 0
    return int(min(tallest, max(SHORTEST, room * 1.1)) // STEP * STEP)


def paint(
    painter: QPainter, scene: LaneScene, timings: PoseTimings, thumbs: Thumbs, editor: EditorState,
    moves: MoveThumbs,
) -> None:  # fmt: skip
    """Paint the lane as it is now."""
    scale = scene.scale
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.fillRect(0, 0, scene.width, scene.height, _GROUND)
    if editor.ready:
        _eights(painter, scene, editor)
        _stage(painter, scene, editor)
    height, floor = figure_height(scene, timings), bar_top(scene) - 4
    painter.setPen(QPen(_LINE, 1))
    painter.drawLine(0, floor, scene.width, floor)
    half = width_of(height) / 2 / scale.per_second if height else 0.0
    timed_poses = timings.visible(scale.start - half, scale.end + half)
    ratio = scene.ratio
    for time, pose in scene.offered:
        if scale.start - half <= time <= scale.end + half:
            _offer(painter, scene, thumbs.picture(pose, height or SHORTEST, ratio=ratio), time)
    bars = _Bars(scene, editor)
    for before, span in zip((None, *timed_poses), timed_poses, strict=False):
        bars.add(span, clash=before is not None and before.end > span.start + 0.02)
    bars.paint(painter)
    pictures = MovePictures(moves, timings.known_moves, thumbs.folder)
    paint_moves(painter, scene, timings, timed_poses, editor, pictures)
    leaves = timings.way_off[0].start if timings.way_off else math.inf
    _names(painter, scene, timed_poses, bars.framed, leaves)
    if height:
        for span in timed_poses:
            _figure(painter, scene, span, thumbs, height)
    if not timings.all:
        _nothing_yet(painter, scene, floor, NO_POSE_YET if editor.ready else NO_MAP)
    x = round(scale.x(editor.cursor)) + 0.5
    painter.setPen(QPen(_INK, 2))
    painter.drawLine(QPointF(x, 0), QPointF(x, scene.height))


class _Bars:
    """Transitions, holds, hits and marks, gathered by colour: each colour is painted once."""

    def __init__(self, scene: LaneScene, editor: EditorState) -> None:
        # With a move chosen the light is the move's, not its pose's.
        chosen = () if editor.move else editor.chosen
        self._scene, self._chosen, self._now = scene, set(chosen), editor.cursor
        self._top = bar_top(scene)
        self._wedges: dict[bool, list[QPolygonF]] = {False: [], True: []}
        self._clashes: list[QPolygonF] = []
        self._holds: dict[str, list[QRectF]] = {"held": [], "chosen": [], "": []}
        self._hits: list[QLineF] = []
        self._coming: list[QLineF] = []
        self._marks: list[tuple[float, bool]] = []
        self._pins: list[QPointF] = []
        self._beatmap = editor.beatmap if editor.ready else None
        self.framed: set[str] = set()

    def add(self, span: TimedPose, *, clash: bool) -> None:
        """One more pose; `clash`: its transition begins before the last hold is over."""
        scene, scale = self._scene, self._scene.scale
        way = span.moves[-1].end if span.moves else span.start
        start, hit, end = scale.x(way), scale.x(span.hit), scale.x(span.end)
        top, bottom = self._top, self._top + theme.px(BAR)
        chosen = span.placed.id in self._chosen
        held = scene.playing and span.hit <= self._now < span.end
        # The transition rises to the hit, the hold stays level.
        wedge = QPolygonF([QPointF(start, bottom), QPointF(hit, top), QPointF(hit, bottom)])
        self._wedges[chosen].append(wedge)
        if clash:
            self._clashes.append(wedge)
        kind = "held" if held else "chosen" if chosen else ""
        if kind:
            self.framed.add(span.placed.id)
        self._holds[kind].append(QRectF(hit, top, max(1.5, end - hit), theme.px(BAR)))
        line = QLineF(hit, top - 4, hit, bottom + 4)
        first = span.hit > self._now and not self._coming
        (self._coming if first else self._hits).append(line)
        if self._beatmap is not None and is_pinned(span.placed, self._beatmap):
            self._pins.append(QPointF(hit, bottom + 3))
        if mark := scene.marked.get(span.placed.id):
            self._mark(hit, mark == "fault")

    def _mark(self, x: float, error: bool) -> None:
        """Marks that would lie on each other become one, a fault if one of them is."""
        if self._marks and x - self._marks[-1][0] < _APART:
            x, was = self._marks.pop()
            error = error or was
        self._marks.append((x, error))

    def paint(self, painter: QPainter) -> None:
        """Paint all of them."""
        painter.setPen(Qt.PenStyle.NoPen)
        # One by one: a path of many triangles takes the painter several times as long.
        for chosen, wedges in self._wedges.items():
            painter.setBrush(_INK if chosen else _LINE)
            for wedge in wedges:
                painter.drawPolygon(wedge)
        # A name may go on past the end of its bar: what is chosen or held has a frame, so that
        # the name has one ground and one colour throughout.
        painter.setBrush(_RAISED)
        for kind, colour in (("", None), ("chosen", _INK), ("held", _HELD)):
            if self._holds[kind]:  # the bindings crash on an empty list
                painter.setPen(QPen(colour, 3) if colour else Qt.PenStyle.NoPen)
                painter.drawRects(self._holds[kind])
        # A clash is told by hatching, then by colour.
        painter.setPen(QPen(_FAULT, 2))
        painter.setBrush(QBrush(_FAULT, Qt.BrushStyle.BDiagPattern))
        for wedge in self._clashes:
            painter.drawPolygon(wedge)
        for lines, colour in ((self._hits, _INK), (self._coming, _NEXT)):
            if lines:
                painter.setPen(QPen(colour, 3))
                painter.drawLines(lines)
        # A pin is told by its head under the hit.
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(_INK)
        for head in self._pins:
            painter.drawEllipse(head, 5, 5)
        # A full triangle is a fault, an empty one a warning, as in the list of checks.
        painter.setPen(QPen(_FAULT, 2))
        for x, error in self._marks:
            painter.setBrush(_FAULT if error else Qt.BrushStyle.NoBrush)
            roof = [QPointF(x - 7, 14), QPointF(x, 2), QPointF(x + 7, 14)]
            painter.drawPolygon(QPolygonF(roof))


def _eights(painter: QPainter, scene: LaneScene, editor: EditorState) -> None:
    beatmap, scale = editor.beatmap, scene.scale
    first, last = np.searchsorted(beatmap.times, (scale.start, scale.end))
    ones = [k for k in range(first, last) if beatmap.counts[k].count == 1]
    if len(ones) * 24 > scale.width:
        return
    painter.setPen(QPen(_RAISED, 2))
    for k in ones:
        x = round(scale.x(beatmap.beats[k]))
        painter.drawLine(x, 0, x, scene.height)


def _stage(painter: QPainter, scene: LaneScene, editor: EditorState) -> None:
    """What lies outside the part used on stage is hatched; past the limit a line says so."""
    scale, stage, height = scene.scale, editor.routine.stage, scene.height
    if stage is not None:
        hatch = QBrush(_LINE, Qt.BrushStyle.BDiagPattern)
        left, right = scale.x(stage.start), scale.x(stage.end)
        painter.fillRect(QRectF(0, 0, max(0.0, left), height), hatch)
        painter.fillRect(QRectF(right, 0, max(0.0, scale.width - right), height), hatch)
    if scene.limit is not None:
        x = scale.x(scene.limit)
        painter.setPen(QPen(_FAULT, 2, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(x, 0), QPointF(x, height))
        painter.setFont(face(theme.SMALL))
        word = (
            painter.fontMetrics()
            .boundingRect(_("limit"))
            .translated(round(x) + 6, 2 * theme.px(TOP))
        )
        painter.fillRect(word.adjusted(-2, 0, 2, 0), _GROUND)
        painter.drawText(QPointF(x + 6, 2 * theme.px(TOP)), _("limit"))


def _names(
    painter: QPainter,
    scene: LaneScene,
    timed_poses: tuple[TimedPose, ...],
    framed: Set[str],
    leaves: float,
) -> None:
    """Each name from its hit on, past the end of the hold up to where the next pose begins.

    A pose hit before the stretch in view has its name at the view's edge. Where a name goes on
    past a frame, the frame makes room for it. The last one ends where the way off begins, at
    `leaves` seconds.
    """
    scale, top = scene.scale, bar_top(scene)
    painter.setFont(face(theme.SMALL))
    metrics = QFontMetricsF(painter.font())
    ends = [scale.x(later.start) for later in timed_poses[1:]] + [scale.x(leaves)]
    for span, end in zip(timed_poses, ends, strict=False):
        begin = max(0.0, scale.x(span.hit))
        end = min(end, float(scene.width))
        if end - begin < 32:
            continue
        room = QRectF(begin + 6, top, end - begin - 8, theme.px(BAR))
        name = shown(span.placed.pose)
        if metrics.horizontalAdvance(name) > room.width():
            short = span.placed.say or shown(span.pose.say)
            name = metrics.elidedText(short, Qt.TextElideMode.ElideRight, room.width())
        wide, edge = metrics.horizontalAdvance(name), scale.x(span.end)
        if span.placed.id in framed and room.left() - 4 < edge < room.left() + wide + 4:
            middle = metrics.height() / 2 + 1
            gap = QRectF(edge - 2.5, room.center().y() - middle, 5, 2 * middle)
            painter.fillRect(gap, _RAISED)
        painter.setPen(_INK)
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, name)


def _nothing_yet(painter: QPainter, scene: LaneScene, floor: int, words: str) -> None:
    painter.setFont(face(theme.SMALL))
    painter.setPen(_INK)
    place = QRect(0, floor, scene.width, scene.height - floor)
    box = painter.fontMetrics().boundingRect(place, Qt.AlignmentFlag.AlignCenter, words)
    painter.fillRect(box.adjusted(-8, 0, 8, 0), _GROUND)
    painter.drawText(place, Qt.AlignmentFlag.AlignCenter, words)


def _figure(
    painter: QPainter, scene: LaneScene, span: TimedPose, thumbs: Thumbs, height: int
) -> None:
    picture = thumbs.picture(
        span.pose,
        height,
        facing=span.placed.facing,
        level=span.placed.level,
        mirrored=scene.mirrored,
        ratio=scene.ratio,
    )
    x = scene.scale.x(span.hit) - width_of(height) / 2
    painter.drawPixmap(QPointF(x, bar_top(scene) - 4 - height), picture)


def _offer(painter: QPainter, scene: LaneScene, picture: QPixmap, time: float) -> None:
    """A pose that might stand here: faint, on a dashed line."""
    x, floor = scene.scale.x(time), bar_top(scene) - 4
    size = picture.deviceIndependentSize()
    painter.setOpacity(0.45)
    painter.drawPixmap(QPointF(x - size.width() / 2, floor - size.height()), picture)
    painter.setOpacity(1.0)
    painter.setPen(QPen(_DIM, 2, Qt.PenStyle.DashLine))
    painter.drawLine(QPointF(x, floor), QPointF(x, floor + theme.px(BAR)))
