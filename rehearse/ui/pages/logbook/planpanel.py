"""Today's plan with what can be done to it: strike, move, more or fewer minutes, start."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.practice.cautions import due
from rehearse.practice.passplan import practised
from rehearse.practice.planbook import DayPlan
from rehearse.practice.planline import Plan, move, strike
from rehearse.practice.stamina import RoundLine
from rehearse.ui import theme
from rehearse.ui.actions import key
from rehearse.ui.pages.logbook.planlist import PlanList
from rehearse.ui.pages.logbook.roundsbox import RoundsBox
from rehearse.ui.widgets import NumberField
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

LEAST, MOST, STEP = 5, 120, 5
_MINUTES = "plan_minutes"
#: Pixels from which the buttons have room for all their words.
_WIDE = 66 * theme.STEP


class PlanPanel(QWidget):
    """Shows the plan of the day and changes it; the page keeps and starts it.

    Signals:
        minutesChanged: another length is wished. planChanged: a line was struck or moved.
    """

    minutesChanged = Signal()
    planChanged = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self.day: DayPlan | None = None
        self._tight = False
        self._lay_out()
        self.minutes.valueChanged.connect(self._minutes_changed)
        self.strike.clicked.connect(self.strike_chosen)
        self.up.clicked.connect(self.move_up)
        self.down.clicked.connect(self.move_down)
        self.list.selectionModel().currentChanged.connect(self._label)
        self._label()

    def _lay_out(self) -> None:
        title = QLabel(_("Today's plan"))
        title.setProperty("role", "title")
        self.minutes = NumberField(minimum=LEAST, maximum=MOST, singleStep=STEP, suffix=_(" min"))
        self.minutes.setAccessibleName(_("Minutes for today, keys minus and plus"))
        self.minutes.setValue(self._workspace.settings.get(_MINUTES, 30))
        self.minutes.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.minutes.setFocusPolicy(Qt.FocusPolicy.ClickFocus | Qt.FocusPolicy.TabFocus)
        self.takes = QLabel()
        self.takes.setProperty("role", "dim")
        self.start = QPushButton(_("Start the plan   Space"))
        self.start.setProperty("role", "main")
        head = QHBoxLayout()
        head.setSpacing(2 * theme.STEP)
        head.addWidget(self.start)
        head.addStretch(1)
        head.addWidget(self.takes)
        head.addWidget(self.minutes)
        self.list = PlanList()
        self.strike = QPushButton()
        self.up, self.down = QPushButton(), QPushButton()
        self.up.setAccessibleName(_("Move the line up, keys Shift and Up"))
        self.down.setAccessibleName(_("Move the line down, keys Shift and Down"))
        self.caution = QLabel(wordWrap=True)
        self.caution.setProperty("role", "dim")
        row = QHBoxLayout()
        row.setSpacing(theme.STEP)
        for button in (self.strike, self.up, self.down):
            row.addWidget(button)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP)
        self.rounds = RoundsBox()
        column.addWidget(title)
        column.addLayout(head)
        column.addWidget(self.rounds)
        column.addWidget(self.list, 1)
        column.addWidget(self.caution)
        column.addLayout(row)

    @property
    def plan(self) -> Plan | None:
        """The plan shown."""
        return self.day.plan if self.day else None

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fewer words on the buttons where there is no room for all."""
        super().resizeEvent(event)
        tight = self.width() < theme.px(_WIDE)
        if tight != self._tight:
            self._tight = tight
            self.show_plan(self.day)
        else:
            self._fit_caution()

    def set_minutes(self, minutes: int) -> None:
        """Show the length of a plan that was kept; nothing is made anew."""
        with QSignalBlocker(self.minutes):
            self.minutes.setValue(minutes)

    def show_plan(self, day: DayPlan | None) -> None:
        """Show a plan and what was done of it."""
        self.day = day
        self.list.lines.show(day)
        if self.list.chosen is None and day and day.plan.lines:
            self.list.choose(day.plan.lines[0].id)
        self.list.scheduleDelayedItemsLayout()
        self._say_length()
        self.start.setEnabled(bool(day and day.plan.kept))
        words = _("Start the plan")
        if day and day.is_begun:
            words = _("Another plan") if day.is_over else _("Resume the plan")
        self.start.setText(_("{split}   Space", split=words.split()[0] if self._tight else words))
        self.start.setAccessibleName(_("{words} of today, key Space", words=words))
        self._label()
        self._say_caution()

    def show_rounds(self, lines: tuple[RoundLine, ...]) -> None:
        """Show the comparison rounds that come before it."""
        self.rounds.show_lines(lines)
        self._say_length()

    def _say_length(self) -> None:
        day = self.day
        self.takes.setText(_takes(day, self.rounds.seconds) if day and day.plan.lines else "")

    def _change(self, plan: Plan) -> None:
        assert self.day is not None
        self.show_plan(DayPlan(plan, self.day.done))
        self.planChanged.emit()

    @Slot()
    def strike_chosen(self) -> None:
        """Strike the line under the arrows, or put it back."""
        line = self.list.chosen
        if self.plan is None or line is None:
            return
        self._change(strike(self.plan, line.id, not line.struck))

    @Slot()
    def move_up(self) -> None:
        """Move the line under the arrows up."""
        self._move(-1)

    @Slot()
    def move_down(self) -> None:
        """Move the line under the arrows down."""
        self._move(1)

    def _move(self, by: int) -> None:
        line = self.list.chosen
        if self.plan is not None and line is not None:
            self._change(move(self.plan, line.id, by))
            self.list.choose(line.id)

    @Slot()
    def fewer_minutes(self) -> None:
        """A shorter session."""
        self.minutes.stepBy(-1)

    @Slot()
    def more_minutes(self) -> None:
        """A longer session."""
        self.minutes.stepBy(1)

    @Slot()
    def _minutes_changed(self) -> None:
        self._workspace.settings.put(_MINUTES, self.minutes.value())
        self.minutesChanged.emit()

    @Slot()
    def _label(self) -> None:
        line = self.list.chosen
        words = _("Put back") if line is not None and line.struck else _("Skip")
        self.up.setText(
            key("line_up") if self._tight else _("Up   {key_line_up}", key_line_up=key("line_up"))
        )
        self.down.setText(
            key("line_down")
            if self._tight
            else _("Down   {key_line_down}", key_line_down=key("line_down"))
        )
        self.strike.setText(f"{words}   {key('skip')}")
        self.strike.setAccessibleName(
            _("{words} this line of the plan, key {key_skip}", words=words, key_skip=key("skip"))
        )
        for button in (self.strike, self.up, self.down):
            button.setEnabled(line is not None)

    def _say_caution(self) -> None:
        """One caution at a time, another each day: there when looked for, never in the way."""
        workspace, plan = self._workspace, self.plan
        self.caution.hide()
        self.caution.clear()
        if plan is None or not plan.lines or workspace.routine is None or workspace.beatmap is None:
            return
        found = due(
            workspace.routine,
            workspace.beatmap,
            workspace.catalogue,
            minutes=plan.minutes,
            today=plan.day,
        )
        if found:
            caution = found[plan.day.toordinal() % len(found)]
            self.caution.setText(shown(caution.text))
            self.caution.setToolTip(shown(caution.source))
            self._fit_caution()

    def _fit_caution(self) -> None:
        """It is shown whole or not: the plan and its buttons come first."""
        column = self.layout()
        if column is None or not self.caution.text():
            return
        self.caution.hide()
        width = self.width()
        # Without a wrapped text in sight the column has no height for a width.
        wrapped = column.minimumHeightForWidth(width) if column.hasHeightForWidth() else 0
        least = max(wrapped, column.minimumSize().height()) + column.spacing()
        self.caution.setVisible(least + self.caution.heightForWidth(width) <= self.height())


def _takes(day: DayPlan, rounds: float) -> str:
    """How long rounds and plan take, or what is left of them, before the minutes given."""
    if day.is_over:
        return _("done in {practised:.0f} of", practised=practised(day.done) / 60)
    if day.is_begun:
        return _("about {seconds_left:.0f} left of", seconds_left=(day.seconds_left + rounds) / 60)
    return _("about {seconds:.0f} of", seconds=(day.plan.seconds + rounds) / 60)
