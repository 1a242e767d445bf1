"""The left side of the page: what can be rehearsed, and the numbers of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.cueing.choice import CUEINGS
from rehearse.ui import theme
from rehearse.ui.desk import Desk
from rehearse.ui.icons import icon
from rehearse.ui.pages.rehearse.choice import dump_choices, load_choices
from rehearse.ui.pages.rehearse.form import Form
from rehearse.ui.pages.rehearse.keys import Keys
from rehearse.ui.pages.rehearse.loglook import LogLook
from rehearse.ui.pages.rehearse.stretches import Line, lines_of
from rehearse.ui.pages.rehearse.stretchlist import StretchList

if TYPE_CHECKING:
    from rehearse.session.view import View

#: Pixels.
WIDTH = 42 * theme.STEP


class Side(QWidget):
    """The list of sections or transitions over the form of the drill.

    Signals:
        chosen: another line is chosen. changed: the drill's numbers are others.
    """

    chosen = Signal()
    changed = Signal()

    def __init__(self, desk: Desk, keys: Keys, look: LogLook) -> None:
        super().__init__()
        self._desk, self._keys, self._look = desk, keys, look
        self.list = StretchList()
        self.form = Form()
        self._of = ""
        self.by_plan = QLabel(wordWrap=True)
        self.by_plan.setProperty("role", "dim")
        self.by_plan.hide()
        self.setFixedWidth(WIDTH)
        column = QVBoxLayout(self)
        column.setContentsMargins(2 * theme.STEP, 0, 0, 2 * theme.STEP)
        column.setSpacing(2 * theme.STEP)
        column.addLayout(self._make_head())
        column.addWidget(self.list, 1)
        column.addWidget(self.form)
        column.addWidget(self.by_plan)
        self.list.selectionModel().currentChanged.connect(self.chosen)
        self.form.changed.connect(self._store)
        keys.changed.connect(self._label)
        self._label()

    @property
    def line(self) -> Line | None:
        """The chosen line."""
        return self.list.chosen

    @Slot()
    def refresh(self) -> None:
        """Show the document and the logbook as they are now; the choice stays where it can."""
        row = self.list.currentIndex().row()
        if self._desk.routine is not None and self._desk.routine.id != self._of:
            # What was set for one routine says nothing of another.
            self._of, row = self._desk.routine.id, 0
            self.list.choose(0)
            self.form.set_choices(load_choices(self._desk.settings.get(self._name, "{}")))
        self.list.put(
            lines_of(self._desk, self._look.summary, transitions=self._kinds[1].isChecked())
        )
        if self.list.currentIndex().row() < 0:
            self.list.choose(max(0, row))

    def step(self, by: int) -> None:
        """Choose a line further on, round and round."""
        self.list.choose(self.list.currentIndex().row() + by)

    def _make_head(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(0)
        self._kinds = [QPushButton(w, checkable=True) for w in ("Sections", "Transitions")]
        for button in self._kinds:
            button.setProperty("role", "plain")
            button.setAutoExclusive(True)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            row.addWidget(button)
        self._kinds[0].setChecked(True)
        self._kinds[0].toggled.connect(self.refresh)
        row.addStretch(1)
        self._set_up = QPushButton(icon("setup"), "")
        self._set_up.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._set_up.clicked.connect(self._keys.actions["setup"].trigger)
        row.addWidget(self._set_up)
        return row

    @Slot()
    def _store(self) -> None:
        self._desk.settings.put(self._name, dump_choices(self.form.choices))
        self.changed.emit()

    @property
    def _name(self) -> str:
        return f"drill/{self._of}"

    def show_view(self, view: View, *, busy: bool) -> None:
        """While a plan runs its own numbers stand here, and none of the form's."""
        plan = view.plan if busy else None
        words = ""
        if plan is not None and plan.line:
            words = f"Set by the plan: {plan.percent} %, {CUEINGS[plan.cueing]}, {plan.effort}."
        if words != self.by_plan.text():
            self.by_plan.setText(words)
            self.by_plan.setVisible(bool(words))
            self.form.setVisible(not words)

    @Slot()
    def _label(self) -> None:
        key = self._keys.label("setup")
        self._set_up.setText(f"Set up  {key}")
        self._set_up.setAccessibleName(f"Set up screen, sound and keys, key {key}")
