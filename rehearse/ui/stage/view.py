"""The stage display as a widget: asks where the music is each time it paints.

A frame that must not be late – the count, the hit – gets a timer of its own: after each frame the
next one is set for the earlier of the usual pace and the next change on the display, less the
time painting takes. So the flash neither waits for a beat of the screen timer nor needs a guess.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from rehearse.cueing.cues import CueSheet, Moment
from rehearse.ui.stage.options import StageOptions
from rehearse.ui.stage.paint import Stage
from rehearse.ui.stage.showing import options_for
from rehearse.ui.stage.tones import GROUND

if TYPE_CHECKING:
    from rehearse.session.view import View

#: Seconds from frame to frame where nothing needs one sooner.
_PACE = 1 / 60
#: Seconds before a change from which its frame is timed on its own.
_NEAR = 1.6 * _PACE
#: Frames this close after a change still count as on time: the clock must have passed it.
_PAST = 0.0007


class StageView(QWidget):
    """Shows what `look` says, at the pace of the screen while it runs.

    Args:
        look: called before each frame; says what is going on.

    Signals:
        looked: the view a frame was painted from. shown: the moment painted and the
        `time.perf_counter()` at which its painting was done.
        pointed: a second of the track clicked in the ribbon.
    """

    looked = Signal(object)
    shown = Signal(object, float)
    pointed = Signal(float)

    def __init__(self, look: Callable[[], View]) -> None:
        super().__init__()
        self._look = look
        self._view: View | None = None
        self._sheet: CueSheet | None = None
        self._start: float | None = None
        self._base = StageOptions(state="ready")
        self._stage: Stage | None = None
        self._cost = 0.003
        self._prepared: object = None
        self._timer = QTimer(self, singleShot=True)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._frame)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(480, 300)
        self.setAccessibleName("Stage display")

    @property
    def base(self) -> StageOptions:
        """What does not follow from the rehearsal."""
        return self._base

    def set_base(self, options: StageOptions) -> None:
        """Change what does not follow from the rehearsal: sight, loudness, reduced flash …"""
        self._base = options
        self.update()

    def set_sheet(self, sheet: CueSheet | None) -> None:
        """Show another cue sheet."""
        self._sheet, self._stage, self._start = sheet, None, None
        self.update()

    def set_start(self, time: float) -> None:
        """Show this second of the track while nothing was begun."""
        self._start = time
        self.update()

    def run(self) -> None:
        """Begin to ask and paint until `rest`."""
        if not self._timer.isActive():
            self._timer.start(0)

    def rest(self) -> None:
        """Stop asking: nothing moves. The display stays as it is."""
        self._timer.stop()

    def refresh(self) -> None:
        """Ask once and paint."""
        self._view = self._look()
        self.looked.emit(self._view)
        self.update()

    def _frame(self) -> None:
        self._view = self._look()
        self._asked = time.perf_counter()
        self.repaint() if self.isVisible() else None
        self.looked.emit(self._view)
        due = min(_PACE, self._until_change())
        spent = time.perf_counter() - self._asked
        self._timer.start(max(1, math.floor((due - spent) * 1000)))

    def _until_change(self) -> float:
        """Seconds from the last question to when the next change should begin to be painted."""
        view = self._view
        moment = view.moment if view else None
        if (
            view is None
            or view.state not in ("music", "count-in")
            or moment is None
            or view.plan is None
        ):
            return _PACE
        left = []
        if moment.counts is not None and moment.interval:
            part = moment.counts - math.floor(moment.counts)
            left.append(part * moment.interval)
        if moment.seconds is not None:
            left.append(moment.seconds)
        ahead = [t / view.plan.tempo + _PAST - self._cost for t in left]
        soon = [t for t in ahead if 0 < t < _NEAR]
        return min(soon, default=_PACE)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the newest view."""
        painter = QPainter(self)
        sheet, moment = self._sheet, self._now()
        if sheet is None or moment is None:
            painter.fillRect(self.rect(), GROUND)
            return
        begun = time.perf_counter()
        options = options_for(self._view, self._base) if self._view else self._base
        if self._stage is None:
            self._stage = Stage(sheet, options, self.size(), self.devicePixelRatioF())
        self._stage.set_options(options)
        self._stage.paint(painter, moment)
        painter.end()
        done = time.perf_counter()
        self._cost += 0.1 * (min(done - begun, 0.01) - self._cost)
        self.shown.emit(moment, done)
        if moment.next is not self._prepared and not moment.hit:
            self._prepared = moment.next
            QTimer.singleShot(0, self, self._prepare)

    def _now(self) -> Moment | None:
        """The view's moment, or the start of the routine while nothing was begun."""
        moment = self._view.moment if self._view else None
        if moment is not None or self._sheet is None:
            return moment
        return self._sheet.ready(self._sheet.start if self._start is None else self._start)

    def _prepare(self) -> None:
        moment = self._view.moment if self._view else None
        if self._stage is not None and moment is not None:
            self._stage.prepare(moment)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Lay out anew."""
        self._stage = None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A click in the ribbon points at a second of the track."""
        ribbon = self._stage.ribbon if self._stage else None
        place = event.position()
        if ribbon and ribbon.box.y <= place.y() <= ribbon.box.bottom:
            self.pointed.emit(ribbon.time(place.x()))

    def sizeHint(self) -> QSize:
        """Sixteen by nine."""
        return QSize(960, 540)
