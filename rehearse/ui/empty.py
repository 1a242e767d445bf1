"""What is shown while no routine is open: one sentence and its key."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.ui import theme


class EmptyState(QWidget):
    """Begin a routine (Space), open one (O, Z), or drop either.

    Signals:
        newAsked: begin a new routine. openAsked: open a folder. zipAsked: open a zipped one.
    """

    newAsked = Signal()
    openAsked = Signal()
    zipAsked = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        words = QLabel("No routine yet")
        words.setProperty("role", "display")
        how = QLabel("Press Space to begin with a song, O to open a routine, or drop either here.")
        how.setProperty("role", "body")
        self.new = QPushButton("New routine   Space")
        self.new.setProperty("role", "main")
        self.new.setAccessibleName("New routine, key Space")
        row = QHBoxLayout()
        row.setSpacing(2 * theme.STEP)
        self.open = QPushButton("Open a routine   O")
        self.open.setAccessibleName("Open a routine folder, key O")
        self.zip = QPushButton("Open a zip   Z")
        self.zip.setAccessibleName("Open a zipped routine, key Z")
        for button in (self.new, self.open, self.zip):
            row.addWidget(button)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(*(12 * theme.STEP,) * 4)
        column.setSpacing(3 * theme.STEP)
        column.addStretch(1)
        column.addWidget(words)
        column.addWidget(how)
        column.addLayout(row)
        column.addStretch(2)
        self.open.clicked.connect(self.openAsked)
        self.new.clicked.connect(self.newAsked)
        self.zip.clicked.connect(self.zipAsked)
        keys = {
            "Space": self.main_action,
            "N": self.newAsked,
            "O": self.openAsked,
            "Z": self.zipAsked,
        }
        for name, slot in keys.items():
            key = QShortcut(QKeySequence(name), self)
            key.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            key.activated.connect(slot)

    @Slot()
    def main_action(self) -> None:
        """Space: a new routine, wherever the focus is."""
        self.newAsked.emit()
