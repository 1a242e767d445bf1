"""Today's plan with what can be done to it: strike, move, more or fewer minutes, start."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSpinBox, QVBoxLayout, QWidget

from rehearse.practice.cautions import due
from rehearse.practice.planline import Plan, move, strike
from rehearse.ui import theme
from rehearse.ui.desk import Desk
from rehearse.ui.pages.logbook.planlist import PlanList

LEAST, MOST, STEP = 5, 120, 5
_MINUTES = "plan_minutes"


class PlanPanel(QWidget):
    """Shows the plan of the day and changes it; the page starts it.

    What was struck stays struck when the plan is made anew on the same day.

    Signals:
        minutesChanged: another length is wished.
    """

    minutesChanged = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.plan: Plan | None = None
        self._struck: set[tuple[date, str]] = set()
        self._lay_out()
        self.minutes.valueChanged.connect(self._minutes_changed)
        self.minutes.lineEdit().returnPressed.connect(self.list.setFocus)
        self.strike.clicked.connect(self.strike_chosen)
        self.up.clicked.connect(self.move_up)
        self.down.clicked.connect(self.move_down)
        self.list.selectionModel().currentChanged.connect(self._label)
        self._label()

    def _lay_out(self) -> None:
        title = QLabel("Today's plan")
        title.setProperty("role", "body")
        self.minutes = QSpinBox(minimum=LEAST, maximum=MOST, singleStep=STEP, suffix=" min")
        self.minutes.setAccessibleName("Minutes for today, keys minus and plus")
        self.minutes.setValue(self._desk.settings.get(_MINUTES, 30))
        self.minutes.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.minutes.setFocusPolicy(Qt.FocusPolicy.ClickFocus | Qt.FocusPolicy.TabFocus)
        self.takes = QLabel()
        self.takes.setProperty("role", "dim")
        head = QHBoxLayout()
        head.setSpacing(2 * theme.STEP)
        head.addWidget(title)
        head.addStretch(1)
        head.addWidget(self.takes)
        head.addWidget(self.minutes)
        self.list = PlanList()
        self.strike = QPushButton("Strike   X")
        self.up, self.down = QPushButton("Up   Shift ↑"), QPushButton("Down   Shift ↓")
        self.up.setAccessibleName("Move the line up, keys Shift and Up")
        self.down.setAccessibleName("Move the line down, keys Shift and Down")
        self.start = QPushButton("Start the plan   Space")
        self.start.setProperty("role", "main")
        self.start.setAccessibleName("Start today's plan, key Space")
        self.caution = QLabel(wordWrap=True)
        self.caution.setProperty("role", "dim")
        row = QHBoxLayout()
        row.setSpacing(theme.STEP)
        row.addWidget(self.start)
        row.addStretch(1)
        for button in (self.strike, self.up, self.down):
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP)
        column.addLayout(head)
        column.addWidget(self.list, 1)
        column.addWidget(self.caution)
        column.addLayout(row)

    def show_plan(self, plan: Plan | None) -> None:
        """Show a plan just made, with what was struck today left out again."""
        for line in plan.lines if plan else ():
            assert plan is not None
            if (plan.day, line.item) in self._struck and line.group == "rotate":
                plan = strike(plan, line.id)
        self._show(plan)
        self._say_caution()

    def _show(self, plan: Plan | None) -> None:
        self.plan = plan
        self.list.lines.show(plan)
        if self.list.chosen is None and plan and plan.lines:
            self.list.choose(plan.lines[0].id)
        self.list.scheduleDelayedItemsLayout()
        minutes = round(plan.seconds / 60) if plan else 0
        self.takes.setText(f"about {minutes} of" if plan and plan.lines else "")
        self.start.setEnabled(bool(plan and plan.kept))
        self._label()

    @Slot()
    def strike_chosen(self) -> None:
        """Strike the line under the arrows, or put it back."""
        line = self.list.chosen
        if self.plan is None or line is None:
            return
        struck = not line.struck
        key = (self.plan.day, line.item)
        self._struck.add(key) if struck else self._struck.discard(key)
        self._show(strike(self.plan, line.id, struck))

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
            self._show(move(self.plan, line.id, by))
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
        self._desk.settings.put(_MINUTES, self.minutes.value())
        self.minutesChanged.emit()

    @Slot()
    def _label(self) -> None:
        line = self.list.chosen
        words = "Put back" if line is not None and line.struck else "Strike"
        self.strike.setText(f"{words}   X")
        self.strike.setAccessibleName(f"{words} this line of the plan, key X")
        for button in (self.strike, self.up, self.down):
            button.setEnabled(line is not None)

    def _say_caution(self) -> None:
        """One caution at a time, another each day: there when looked for, never in the way."""
        desk, plan = self._desk, self.plan
        self.caution.hide()
        if plan is None or not plan.lines or desk.routine is None or desk.beatmap is None:
            return
        found = due(
            desk.routine, desk.beatmap, desk.catalogue, minutes=plan.minutes, today=plan.day
        )
        if found:
            caution = found[plan.day.toordinal() % len(found)]
            self.caution.setText(caution.text)
            self.caution.setToolTip(caution.source)
            self.caution.show()


def kept_only(plan: Plan) -> Plan:
    """The plan as it is to be run."""
    return replace(plan, lines=plan.kept)
