"""The lane of poses under the waveform: every pose stands on its hit, and can be dragged.

Gestures: click selects (with Shift: up to there), a drag moves the hit, a drag of the bar's ends
changes transition or hold, a double click on a pose asks for another, on an empty place for a new
one; a click on an empty place puts the cursor there. A move is chosen, dragged among its
neighbours, made longer at its end and exchanged in the same ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count

from PySide6.QtCore import QEvent, QPointF, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from rehearse.routine.moving import Timed
from rehearse.routine.timed_pose import TimedPose
from rehearse.ui import theme
from rehearse.ui.figure.move_thumbs import MoveThumbs
from rehearse.ui.figure.pose_thumbs import Thumbs
from rehearse.ui.pages.routine import lanepaint
from rehearse.ui.pages.routine.choreography import Choreography
from rehearse.ui.pages.routine.notes import keeps
from rehearse.ui.pages.routine.pose_timings import PoseTimings
from rehearse.ui.wave.scale import Scale
from rehearse.words import _

#: Pixels the pointer must go before a press is a drag, and within which an end is caught.
DRAG, NEAR = 4, 7

_numbers = count(1)


@dataclass
class _Drag:
    name: str
    part: str
    offset: float
    merge: str
    x: float
    began: bool = False


class PoseLane(QWidget):
    """Poses over time.

    Signals:
        placeWanted: a new pose at this time. exchangeWanted: another pose for this id.
        moveWanted: another move for the chosen one.
        sought: the cursor at this time. zoomed: wheel steps and the time under the pointer.
    """

    placeWanted = Signal(float)
    exchangeWanted = Signal(str)
    moveWanted = Signal()
    sought = Signal(float)
    zoomed = Signal(float, float)
    scrolled = Signal(float)

    def __init__(self, choreography: Choreography, timings: PoseTimings, thumbs: Thumbs) -> None:
        super().__init__()
        self._choreography, self._editor = choreography, choreography.editor
        self._timings, self._thumbs = timings, thumbs
        self.scene = lanepaint.LaneScene()
        self._drag: _Drag | None = None
        self._cursor_x, self._around = -10, ("", "")
        self._moves = MoveThumbs(self)
        self._moves.painted.connect(self.update)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(_("Poses over the music"))
        self._editor.cursorChanged.connect(self._move_cursor)
        self._editor.chosenChanged.connect(self.update)
        self._editor.chosenChanged.connect(self._tell)

    def sizeHint(self) -> QSize:
        """Tall enough for a figure, its bar and its name."""
        return QSize(600, theme.px(22 * theme.STEP))

    @property
    def drags(self) -> bool:
        """Whether a pose is being dragged."""
        return self._drag is not None

    @property
    def scale(self) -> Scale:
        """The stretch in view."""
        return self.scene.scale

    def show_scale(self, scale: Scale) -> None:
        """Show the stretch the waveform above shows."""
        self.scene.scale = scale
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The scene is as large as the lane."""
        self.scene.width, self.scene.height = self.width(), self.height()
        super().resizeEvent(event)

    def bar(self, span: TimedPose) -> QRectF:
        """Where a pose's bar lies, from the begin of its transition to the end of its hold."""
        left, right = self.scale.x(span.start), self.scale.x(span.end)
        return QRectF(
            left, lanepaint.bar_top(self.scene), max(2.0, right - left), theme.px(lanepaint.BAR)
        )

    def part_at(self, point: QPointF) -> tuple[TimedPose | None, str]:
        """The pose under a point and what of it: "start", "end" or "body"."""
        time = self.scale.time(point.x())
        margin = NEAR / self.scale.per_second
        best: tuple[float, TimedPose | None, str] = (1e9, None, "")
        for span in self._timings.visible(time - 2.0, time + 2.0):
            if point.y() >= lanepaint.bar_top(self.scene) - 4:
                for part, edge in (("start", span.start), ("end", span.end)):
                    if abs(edge - time) <= margin and abs(edge - time) < best[0]:
                        best = (abs(edge - time), span, part)
                if span.start <= time <= span.end and best[1] is None:
                    best = (margin, span, "body")
            else:
                half = lanepaint.figure_height(self.scene, self._timings) * 0.33
                far = abs(self.scale.x(span.hit) - point.x())
                if far <= half and far < best[0]:
                    best = (far, span, "body")
        return best[1], best[2]

    def move_at(self, point: QPointF) -> tuple[str, Timed, str] | None:
        """The move under a point, with its pose's id and what of it: "border" or "move"."""
        top, time = lanepaint.bar_top(self.scene), self.scale.time(point.x())
        if not top <= point.y() <= top + theme.px(lanepaint.BAR):
            return None
        margin = NEAR / self.scale.per_second
        moves = [
            (s.placed.id, t) for s in self._timings.visible(time - 2, time + 2) for t in s.moves
        ]
        moves += [("", timed) for timed in self._timings.way_off]
        for pose_id, timed in moves:
            if abs(timed.end - time) <= min(margin, (timed.end - timed.start) / 3):
                return pose_id, timed, "border"
        inside = (m for m in moves if m[1].start + margin < time < m[1].end)
        return next(((*m, "move") for m in inside), None)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint what is visible."""
        with QPainter(self) as painter:
            painter.setClipRect(event.rect())
            self.scene.ratio = self.devicePixelRatioF()
            lanepaint.paint(
                painter, self.scene, self._timings, self._thumbs, self._editor, self._moves
            )

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Select, or put the cursor there; a drag may follow."""
        if event.button() is not Qt.MouseButton.LeftButton:
            return
        time = self.scale.time(event.position().x())
        if caught := self.move_at(event.position()):
            pose_id, timed, part = caught
            self._editor.select_move(timed.move.id, pose_id)
            offset = time - timed.end if part == "border" else 0.0
            merge = f"drag {next(_numbers)}"
            self._drag = _Drag(timed.move.id, part, offset, merge, event.position().x())
            return
        span, part = self.part_at(event.position())
        if span is None:
            self._editor.select("")
            self.sought.emit(time)
            return
        extend = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if span.placed.id in self._editor.chosen and not extend:
            self._editor.hold_on(span.placed.id)
        else:
            self._editor.select(span.placed.id, extend=extend)
        edge = {"start": span.start, "end": span.end}.get(part, span.hit)
        merge = f"drag {next(_numbers)}"
        self._drag = _Drag(span.placed.id, part, time - edge, merge, event.position().x())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go on with the drag, else show what a press would catch."""
        drag = self._drag
        if drag is None:
            self._show_catch(event.position())
            return
        if not drag.began and abs(event.position().x() - drag.x) < DRAG:
            return
        drag.began = True
        time = self.scale.time(event.position().x()) - drag.offset
        do = self._choreography
        act = {"start": do.set_start, "end": do.set_end, "border": do.set_border}
        act["move"] = do.drag_move
        act.get(drag.part, do.move_together)(drag.name, time, drag.merge)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """The drag is done; a press on one of several chosen poses that did not move takes it."""
        drag, self._drag = self._drag, None
        shift = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        moves = drag is not None and drag.part in ("border", "move")
        if drag is not None and not drag.began and not shift and not moves:
            self._editor.select(drag.name)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Ask for another pose, or for a new one."""
        self._drag = None
        if self.move_at(event.position()):
            self.moveWanted.emit()
            return
        span, _unused = self.part_at(event.position())
        if span is not None:
            self.exchangeWanted.emit(span.placed.id)
        else:
            self.placeWanted.emit(self.scale.time(event.position().x()))

    def event(self, event: QEvent) -> bool:
        """While a pose is dragged, Escape is the drag's."""
        drags = self._drag is not None
        return (drags and keeps(event, (Qt.Key.Key_Escape,))) or super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape takes a drag back."""
        if event.key() == Qt.Key.Key_Escape and self._drag is not None:
            began, self._drag = self._drag.began, None
            if began:
                self._choreography.take_back()
            return
        super().keyPressEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the pointer; sideways or with Shift: scroll."""
        steps, sideways = event.angleDelta().y() / 120, event.angleDelta().x() / 120
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier or sideways:
            self.scrolled.emit(-(sideways or steps))
        else:
            self.zoomed.emit(steps, self.scale.time(event.position().x()))
        event.accept()

    def leaveEvent(self, event: QEvent) -> None:
        """Nothing is under the pointer."""
        self.unsetCursor()

    def _show_catch(self, point: QPointF) -> None:
        caught = self.move_at(point)
        part = caught[2] if caught else self.part_at(point)[1]
        shapes = {
            "border": Qt.CursorShape.SplitHCursor,
            "move": Qt.CursorShape.OpenHandCursor,
            "start": Qt.CursorShape.SizeHorCursor,
            "end": Qt.CursorShape.SizeHorCursor,
            "body": Qt.CursorShape.OpenHandCursor,
        }
        self.setCursor(shapes.get(part, Qt.CursorShape.ArrowCursor))

    def _tell(self) -> None:
        """Say the same to a screen reader, and to a magnifier where to look."""
        chosen = [span for i in self._editor.chosen if (span := self._timings.find(i)) is not None]
        self.setAccessibleDescription(
            ", ".join(f"{span.placed.hit} {span.placed.pose}" for span in chosen)
            or _("no pose chosen")
        )
        self.updateMicroFocus()

    def inputMethodQuery(self, query: Qt.InputMethodQuery) -> object:
        """Where the chosen pose is, or the cursor: magnifiers follow it."""
        if query != Qt.InputMethodQuery.ImCursorRectangle:
            return super().inputMethodQuery(query)
        selected = self._editor.selected
        span = self._timings.find(selected.id) if selected is not None else None
        if span is not None:
            return self.bar(span).toAlignedRect()
        return QRect(round(self.scale.x(self._editor.cursor)), 0, 1, self.height())

    def _move_cursor(self) -> None:
        # Only the two slivers where the line was and is are painted again: music moves it at
        # the rate of the screen.
        old, new = self._cursor_x, round(self.scale.x(self._editor.cursor))
        around = self._timings.around(self._editor.cursor)
        if around != self._around:
            self._around = around
            self._cursor_x = new
            self.update()
        elif new != old:
            self._cursor_x = new
            for x in (old, new):
                self.update(x - 3, 0, 7, self.height())
