"""A presentation clicker's two buttons, obeyed by what is going on (the table is in `keys`)."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from rehearse.ui.pages.rehearse.conductor import Conductor
from rehearse.ui.pages.rehearse.deeds import Deeds
from rehearse.ui.pages.rehearse.keys import Keys
from rehearse.ui.pages.rehearse.question import Question

#: Milliseconds after which a button counts as held.
_HELD = 1000


class Clicker(QObject):
    """Turns forward and back into deeds.

    Signals:
        pointed: the question points at another pose.
    """

    pointed = Signal()

    def __init__(self, keys: Keys, conductor: Conductor, deeds: Deeds, question: Question) -> None:
        super().__init__(deeds)
        self._keys, self._conductor = keys, conductor
        self._deeds, self._question = deeds, question
        self._holding = QTimer(self, singleShot=True, interval=_HELD)
        self._holding.timeout.connect(conductor.stop)

    def words(self) -> str:
        """What the two buttons do now, for the foot of the page."""
        on, back = self._keys.label("clicker_on"), self._keys.label("clicker_back")
        if not self._conductor.busy:
            return f"Clicker: {on} begins, {back} chooses the section before."
        if self._conductor.judged:
            return f"Clicker: {on} clean, {back} missed, {back} held stops."
        return f"Clicker: {on} next section, {back} stops."

    @Slot()
    def on(self) -> None:
        """The forward button."""
        if self._question.asking:
            self._question.confirm()
        elif not self._conductor.busy or self._conductor.paused:
            self._deeds.main_action()
        elif self._conductor.judged:
            self._deeds.clean()
        else:
            self._deeds.next_section()

    @Slot()
    def back(self) -> None:
        """The back button."""
        if self._question.asking:
            self._question.point_back()
            self.pointed.emit()
        elif not self._conductor.busy:
            self._deeds.section_before()
        elif self._conductor.judged:
            self._holding.start()  # what it means shows when it is let go
        else:
            self._conductor.stop()

    def released(self) -> None:
        """A button was let go: a short press says missed."""
        if self._holding.isActive():
            self._holding.stop()
            self._deeds.missed()
