"""The few numbers of a drill or a run, beneath the list."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from rehearse.cueing.cue_options import CUEINGS
from rehearse.practice.drill import FASTEST, SLOWEST
from rehearse.ui import theme
from rehearse.ui.pages.rehearse.drill_settings import WAYS, DrillSettings, WaySettings
from rehearse.ui.widgets import NumberField

#: Field, its words, least, most, step, ending, what 0 is called; and the ways that use it.
_NUMBERS = (
    ("percent", "Tempo", SLOWEST, FASTEST, 5, " %", "", ("loop", "run")),
    ("first", "From", SLOWEST, FASTEST, 5, " %", "", ("steps",)),
    ("top", "To", SLOWEST, FASTEST, 5, " %", "", ("steps",)),
    ("up", "Up by", 1, 20, 1, " %", "", ("steps",)),
    ("after", "Up after", 1, 9, 1, " clean", "", ("steps",)),
    ("down", "Down by", 0, 20, 1, " %", "", ("steps",)),
    ("clean", "Ends after", 0, 9, 1, " clean", "never", ("steps",)),
    ("passes", "Passes", 0, 99, 1, "", "no end", ("loop", "steps")),
    ("runs", "Runs", 1, 20, 1, "", "", ("run",)),
    ("rest", "Rest", 0, 30, 1, " s", "none", ("loop", "steps", "run")),
    ("count_in", "Count-in", 0, 8, 1, "", "none", ("loop", "steps", "run")),
)


class DrillForm(QWidget):
    """Edits a `DrillSettings`; shows only what its way uses.

    Signals:
        changed: `drill_settings` is another one.
    """

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._way_settings = WaySettings()
        self._numbers: dict[str, tuple[QLabel, NumberField]] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP)
        column.addLayout(self._make_ways())
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(theme.STEP)
        self._grid.setVerticalSpacing(theme.STEP // 2)
        column.addLayout(self._grid)
        for name, words, least, most, step, ending, zero, _ in _NUMBERS:
            spin = NumberField(self, minimum=least, maximum=most, singleStep=step, suffix=ending)
            spin.setSpecialValueText(zero)
            spin.setAccessibleName(words)
            spin.lineEdit().setTextMargins(6, 0, 0, 0)
            spin.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            spin.valueChanged.connect(self._numbers_changed)
            label = QLabel(words, self)
            label.setProperty("role", "dim")
            label.setBuddy(spin)
            self._numbers[name] = (label, spin)
        self._cueing, self._effort = QComboBox(self), QComboBox(self)
        self._cueing.setAccessibleName("Cues")
        self._effort.setAccessibleName("Effort")
        for key, words in CUEINGS.items():
            self._cueing.addItem(words, key)
        for effort in ("full out", "marked"):
            self._effort.addItem(effort, effort)
        self._alternate = QCheckBox("Cued and uncued in turn", self)
        self._cueing.currentIndexChanged.connect(self._numbers_changed)
        self._effort.currentIndexChanged.connect(self._numbers_changed)
        self._alternate.toggled.connect(self._numbers_changed)
        self._show()

    @property
    def drill_settings(self) -> DrillSettings:
        """What is set."""
        return self._way_settings.now

    @property
    def way_settings(self) -> WaySettings:
        """What is set for each way."""
        return self._way_settings

    def set_drill_settings(self, drill_settings: DrillSettings) -> None:
        """Show another choice, for its way."""
        self.set_choices(self._way_settings.changed(drill_settings))

    def set_choices(self, way_settings: WaySettings) -> None:
        """Show others."""
        if way_settings != self._way_settings:
            self._way_settings = way_settings
            self._show()
            self.changed.emit()

    def _make_ways(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(0)
        self._ways = QButtonGroup(self)
        for number, (way, words) in enumerate(WAYS.items()):
            button = QPushButton(words)
            button.setCheckable(True)
            button.setProperty("role", "plain")
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            self._ways.addButton(button, number)
            button.setAccessibleName(f"Way to rehearse: {words}")
            row.addWidget(button)
            button.setChecked(way == self._way_settings.way)
        row.addStretch(1)
        self._ways.idClicked.connect(self._way_chosen)
        return row

    @Slot(int)
    def _way_chosen(self, number: int) -> None:
        self.set_choices(replace(self._way_settings, way=tuple(WAYS)[number]))

    @Slot()
    def _numbers_changed(self) -> None:
        values: dict[str, Any] = {n: spin.value() for n, (_, spin) in self._numbers.items()}
        drill_settings = replace(
            self.drill_settings,
            **values,
            cueing=self._cueing.currentData(),
            effort=self._effort.currentData(),
            alternate=self._alternate.isChecked(),
        )
        self._way_settings = self._way_settings.changed(drill_settings)
        self.changed.emit()

    def _show(self) -> None:
        drill_settings = self.drill_settings
        fields = (*(spin for _, spin in self._numbers.values()), self._cueing, self._effort)
        for field in (*fields, self._alternate):
            field.blockSignals(True)
        self._ways.button(tuple(WAYS).index(drill_settings.way)).setChecked(True)
        for name, (_, spin) in self._numbers.items():
            spin.setValue(getattr(drill_settings, name))
        self._cueing.setCurrentIndex(self._cueing.findData(drill_settings.cueing))
        self._effort.setCurrentIndex(self._effort.findData(drill_settings.effort))
        self._alternate.setChecked(drill_settings.alternate)
        for field in (*fields, self._alternate):
            field.blockSignals(False)
        self._arrange()

    def _arrange(self) -> None:
        """Two fields a row, only those that the way uses."""
        while self._grid.count():
            self._grid.takeAt(0)
        used = [n[0] for n in _NUMBERS if self.drill_settings.way in n[-1]]
        for name, pair in self._numbers.items():
            for widget in pair:
                widget.setVisible(name in used)
        for place, name in enumerate(used):
            label, spin = self._numbers[name]
            self._grid.addWidget(label, place // 2, 2 * (place % 2))
            self._grid.addWidget(spin, place // 2, 2 * (place % 2) + 1)
        row, odd = divmod(len(used), 2)
        self._grid.addWidget(self._cueing, row, 2 if odd else 0, 1, 2)
        run = self.drill_settings.way == "run"
        self._effort.setVisible(run)
        self._alternate.setVisible(run)
        if run:
            self._grid.addWidget(self._effort, row, 2, 1, 2)
            self._grid.addWidget(self._alternate, row + 1, 0, 1, 4)
        for column in (1, 3):
            self._grid.setColumnStretch(column, 1)
