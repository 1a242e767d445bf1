"""The Rehearse page: the list and its numbers on the left, the stage on the right.

One main action, under Space: begin, pause, go on. With F the stage takes the whole screen and
everything else goes on working by its key. When the program starts the stage is on the screen
first; the list, the buttons and the keys follow once the desk is at work.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QHideEvent, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from rehearse.ui import theme
from rehearse.ui.desk import Desk
from rehearse.ui.pages.rehearse.conductor import Conductor
from rehearse.ui.pages.rehearse.screen import SEEN, Screen
from rehearse.ui.stage.view import StageView

if TYPE_CHECKING:
    from rehearse.practice.passplan import Work
    from rehearse.session.view import View
    from rehearse.ui.pages.rehearse.setup import Setup

#: The size of side and foot, kept free for them until they are there.
_SIDE, _FOOT = 42 * theme.STEP, 14 * theme.STEP


class RehearsePage(QWidget):
    """Chooses what to rehearse and shows it.

    Signals:
        alone: the stage wants the whole screen, or gives it back.
    """

    alone = Signal(bool)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._alone = False
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.conductor = Conductor(desk)
        self.stage = StageView(self.conductor.look)
        self._screen = Screen(desk, self.stage)
        self._setup: Setup | None = None
        self._furnished = False
        self._lay_out()
        desk.documentChanged.connect(self._refresh)
        desk.trackChanged.connect(self._refresh)
        if desk.at_work:
            self._furnish()
        else:
            desk.workBegun.connect(self._furnish)
            self._refresh()

    @Slot()
    def _furnish(self) -> None:
        """Everything beside the stage."""
        if self._furnished:
            return
        from rehearse.ui.awake import Awake
        from rehearse.ui.pages.rehearse.clicker import Clicker
        from rehearse.ui.pages.rehearse.deeds import Deeds
        from rehearse.ui.pages.rehearse.foot import Foot
        from rehearse.ui.pages.rehearse.keys import Keys
        from rehearse.ui.pages.rehearse.side import Side

        self.keys = Keys(self, self._desk.settings)
        self.side = Side(self._desk, self.keys)
        self.foot = Foot(self._desk, self.keys)
        self.deeds = Deeds(self, self._desk)
        self.clicker = Clicker(self)
        self._awake = Awake(self)
        self._row.replaceWidget(self._free[0], self.side)
        self._column.replaceWidget(self._free[1], self.foot)
        for widget in self._free:
            widget.hide()
            widget.deleteLater()
        self._furnished = True
        self._connect()
        self._connect_keys()
        self._refresh()

    def _lay_out(self) -> None:
        self._missing = QLabel()
        self._missing.setProperty("role", "title")
        self._missing.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._missing.setWordWrap(True)
        self._front = QStackedWidget()
        self._front.addWidget(self.stage)
        self._front.addWidget(self._missing)
        self._free = QWidget(), QWidget()
        self._free[0].setFixedWidth(_SIDE)
        self._free[1].setFixedHeight(_FOOT)
        self._column = QVBoxLayout()
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(0)
        self._column.addWidget(self._front, 1)
        self._column.addWidget(self._free[1])
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(2 * theme.STEP)
        self._row.addWidget(self._free[0])
        self._row.addLayout(self._column, 1)

    def _connect(self) -> None:
        self._desk.settings.changed.connect(self._setting_changed)
        self.conductor.moved.connect(self._moved)
        self.conductor.logged.connect(self._refresh_log)
        self.stage.looked.connect(self._looked)
        self.stage.pointed.connect(self._pointed)
        self.foot.question.answered.connect(self._answered)
        self.side.changed.connect(self._show_choice)
        self.side.chosen.connect(self._chosen)
        self.side.list.activated.connect(self.deeds.begin_chosen)
        self.keys.changed.connect(self._hint)
        self.deeds.marked.connect(self._hint)

    def _connect_keys(self) -> None:
        deeds = {
            "begin": self.deeds.main_action,
            "stop": self.conductor.stop,
            "clean": self.deeds.clean,
            "missed": self.deeds.missed,
            "next": self.deeds.next_section,
            "back": self.deeds.section_before,
            "slower": self.deeds.slower,
            "faster": self.deeds.faster,
            "mark": self.deeds.mark_here,
            "unwell": self.deeds.stop_unwell,
            "silent": self.conductor.go_on_silently,
            "full": self._toggle_full,
            "setup": self._toggle_setup,
            "clicker_on": self.clicker.on,
            "clicker_back": self.clicker.back,
        }
        for name, slot in deeds.items():
            self.keys.actions[name].triggered.connect(slot)
        escape = QShortcut(QKeySequence("Esc"), self)
        escape.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        escape.activated.connect(self._escape)

    # -- what it does ------------------------------------------------------------------------

    def begin(self, work: Work) -> None:
        """Rehearse `work` now."""
        self._close_setup()
        self.conductor.begin(work)
        self.stage.run()

    def leave(self) -> None:
        """The window closes: ask the clock no more."""
        self.stage.rest()
        self.conductor.stop()
        if self._furnished:
            self._awake.set_wanted(False)

    @Slot()
    def _toggle_full(self) -> None:
        self._set_alone(not self._alone)

    @Slot()
    def _escape(self) -> None:
        if self._alone:
            self._set_alone(False)
        elif self._setup is not None and self._front.currentWidget() is self._setup:
            self._close_setup()
        else:
            self._desk.faultRaised.emit("")
            self.setFocus()

    def _set_alone(self, alone: bool) -> None:
        self._close_setup()
        self._alone = alone
        self.side.setVisible(not alone)
        self.foot.set_alone(alone)
        self.alone.emit(alone)
        self.setFocus()

    @Slot()
    def _toggle_setup(self) -> None:
        if self._alone:
            return
        if self._setup is None:
            from rehearse.ui.pages.rehearse.setup import Setup

            self._setup = Setup(self._desk, self.keys)
            self._setup.closed.connect(self._close_setup)
            self._front.addWidget(self._setup)
        if self._front.currentWidget() is self._setup:
            self._close_setup()
        else:
            self._front.setCurrentWidget(self._setup)

    @Slot()
    def _close_setup(self) -> None:
        if self._setup is not None and self._front.currentWidget() is self._setup:
            self._setup.delay.leave()
        self._front.setCurrentWidget(self._missing if self.conductor.missing else self.stage)
        self.setFocus()

    # -- what it shows -----------------------------------------------------------------------

    @Slot()
    def _refresh(self) -> None:
        """Another document or another track."""
        if self._furnished:
            self.side.refresh()
        self.stage.set_sheet(self._desk.sheet)
        self._missing.setText(self.conductor.missing)
        if self._setup is None or self._front.currentWidget() is not self._setup:
            self._front.setCurrentWidget(self._missing if self.conductor.missing else self.stage)
        self._refresh_base()
        if self._furnished:
            self.foot.refresh()

    @Slot()
    def _refresh_log(self) -> None:
        self.side.refresh()
        self._refresh_base()

    def _refresh_base(self) -> None:
        drilled = {}
        if self._furnished:
            from rehearse.ui.pages.rehearse.stretches import passes_today

            drilled = passes_today(self._desk)
        self.stage.set_base(self._screen.options(self.stage.base, drilled))
        if self._furnished:
            self._show_choice()

    @Slot(str)
    def _setting_changed(self, name: str) -> None:
        if name.startswith("say_") or name == "voice":
            self.conductor.forget_speech()
        elif name in SEEN:
            self._refresh_base()

    @Slot()
    def _show_choice(self) -> None:
        if not self.conductor.busy:
            choice = self.side.form.choice
            percent = choice.first if choice.way == "steps" else choice.percent
            self.stage.set_base(replace(self.stage.base, cueing="all", tempo=percent / 100))
            self.foot.transport.tempo.setText(f"{percent} %")

    @Slot()
    def _chosen(self) -> None:
        line = self.side.line
        if line is not None and not self.conductor.busy:
            self.stage.set_start(line.scope.start)

    @Slot(object)
    def _looked(self, view: View) -> None:
        if self.foot.show_view(view, busy=self.conductor.busy):
            self.setFocus()

    @Slot()
    def _moved(self) -> None:
        busy = self.conductor.busy
        playing = busy and self.conductor.view.state != "paused"
        self._awake.set_wanted(playing)
        if playing:
            self.stage.run()
        elif not busy:
            QTimer.singleShot(0, self, self._come_to_rest)
        self._hint()

    def _come_to_rest(self) -> None:
        if not self.conductor.busy:
            self.stage.rest()
            self.stage.refresh()
            self._show_choice()

    def show_question(self) -> None:
        """Show on the stage what is asked, with the pose pointed at."""
        self.stage.set_base(replace(self.stage.base, question=self.foot.question.words))

    @Slot(float)
    def _pointed(self, time: float) -> None:
        if self.foot.question.asking:
            self._answered(time)

    @Slot(object)
    def _answered(self, at: float | None) -> None:
        self.conductor.broke(at)
        self.stage.set_base(replace(self.stage.base, question=""))
        self.stage.refresh()

    @Slot()
    def _hint(self) -> None:
        words = self.clicker.words()
        if self.deeds.has_mark:
            words = f"First mark set: press {self.keys.label('mark')} again to drill from there."
        self.foot.hint.setText(words)

    def hideEvent(self, event: QHideEvent) -> None:
        """Another page comes up: the whole screen is given back."""
        super().hideEvent(event)
        if self._alone and self.window().isVisible():
            self._set_alone(False)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """The clicker's button is let go."""
        if self._furnished and not event.isAutoRepeat():
            self.clicker.released()
        super().keyReleaseEvent(event)
