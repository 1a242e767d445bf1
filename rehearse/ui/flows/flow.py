"""What all flows look like: a heading, one sentence, a body, one main action, a way back."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QKeyEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.ui import theme
from rehearse.ui.status import FLOW
from rehearse.ui.workspace import Workspace
from rehearse.words import _


class Flow(QWidget):
    """Enter does the main action, Escape goes back; a file may be dropped.

    Signals:
        closed: done or left; the window takes the flow away.
        fullScreenWanted: it wants the whole screen, or no longer.
    """

    closed = Signal()
    fullScreenWanted = Signal(bool)

    def __init__(self, workspace: Workspace, heading: str) -> None:
        super().__init__()
        self.workspace = workspace
        self.setAccessibleName(heading)
        self.setAcceptDrops(True)
        self.heading = QLabel(heading)
        self.heading.setProperty("role", "title")
        self.sentence = QLabel(wordWrap=True)
        self.sentence.setProperty("role", "body")
        self.main = QPushButton()
        self.main.setProperty("role", "main")
        self.back = back = QPushButton(_("Back   Esc"))
        back.setAccessibleName(_("Back, key Escape"))
        back.clicked.connect(self.leave)
        self.main.clicked.connect(self.do_main)
        self.body = QVBoxLayout()
        self.body.setSpacing(2 * theme.STEP)
        self.foot = QHBoxLayout()
        self.foot.setSpacing(2 * theme.STEP)
        self.foot.addWidget(self.main)
        self.foot.addStretch(1)
        self.foot.addWidget(back)
        self.column = column = QVBoxLayout(self)
        column.setContentsMargins(6 * theme.STEP, 3 * theme.STEP, 6 * theme.STEP, 3 * theme.STEP)
        column.setSpacing(2 * theme.STEP)
        column.addWidget(self.heading)
        column.addWidget(self.sentence)
        column.addLayout(self.body, 1)
        column.addStretch(0)
        column.addLayout(self.foot)

    def say(self, sentence: str) -> None:
        """Put one sentence under the heading."""
        self.sentence.setText(sentence)

    def offer(self, words: str, *, ready: bool = True) -> None:
        """Name the main action, and whether it can be done now."""
        self.main.setText(_("{words}   Enter", words=words))
        self.main.setAccessibleName(_("{words}, key Enter", words=words))
        self.main.setEnabled(ready)

    def do_main(self) -> None:
        """The main action; each flow has its own."""
        raise NotImplementedError

    def main_action(self) -> None:
        """Space outside its own boxes and buttons: the main action, where it can be done."""
        self.main.click()

    def leave(self) -> None:
        """Go back; nothing was changed."""
        self.workspace.standing.mend(FLOW)
        self.closed.emit()

    def takes(self, path: Path) -> bool:
        """Whether a file or folder that is dropped is for this flow; else it is for the window."""
        return True

    def take_path(self, path: Path) -> None:
        """A file or folder was dropped; each flow has its own use for it."""
        raise NotImplementedError

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter and Escape, wherever the focus is."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.main.click()
        elif event.key() == Qt.Key.Key_Escape:
            self.leave()
        else:
            super().keyPressEvent(event)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """A file from this machine may be dropped."""
        urls = event.mimeData().urls()
        if urls and urls[0].isLocalFile() and self.takes(Path(urls[0].toLocalFile())):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Take the first file dropped."""
        event.acceptProposedAction()
        self.take_path(Path(event.mimeData().urls()[0].toLocalFile()))


def field_grid(fields: Sequence[tuple[str, QWidget]]) -> QGridLayout:
    """Fields under each other, each with its words before it, in half the width."""
    grid = QGridLayout()
    grid.setHorizontalSpacing(2 * theme.STEP)
    grid.setVerticalSpacing(theme.STEP)
    for row, (words, field) in enumerate(fields):
        label = QLabel(words)
        label.setBuddy(field)
        field.setAccessibleName(words.replace("&", ""))
        grid.addWidget(label, row, 0)
        grid.addWidget(field, row, 1)
    grid.setColumnStretch(1, 1)
    grid.setColumnStretch(2, 1)
    return grid
