"""The few numbers of a drill, a run or a comparison round, beneath the list."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from typing import Any

from PySide6.QtCore import QSignalBlocker, Qt, Signal, Slot
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from rehearse.cueing.cue_options import CUEINGS
from rehearse.practice.drill import FASTEST, SLOWEST
from rehearse.routine.rounds import LEAST_HOLD, MOST_CALLOUTS, MOST_HOLD, MOST_REST, Kind, RoundWish
from rehearse.ui import theme
from rehearse.ui.pages.rehearse.drill_settings import WAYS, DrillSettings, WaySettings
from rehearse.ui.widgets import NumberField
from rehearse.words import _, shown

#: Field, its words, least, most, step, ending, what 0 is called; and the ways that use it.
_NUMBERS = (
    ("percent", _("Tempo"), SLOWEST, FASTEST, 5, " %", "", ("loop", "run")),
    ("first", _("From"), SLOWEST, FASTEST, 5, " %", "", ("steps",)),
    ("top", _("To"), SLOWEST, FASTEST, 5, " %", "", ("steps",)),
    ("up", _("Up by"), 1, 20, 1, " %", "", ("steps",)),
    ("after", _("Up after"), 1, 9, 1, _(" clean"), "", ("steps",)),
    ("down", _("Down by"), 0, 20, 1, " %", "", ("steps",)),
    ("clean", _("Ends after"), 0, 9, 1, _(" clean"), _("never"), ("steps",)),
    ("passes", _("Passes"), 0, 99, 1, "", _("no end"), ("loop", "steps")),
    ("runs", _("Runs"), 1, 20, 1, "", "", ("run",)),
    ("rest", _("Rest"), 0, 30, 1, " s", _("none"), ("loop", "steps", "run")),
    ("count_in", _("Count-in"), 0, 8, 1, "", _("none"), ("loop", "steps", "run")),
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
        for name, words, least, most, step, ending, zero, _unused in _NUMBERS:
            spin = NumberField(self, minimum=least, maximum=most, singleStep=step, suffix=ending)
            spin.valueChanged.connect(self._numbers_changed)
            self._numbers[name] = (_labelled(spin, words, zero), spin)
        self._cueing, self._effort = QComboBox(self), QComboBox(self)
        self._cueing.setAccessibleName(_("Cues"))
        self._effort.setAccessibleName(_("Effort"))
        for key, words in CUEINGS.items():
            self._cueing.addItem(words, key)
        for effort in ("full out", "marked"):
            self._effort.addItem(shown(effort), effort)
        self._alternate = QCheckBox(_("Cued and uncued in turn"), self)
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
            button.setAccessibleName(_("Way to rehearse: {words}", words=words))
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
        values: dict[str, Any] = {n: spin.value() for n, (_unused, spin) in self._numbers.items()}
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
        self._ways.button(tuple(WAYS).index(drill_settings.way)).setChecked(True)
        for name, (_unused, spin) in self._numbers.items():
            _show_value(spin, getattr(drill_settings, name))
        _show_value(self._cueing, drill_settings.cueing)
        _show_value(self._effort, drill_settings.effort)
        _show_value(self._alternate, drill_settings.alternate)
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


#: Field of the wish, its words, least, most, ending, what the least is called.
_ROUND_NUMBERS = (
    ("hold", _("Hold"), LEAST_HOLD, MOST_HOLD, " s", ""),
    ("longest", _("At most"), LEAST_HOLD, MOST_HOLD, " s", ""),
    ("rest", _("Rest"), 0, MOST_REST, " s", _("none")),
    ("callouts", _("Call-outs"), 1, MOST_CALLOUTS, "", ""),
    ("between", _("Between"), 0, MOST_REST, " s", _("none")),
    ("grows", _("Longer by"), 0, 30, " s", _("not")),
    ("calls", _("Calls"), 0, 99, "", _("all")),
)
#: What each number means, for whoever points at it.
_TIPS = {
    "longest": _("Each hold is drawn between the two; equal: always that."),
    "between": _("Rest between two call-outs."),
    "grows": _("Each call-out is held so much longer than the one before. Only if you want it."),
    "calls": _("Poses of a random call-out."),
}
_CHECKS = (
    ("first_longer", _("First call-out longer")),
    ("neighbours", _("Change places")),
    ("background", _("With the song")),
)


class RoundForm(QWidget):
    """Edits a `RoundWish`; its kind is chosen in the list.

    Attributes:
        wish: what is set. background: whether the song is played beneath.

    Signals:
        changed: one of them is another.
    """

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.wish, self.background = RoundWish(), False
        self._numbers: dict[str, NumberField] = {}
        self._checks: dict[str, QCheckBox] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(theme.STEP)
        grid.setVerticalSpacing(theme.STEP // 2)
        self._make_numbers(grid)
        self._side = QComboBox()
        self._side.setAccessibleName(_("Side of your choice"))
        for side, words in (("left", _("left side")), ("right", _("right side"))):
            self._side.addItem(words, side)
        self._side.currentIndexChanged.connect(self._edited)
        grid.addWidget(self._side, len(_ROUND_NUMBERS) // 2, 2, 1, 2)
        for row, (name, words) in enumerate(_CHECKS, len(_ROUND_NUMBERS) // 2 + 1):
            box = QCheckBox(words)
            box.toggled.connect(self._edited)
            grid.addWidget(box, row, 0, 1, 4)
            self._checks[name] = box
        for column in (1, 3):
            grid.setColumnStretch(column, 1)
        self._show()

    def _make_numbers(self, grid: QGridLayout) -> None:
        for place, (name, words, least, most, ending, zero) in enumerate(_ROUND_NUMBERS):
            field = NumberField(self, minimum=int(least), maximum=int(most), suffix=ending)
            field.setToolTip(_TIPS.get(name, ""))
            field.valueChanged.connect(self._edited)
            grid.addWidget(_labelled(field, words, zero), place // 2, 2 * (place % 2))
            grid.addWidget(field, place // 2, 2 * (place % 2) + 1)
            self._numbers[name] = field

    def set_kind(self, kind: Kind) -> None:
        """Another line of the list is chosen."""
        if kind != self.wish.kind:
            self.wish = replace(self.wish, kind=kind)
            self._show()
            self.changed.emit()

    def set_wish(self, wish: RoundWish, *, background: bool | None = None) -> None:
        """Show another wish."""
        self.wish = wish
        if background is not None:
            self.background = background
        self._show()
        self.changed.emit()

    def step_hold(self, by: int) -> None:
        """Hold so many seconds longer: only ever by the athlete's key."""
        wish = self.wish
        hold = min(MOST_HOLD, max(LEAST_HOLD, wish.hold + by))
        longest = min(MOST_HOLD, max(hold, wish.longest + hold - wish.hold))
        self.set_wish(replace(wish, hold=hold, longest=longest))

    def allow_background(self, allowed: bool) -> None:
        """Whether there is a song to be played beneath."""
        self._checks["background"].setEnabled(allowed)

    @Slot()
    def _edited(self) -> None:
        values: dict[str, Any] = {n: field.value() for n, field in self._numbers.items()}
        for name in ("hold", "longest", "rest", "between", "grows"):
            values[name] = float(values[name])
        if self.sender() is self._numbers["longest"]:
            values["hold"] = min(values["hold"], values["longest"])
        elif values["hold"] > values["longest"] or self.wish.hold == self.wish.longest:
            values["longest"] = values["hold"]
        checks: dict[str, Any] = {n: box.isChecked() for n, box in self._checks.items()}
        self.background = checks.pop("background")
        self.wish = replace(self.wish, **values, **checks, side=self._side.currentData())
        self._show()
        self.changed.emit()

    def _show(self) -> None:
        wish = self.wish
        for name, field in self._numbers.items():
            _show_value(field, round(getattr(wish, name)))
        self._numbers["calls"].setEnabled(wish.kind == "random")
        for name in ("between", "grows"):
            self._numbers[name].setEnabled(wish.callouts > 1)
        for name, box in self._checks.items():
            _show_value(box, getattr(wish, name, self.background))
        self._checks["neighbours"].setEnabled(wish.callouts > 1)
        _show_value(self._side, wish.side)


