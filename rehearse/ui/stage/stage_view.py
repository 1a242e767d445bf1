"""The stage display as a widget: asks where the music is before each frame.

Only what changed since the last frame is painted, and frames that must not be late are timed on
their own (see `pace`).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent, QRegion, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from rehearse.cueing.cue_state import CueState
from rehearse.cueing.cues import CueSheet
from rehearse.ui.colours import GROUND
from rehearse.ui.stage.changes import PaintState, changed
from rehearse.ui.stage.frame_timer import FrameTimer
from rehearse.ui.stage.layout import Box
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.showing import options_for
from rehearse.ui.stage.stage_options import StageOptions
from rehearse.ui.stage.stage_text import in_words
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.session.session_view import SessionView


class StageView(QWidget):
    """Shows what `look` says, at the pace of the screen while it runs.

    Args:
        look: called before each frame; says what is going on.

    Signals:
        looked: the view a frame was painted from. shown: the moment of a frame and the
        `time.perf_counter()` at which it had been handed to the screen.
        pointed: a second of the track clicked in the ribbon.
    """

    looked = Signal(object)  # a SessionView, whose room is loaded after the first picture
    shown = Signal(CueState, float)
    pointed = Signal(float)

    def __init__(self, look: Callable[[], SessionView]) -> None:
        super().__init__()
        self._look = look
        self._view: SessionView | None = None
        self._shown: SessionView | None = None
        self._sheet: CueSheet | None = None
        self._start: float | None = None
        self._base = StageOptions(state="ready")
        self._stage: Stage | None = None
        self._cue_state: CueState | None = None
        self._seen: PaintState | None = None
        self._prepared: object = None
        self._told: tuple[object, object] | None = None
        self._frame_timer = FrameTimer()
        self._warm = False
        self._timer = QTimer(self, singleShot=True)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._frame)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(480, 300)
        self.setAccessibleName(_("Stage display"))

    @property
    def base(self) -> StageOptions:
        """What does not follow from the rehearsal."""
        return self._base

    def set_base(self, options: StageOptions) -> None:
        """Change what does not follow from the rehearsal: sight, loudness, reduced flash …"""
        self._base = options
        self._repaint_all()

    def set_sheet(self, sheet: CueSheet | None) -> None:
        """Show another cue sheet."""
        self._sheet, self._stage, self._start, self._cue_state = sheet, None, None, None
        self._tell(self._at_rest())
        self._repaint_all()

    def set_start(self, time: float) -> None:
        """Show this second of the track while nothing was begun."""
        self._start, self._cue_state = time, None
        self._tell(self._at_rest())
        self._repaint_all()

    def run(self) -> None:
        """Begin to ask and paint until `rest`."""
        if not self._timer.isActive():
            self._timer.start(0)

    def rest(self) -> None:
        """Stop asking: nothing moves. The display stays as it is."""
        self._timer.stop()

    def refresh(self) -> None:
        """Ask once and paint."""
        self._ask()
        self.looked.emit(self._view)
        self._tell(self._cue_state or self._at_rest())
        self._repaint_all()

    def _tell(self, cue_state: CueState | None) -> None:
        """Say the same to a screen reader, once for each pose."""
        told = (cue_state.next, cue_state.held) if cue_state is not None else None
        if told != self._told:
            self._told = told
            self.setAccessibleDescription(in_words(cue_state) if cue_state is not None else "")

    def _repaint_all(self) -> None:
        self._seen = None
        self.update()

    def _ask(self) -> None:
        self._view = view = self._look()
        if self._sheet is not None:
            self._shown = self._frame_timer.ahead(view, self._sheet)
            self._cue_state = self._shown.cue_state or self._at_rest()

    def _frame(self) -> None:
        asked = time.perf_counter()
        self._ask()
        if self._cue_state is not None and self.isVisible() and (stage := self._current_stage()):
            hurried = self._frame_timer.hurried(self._view)
            look = stage.look(self._cue_state, skip_slow=hurried)
            boxes = changed(self._seen, look, stage.layout, self.width(), self.height())
            self._seen = look
            if boxes is None:
                self.repaint()
            elif boxes:
                self.repaint(_region(boxes))
            done = time.perf_counter()
            if self._cue_state.hit and boxes is None:
                self._frame_timer.took(done - asked, whole=True)
            elif hurried and boxes:
                self._frame_timer.took(done - asked, whole=False)
            self.shown.emit(self._cue_state, done)
            self._tell(self._cue_state)
            self._prepare_when_idle(self._cue_state)
        self.looked.emit(self._view)
        left = self._frame_timer.due(self._view) - (time.perf_counter() - asked)
        self._timer.start(max(0, math.floor(left * 1000)))

    def _current_stage(self) -> Stage | None:
        if self._sheet is None:
            return None
        options = options_for(self._shown, self._base) if self._shown else self._base
        if self._stage is None:
            self._stage = Stage(self._sheet, options, self.size(), self.devicePixelRatioF())
        self._stage.set_options(options)
        return self._stage

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the newest moment, or the start of what is chosen while nothing was begun."""
        with QPainter(self) as painter:
            cue_state = self._cue_state or self._at_rest()
            stage = self._current_stage()
            if stage is None or cue_state is None:
                painter.fillRect(self.rect(), GROUND)
                return
            stage.plain = not self._warm
            stage.paint(painter, cue_state, self._seen)
        if not self._warm:
            self._warm = True
            QTimer.singleShot(0, self, self._repaint_all)

    def _at_rest(self) -> CueState | None:
        if self._sheet is None:
            return None
        return self._sheet.ready(self._sheet.start if self._start is None else self._start)

    def _prepare_when_idle(self, cue_state: CueState) -> None:
        """Have the next hit's pictures painted well before it, and not right after the last."""
        if (
            cue_state.next is self._prepared
            or cue_state.hit
            or self._frame_timer.hurried(self._view)
        ):
            return
        self._prepared = cue_state.next
        QTimer.singleShot(0, self, self._prepare)

    def _prepare(self) -> None:
        if self._stage is not None and self._cue_state is not None:
            self._stage.prepare(self._cue_state)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Lay out anew."""
        self._stage = self._seen = None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A click in the ribbon points at a second of the track."""
        ribbon = self._stage.ribbon if self._stage else None
        place = event.position()
        if ribbon and ribbon.box.y <= place.y() <= ribbon.box.bottom:
            self.pointed.emit(ribbon.time(place.x()))

    def sizeHint(self) -> QSize:
        """Sixteen by nine."""
        return QSize(960, 540)


def _region(boxes: tuple[Box, ...]) -> QRegion:
    region = QRegion()
    for box in boxes:
        region += QRectF(box.x, box.y, box.width, box.height).toAlignedRect()
    return region
