"""The comparison rounds of today's plan: the next one with its reason, begun by one key."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.practice.stamina import RoundLine
from rehearse.routine.rounds import RoundWish
from rehearse.ui import theme
from rehearse.ui.actions import ROUNDS
from rehearse.words import _


class RoundsBox(QWidget):
    """Shows the first round that is not done yet, or that all are; nothing where there are none.

    Signals:
        asked: this `RoundWish` is to be called now.
    """

    asked = Signal(RoundWish)

    def __init__(self) -> None:
        super().__init__()
        self.lines: tuple[RoundLine, ...] = ()
        self._sources = self._low = False
        self.title, self.reason = QLabel(wordWrap=True), QLabel(wordWrap=True)
        self.reason.setProperty("role", "dim")
        self.start = QPushButton(_("Call it   {key}", key=ROUNDS.key))
        self.start.setAccessibleName(_("Call the round of today's plan, key {key}", key=ROUNDS.key))
        self.start.clicked.connect(self.begin)
        row = QHBoxLayout()
        row.setSpacing(theme.STEP)
        row.addWidget(self.title, 1)
        row.addWidget(self.start)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(row)
        column.addWidget(self.reason)
        self.hide()

    @property
    def coming(self) -> RoundLine | None:
        """The first that is not done yet."""
        return next((line for line in self.lines if not line.done), None)

    def show_lines(self, lines: tuple[RoundLine, ...]) -> None:
        """Show the rounds of a plan."""
        self.lines = lines
        coming = self.coming
        self.setVisible(bool(lines))
        self.start.setVisible(coming is not None)
        if coming is None:
            self.title.setText(_("Rounds: done for today"))
            self.reason.setText("")
        else:
            self.title.setText(
                _("{title}, {seconds:.0f} min", title=coming.title, seconds=coming.seconds / 60)
            )
            source = f" ({coming.source})" if self._sources else ""
            self.reason.setText(coming.reason + source)
        self.title.setToolTip(self.reason.text())
        self._fit()

    @property
    def seconds(self) -> float:
        """How long what is not done yet should take."""
        return sum(line.seconds for line in self.lines if not line.done)

    def set_low(self, low: bool) -> None:
        """Where there is little room the reason stands in the tip only."""
        self._low = low
        self._fit()

    def _fit(self) -> None:
        self.reason.setVisible(bool(self.reason.text()) and not self._low)

    @Slot()
    def show_sources(self) -> None:
        """Show what the reason rests on, or hide it."""
        self._sources = not self._sources
        self.show_lines(self.lines)

    @Slot()
    def begin(self) -> None:
        """Call the round shown."""
        if self.coming is not None:
            self.asked.emit(self.coming.wish)
