"""Why a gesture did nothing, said until the next one that does something."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Slot

if TYPE_CHECKING:
    from rehearse.ui.desk import Desk


class Hint(QObject):
    """A sentence in the fault line that clears itself; any other fault stays until it is read."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._desk, self._said = desk, False
        desk.faultRaised.connect(self._another)

    def say(self, sentence: str) -> None:
        """Say one sentence."""
        self._desk.faultRaised.emit(sentence)
        self._said = True

    def drop(self) -> None:
        """Something was done: the sentence, where it still stands there, is out of date."""
        if self._said:
            self._desk.faultRaised.emit("")

    @Slot()
    def _another(self) -> None:
        self._said = False
