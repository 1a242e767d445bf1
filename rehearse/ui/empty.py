"""What is shown while no routine is open: one sentence and its key."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.ui import theme
from rehearse.ui.desk import Desk


class EmptyState(QWidget):
    """Open a routine (Space, or drop it), or begin one (N).

    Signals:
        newAsked: begin a new routine. zipAsked: open a zipped one.
    """

    newAsked = Signal()
    zipAsked = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        words = QLabel("No routine yet")
        words.setProperty("role", "display")
        how = QLabel("Press N to begin with a song, Space to open a routine, or drop either here.")
        how.setProperty("role", "body")
        self.open = QPushButton("Open a routine   Space")
        self.open.setProperty("role", "main")
        self.open.setAccessibleName("Open a routine folder, key Space")
        row = QHBoxLayout()
        row.setSpacing(2 * theme.STEP)
        self.new = QPushButton("New routine   N")
        self.new.setAccessibleName("New routine, key N")
        self.zip = QPushButton("Open a zip   Z")
        self.zip.setAccessibleName("Open a zipped routine, key Z")
        for button in (self.open, self.new, self.zip):
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
        self.open.clicked.connect(self.choose)
        self.new.clicked.connect(self.newAsked)
        self.zip.clicked.connect(self.zipAsked)
        for name, slot in (("Space", self.choose), ("N", self.newAsked), ("Z", self.zipAsked)):
            key = QShortcut(QKeySequence(name), self)
            key.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            key.activated.connect(slot)

    @Slot()
    def choose(self) -> None:
        """Ask for a folder."""
        if folder := QFileDialog.getExistingDirectory(self, "Open a routine folder"):
            self._desk.open(Path(folder))
