"""The list of keys (?), made from the table of actions: what works here, and everywhere."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QScrollArea, QWidget

from rehearse.ui import theme
from rehearse.ui.actions import STOP, printed
from rehearse.ui.bindings import keys_of
from rehearse.ui.flows.flow import Flow
from rehearse.ui.key_list import general_rows, key_rows
from rehearse.ui.settings import Settings
from rehearse.ui.workspace import Workspace


def key_table(page: str, settings: Settings | None = None) -> QScrollArea:
    """The keys of a page beside those of the whole window, to be scrolled; narrow ones below."""
    here = key_rows(page, lambda action: keys_of(action, settings))
    area = QScrollArea()
    stop = (f"{printed(STOP.keys[0])}, {printed(STOP.keys[1])}", STOP.words)
    area.setWidget(_table([stop, *here, *general_rows()[1:]]))
    area.setWidgetResizable(True)
    area.setFrameShape(QScrollArea.Shape.NoFrame)
    area.setAccessibleName("All keys")
    return area


class KeyHelp(Flow):
    """Fills the window with the keys of the page it was asked on."""

    def __init__(self, workspace: Workspace, page: str) -> None:
        super().__init__(workspace, f"Keys on the {page} page")
        rows = key_rows(page, lambda action: keys_of(action, workspace.settings))
        half = (len(rows) + 1) // 2
        inside = QWidget()
        row = QHBoxLayout(inside)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4 * theme.STEP)
        for part in (rows[:half], rows[half:], general_rows()):
            row.addWidget(_table(part), 1, Qt.AlignmentFlag.AlignTop)
        area = QScrollArea()
        area.setWidget(inside)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setAccessibleName("All keys")
        self.body.addWidget(area, 1)
        self.sentence.hide()
        self.offer("OK")

    def do_main(self) -> None:
        """Back to the page."""
        self.leave()


def _table(rows: list[tuple[str, str]]) -> QWidget:
    """A row for each key; labels by themselves, since one of rich text misjudges its height."""
    table = QWidget()
    grid = QGridLayout(table)
    grid.setContentsMargins(0, 0, theme.STEP, 0)
    grid.setHorizontalSpacing(2 * theme.STEP)
    grid.setVerticalSpacing(theme.STEP // 2)
    grid.setColumnStretch(1, 1)
    for number, (keys, words) in enumerate(rows):
        label = QLabel(keys)
        label.setProperty("role", "key")
        grid.addWidget(label, number, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(QLabel(words, wordWrap=True), number, 1, Qt.AlignmentFlag.AlignTop)
    grid.setRowStretch(len(rows), 1)
    return table
