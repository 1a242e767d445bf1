"""The cautions of today, one at a time, at the foot of the page and never over the stage."""

from __future__ import annotations

from datetime import datetime

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from rehearse.practice.cautions import Caution, due, due_for_round
from rehearse.ui import theme
from rehearse.ui.workspace import Workspace

#: Minutes a session is taken to last where no plan says so.
_USUAL_MINUTES = 45.0


class CautionLine(QWidget):
    """Shows the first caution that is due; once understood it stays away for today.

    Those of the first start are shown once and never again.

    Signals:
        cleared: the last one was understood.
    """

    cleared = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._due: tuple[Caution, ...] = ()
        #: Seconds of the longest hold of the comparison round that is chosen; None: none is.
        self.round_hold: float | None = None
        self._words = QLabel()
        self._words.setWordWrap(True)
        self.understood = QPushButton("OK")
        self.understood.setAccessibleName("Caution understood")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2 * theme.STEP)
        row.addWidget(self._words, 1)
        row.addWidget(self.understood)
        self.understood.clicked.connect(self._understood)

    @property
    def is_due(self) -> bool:
        """Whether there is one to show."""
        return bool(self._due)

    @property
    def text(self) -> str:
        """What it says."""
        return self._due[0].text if self._due else ""

    def refresh(self) -> None:
        """Look again what is due for the open routine."""
        workspace = self._workspace
        self._due = ()
        today = datetime.now().astimezone().date()
        if workspace.routine is not None and self.round_hold is not None:
            self._due = due_for_round(self.round_hold, self._seen(today.isoformat()))
        elif (
            workspace.routine is not None
            and workspace.beatmap is not None
            and workspace.routine.poses
        ):
            self._due = due(
                workspace.routine,
                workspace.beatmap,
                workspace.catalogue,
                minutes=_USUAL_MINUTES,
                today=today,
                seen=self._seen(today.isoformat()),
            )
        self._show()

    def _seen(self, today: str) -> set[str]:
        from rehearse.practice.cautions import load_cautions

        stored = {
            c.key: self._workspace.settings.get(f"cautions/{c.key}", "") for c in load_cautions()
        }
        return {key for key, day in stored.items() if day in (today, "always")}

    @Slot()
    def _understood(self) -> None:
        first, *rest = self._due
        today = datetime.now().astimezone().date().isoformat()
        day = "always" if first.when == "first start" else today
        self._workspace.settings.put(f"cautions/{first.key}", day)
        self._due = tuple(rest)
        self._show()
        if not rest:
            self.cleared.emit()

    def _show(self) -> None:
        self._words.setText(self.text)
