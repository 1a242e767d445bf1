"""What is being worked on, at the head of the window, and what went wrong, in a line at its foot.

A sentence said by `Workspace.errorRaised` stands until another is said, or it is cleared. One that
was given a cause – a save that failed, a job, a lost speaker – stands until that cause is mended,
whatever is said in between, and goes by itself then (`ErrorMessages`). A `Notice` tells why a
gesture did nothing, until the next one that does something.

"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QWidget

from rehearse.ui import theme
from rehearse.ui.widgets import ElidedLabel
from rehearse.words import _

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


#: Milliseconds a job takes at least to be worth telling.
PATIENCE = 600


class BusyLine(QWidget):
    """The oldest job in words, how far it is, and a button that stops it.

    Hidden when idle, and for work that is done in a moment; its room is kept, so that nothing
    beside or below it moves when it comes and goes.
    """

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        kept = self.sizePolicy()
        kept.setRetainSizeWhenHidden(True)
        self.setSizePolicy(kept)
        self._words = ElidedLabel()
        self._words.setProperty("role", "dim")
        self._bar = QProgressBar(textVisible=False)
        self._bar.setAccessibleName(_("Progress"))
        self._bar.setMinimumWidth(8 * theme.STEP)
        self._stop = QPushButton(_("Stop"))
        self._stop.setAccessibleName(_("Stop the work in progress"))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(theme.STEP)
        for widget in (self._words, self._bar, self._stop):
            row.addWidget(widget, {self._words: 3, self._bar: 2}.get(widget, 0))
        self._stop.clicked.connect(self._stop_first)
        self._patience = QTimer(self, singleShot=True, interval=PATIENCE)
        self._patience.timeout.connect(self.show)
        self.hide()
        workspace.jobChanged.connect(self._refresh)
        self._refresh()

    @Slot()
    def _refresh(self) -> None:
        jobs = self._workspace.jobs
        if not jobs:
            self._patience.stop()
            self.hide()
            return
        if self.isHidden() and not self._patience.isActive():
            self._patience.start()
        job = jobs[0]
        more = _("  (and {number} more)", number=len(jobs) - 1) if len(jobs) > 1 else ""
        self._words.setText(f"{job.words}{f': {job.text}' if job.text else ' …'}{more}")
        self._bar.setRange(0, 0 if job.fraction is None else 1000)
        self._bar.setValue(round(1000 * (job.fraction or 0)))

    @Slot()
    def _stop_first(self) -> None:
        if self._workspace.jobs:
            self._workspace.stop_job(self._workspace.jobs[0])


class ErrorLine(QWidget):
    """One sentence in the layout, so that it never covers anything; Escape or its button clears.

    Told by the word and the triangle before it, not by its colour alone.
    """

    cleared = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._words = QLabel(wordWrap=True)
        self._words.setProperty("role", "fault")
        self._words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._close = QPushButton(_("OK"))
        self._close.setAccessibleName(_("Clear the fault line"))
        row = QHBoxLayout(self)
        row.setContentsMargins(3 * theme.STEP, theme.STEP, 3 * theme.STEP, theme.STEP)
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self._words, 1)
        row.addWidget(self._close)
        self._close.clicked.connect(self.clear)
        self.hide()

    @property
    def text(self) -> str:
        """What it says now; empty when hidden."""
        return self._words.text().removeprefix("▲ ") if not self.isHidden() else ""

    @Slot(str)
    def show_error(self, sentence: str) -> None:
        """Say one sentence; an empty one clears the line."""
        lines = sentence.strip().splitlines()
        more = _("  (and {number} more)", number=len(lines) - 1) if len(lines) > 1 else ""
        self._words.setText(f"▲ {lines[0]}{more}" if lines else "")
        self._words.setToolTip(theme.tip("\n".join(lines)))
        self.setAccessibleName(lines[0] if lines else "")
        self.setVisible(bool(lines))

    @Slot()
    def clear(self) -> None:
        """Hide the line."""
        self.show_error("")
        self.cleared.emit()
