"""A presentation clicker's two buttons, obeyed by what is going on (`actions.CLICKER_TABLE`).

Most clickers send Page Down and Page Up; other keys of any device can be assigned. The back button
held for a second stops everything (`stopkey`), so that "missed" shows when it is let go.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.ui.actions import CLICKER_TABLE, clicker_words
from rehearse.ui.bindings import Bindings
from rehearse.ui.pages.rehearse.controller import RehearseController
from rehearse.ui.pages.rehearse.rehearsal_host import RehearsalHost
from rehearse.ui.pages.rehearse.run_question import RunQuestion


class Clicker(QObject):
    """Turns forward and back into actions.

    Signals:
        pointed: the question points at another pose.
    """

    pointed = Signal()

    def __init__(
        self,
        keys: Bindings,
        host: RehearsalHost,
        controller: RehearseController,
        question: RunQuestion,
    ) -> None:
        super().__init__(controller)
        self._keys, self._host = keys, host
        self._controller, self._question = controller, question
        self._is_missed = False
        self._acts: dict[str, Callable[[], object]] = {
            "begin": controller.main_action,
            "back": controller.section_before,
            "clean": controller.clean,
            "missed": self._wait_for_release,
            "next": controller.next_section,
            "stop": host.stop,
        }

    @property
    def _state(self) -> str:
        """A state of the table."""
        if not self._host.busy:
            return "nothing plays"
        return "a judged drill plays" if self._host.judged else "anything else plays"

    def words(self) -> str:
        """What the two buttons do now, for the foot of the page."""
        on, back = self._keys.label("clicker_on"), self._keys.label("clicker_back")
        forward, backward = clicker_words(self._state)
        return f"Clicker: {on} {forward}, {back} {backward}, {back} held stops everything."

    @Slot()
    def on(self) -> None:
        """The forward button."""
        if self._question.asking:
            self._question.confirm()
        elif self._host.paused:
            self._acts["begin"]()
        else:
            self._acts[CLICKER_TABLE[self._state][0]]()

    @Slot()
    def back(self) -> None:
        """The back button."""
        if self._question.asking:
            self._question.point_back()
            self.pointed.emit()
        else:
            self._acts[CLICKER_TABLE[self._state][1]]()

    def _wait_for_release(self) -> None:
        """Whether it is a press or held shows when it is let go."""
        self._is_missed = True

    def released(self) -> None:
        """A button was let go: a short press says missed."""
        if self._is_missed:
            self._is_missed = False
            self._controller.missed()

    @Slot()
    def forget(self) -> None:
        """It was held: everything has stopped, and nothing is said to be missed."""
        self._is_missed = False
