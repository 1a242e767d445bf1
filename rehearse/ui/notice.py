"""Why a gesture did nothing, said until the next one that does something."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Slot

if TYPE_CHECKING:
    from rehearse.ui.workspace import Workspace


class Notice(QObject):
    """A sentence in the fault line that clears itself; any other fault stays until it is read."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace, self._said = workspace, False
        workspace.errorRaised.connect(self._another)

    def say(self, sentence: str) -> None:
        """Say one sentence."""
        self._workspace.errorRaised.emit(sentence)
        self._said = True

    def drop(self) -> None:
        """Something was done: the sentence, where it still stands there, is out of date."""
        if self._said:
            self._workspace.errorRaised.emit("")

    @Slot()
    def _another(self) -> None:
        self._said = False