def _labelled(field: NumberField, words: str, zero: str) -> QLabel:
    """The label of a number; `zero` is what its least value is called."""
    field.setSpecialValueText(zero)
    field.setAccessibleName(words)
    field.lineEdit().setTextMargins(6, 0, 0, 0)
    field.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    label = QLabel(words, field.parentWidget())
    label.setProperty("role", "dim")
    label.setBuddy(field)
    return label


def _show_value(field: QSpinBox | QComboBox | QCheckBox, value: Any) -> None:
    """Show what is set, without its being told as an edit."""
    with QSignalBlocker(field):
        if isinstance(field, QSpinBox):
            field.setValue(value)
        elif isinstance(field, QComboBox):
            field.setCurrentIndex(field.findData(value))
        else:
            field.setChecked(value)


def dump_wish(wish: RoundWish, background: bool) -> str:
    """As text for the settings."""
    return json.dumps({**asdict(wish), "background": background})


def load_wish(text: str) -> tuple[RoundWish, bool]:
    """From the settings; what cannot be read there is as at first."""
    try:
        stored = json.loads(text)
        background = stored.pop("background", False) is True
        return RoundWish(**{**stored, "seed": None}), background
    except (ValueError, TypeError, AttributeError, RecursionError):
        return RoundWish(), False
