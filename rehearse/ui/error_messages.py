"""What stands in the fault line, and for how long: a sentence goes with its cause.

A sentence said by `Workspace.errorRaised` stands until another is said, or it is cleared. One that
was given a cause – a save that failed, a job, a lost speaker – stands until that cause is mended,
whatever is said in between, and goes by itself then.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

if TYPE_CHECKING:
    from rehearse.ui.workspace import Workspace

#: Causes that several parts of the window know.
SOUND, SAVING, FOLDER, FLOW, OTHER = "sound", "saving", "folder", "flow", "other song"


class ErrorMessages(QObject):
    """The sentences that stand now.

    Signals:
        changed: what the fault line is to show; empty for nothing.
    """

    changed = Signal(str)

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._said = ""
        self._standing: dict[str, str] = {}
        self._away: set[str] = set()
        self._is_telling = False
        workspace.errorRaised.connect(self._take)

    @property
    def text(self) -> str:
        """What the fault line shows: what was said last, else the newest that stands."""
        if self._said:
            return self._said
        shown = [text for cause, text in self._standing.items() if cause not in self._away]
        return shown[-1] if shown else ""

    def stand(self, cause: str, sentence: str) -> None:
        """Say a sentence that is true until `mend(cause)`; an empty one mends it."""
        if not sentence:
            self.mend(cause)
            return
        self._standing.pop(cause, None)
        self._standing[cause] = sentence
        self._away.discard(cause)
        self._is_telling = True
        try:
            self._workspace.errorRaised.emit(sentence)
        finally:
            self._is_telling = False

    def mend(self, cause: str) -> None:
        """The cause is gone, and its sentence with it."""
        if self._standing.pop(cause, None) is not None:
            self.changed.emit(self.text)

    @Slot()
    def forget(self) -> None:
        """All was read, or belongs to a routine that is no longer open."""
        self._said = ""
        self._standing.clear()
        self.changed.emit("")

    def put_away(self, away: bool) -> None:
        """Keep what was said so far off the full screen; it is there again afterwards."""
        self._away = set(self._standing) if away else set()
        if away:
            self._said = ""
        self.changed.emit(self.text)

    @Slot(str)
    def _take(self, sentence: str) -> None:
        self._said = "" if self._is_telling else sentence
        self.changed.emit(self.text)
