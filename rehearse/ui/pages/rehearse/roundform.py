"""The few numbers of a comparison round, beneath the list of rounds."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from typing import Any

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QCheckBox, QComboBox, QGridLayout, QLabel, QWidget

from rehearse.routine.rounds import (
    LEAST_HOLD,
    MOST_CALLOUTS,
    MOST_HOLD,
    MOST_REST,
    Kind,
    RoundWish,
)
from rehearse.ui import theme
from rehearse.ui.widgets import NumberField

#: Field of the wish, its words, least, most, ending, what the least is called.
_NUMBERS = (
    ("hold", "Hold", LEAST_HOLD, MOST_HOLD, " s", ""),
    ("longest", "At most", LEAST_HOLD, MOST_HOLD, " s", ""),
    ("rest", "Rest", 0, MOST_REST, " s", "none"),
    ("callouts", "Call-outs", 1, MOST_CALLOUTS, "", ""),
    ("between", "Between", 0, MOST_REST, " s", "none"),
    ("grows", "Longer by", 0, 30, " s", "not"),
    ("calls", "Calls", 0, 99, "", "all"),
)
#: What each number means, for whoever points at it.
_TIPS = {
    "longest": "Each hold is drawn between the two; equal: always that.",
    "between": "Rest between two call-outs.",
    "grows": "Each call-out is held so much longer than the one before. Only if you want it.",
    "calls": "Poses of a random call-out.",
}
_CHECKS = (
    ("first_longer", "First call-out longer"),
    ("neighbours", "Change places"),
    ("background", "With the song"),
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
        self._side.setAccessibleName("Side of your choice")
        for side in ("left", "right"):
            self._side.addItem(f"{side} side", side)
        self._side.currentIndexChanged.connect(self._edited)
        grid.addWidget(self._side, len(_NUMBERS) // 2, 2, 1, 2)
        for row, (name, words) in enumerate(_CHECKS, len(_NUMBERS) // 2 + 1):
            box = QCheckBox(words)
            box.toggled.connect(self._edited)
            grid.addWidget(box, row, 0, 1, 4)
            self._checks[name] = box
        for column in (1, 3):
            grid.setColumnStretch(column, 1)
        self._show()

    def _make_numbers(self, grid: QGridLayout) -> None:
        for place, (name, words, least, most, ending, zero) in enumerate(_NUMBERS):
            field = NumberField(self, minimum=int(least), maximum=int(most), suffix=ending)
            field.setSpecialValueText(zero)
            field.setAccessibleName(words)
            field.setToolTip(_TIPS.get(name, ""))
            field.lineEdit().setTextMargins(6, 0, 0, 0)
            field.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            field.valueChanged.connect(self._edited)
            label = QLabel(words)
            label.setProperty("role", "dim")
            label.setBuddy(field)
            grid.addWidget(label, place // 2, 2 * (place % 2))
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
            field.blockSignals(True)
            field.setValue(round(getattr(wish, name)))
            field.blockSignals(False)
        self._numbers["calls"].setEnabled(wish.kind == "random")
        for name in ("between", "grows"):
            self._numbers[name].setEnabled(wish.callouts > 1)
        for name, box in self._checks.items():
            box.blockSignals(True)
            box.setChecked(getattr(wish, name, self.background))
            box.blockSignals(False)
        self._checks["neighbours"].setEnabled(wish.callouts > 1)
        self._side.blockSignals(True)
        self._side.setCurrentIndex(self._side.findData(wish.side))
        self._side.blockSignals(False)


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
