"""The two lines at the foot of the window: what is being worked on, and what went wrong."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QWidget

from rehearse.ui import theme
from rehearse.ui.workspace import Workspace

#: Milliseconds a job takes at least to be worth a line, which moves all that is above it.
PATIENCE = 600


class BusyLine(QWidget):
    """The oldest job in words, how far it is, and a button that stops it.

    Hidden when idle, and for work that is done in a moment.
    """

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._words = QLabel()
        self._bar = QProgressBar(textVisible=False)
        self._bar.setAccessibleName("Progress")
        self._stop = QPushButton("Stop")
        self._stop.setAccessibleName("Stop the work in progress")
        row = QHBoxLayout(self)
        row.setContentsMargins(3 * theme.STEP, theme.STEP, 3 * theme.STEP, theme.STEP)
        row.setSpacing(2 * theme.STEP)
        for widget in (self._words, self._bar, self._stop):
            row.addWidget(widget, 1 if widget is self._bar else 0)
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
        more = f"  (and {len(jobs) - 1} more)" if len(jobs) > 1 else ""
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
        self._close = QPushButton("OK")
        self._close.setAccessibleName("Clear the fault line")
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
        more = f"  (and {len(lines) - 1} more)" if len(lines) > 1 else ""
        self._words.setText(f"▲ {lines[0]}{more}" if lines else "")
        self._words.setToolTip(theme.tip("\n".join(lines)))
        self.setAccessibleName(lines[0] if lines else "")
        self.setVisible(bool(lines))

    @Slot()
    def clear(self) -> None:
        """Hide the line."""
        self.show_error("")
        self.cleared.emit()
