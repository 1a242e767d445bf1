"""The list of keys (?), made from the table of actions: what works here, and everywhere."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QPushButton, QScrollArea, QWidget

from rehearse.files.atomic import save_atomic
from rehearse.files.user_error import UserError
from rehearse.ui import file_dialog, theme
from rehearse.ui.actions import ON_KEYS, STOP, printed
from rehearse.ui.bindings import Bindings, keys_of
from rehearse.ui.flows.flow import Flow
from rehearse.ui.flows.opening import documents_folder
from rehearse.ui.key_list import clicker_rows, general_rows, key_groups, key_rows
from rehearse.ui.settings import Settings
from rehearse.ui.workspace import Workspace
from rehearse.words import _


def key_table(page: str, settings: Settings | None = None) -> QScrollArea:
    """The keys of a page beside those of the whole window, to be scrolled; narrow ones below."""
    here = key_rows(page, lambda action: keys_of(action, settings))
    area = QScrollArea()
    area.setProperty("role", "reader")  # the focus shows
    stop = (f"{printed(STOP.keys[0])}, {printed(STOP.keys[1])}", STOP.words)
    area.setWidget(_table([stop, *here, *general_rows()[1:]]))
    area.setWidgetResizable(True)
    area.setFrameShape(QScrollArea.Shape.NoFrame)
    area.setAccessibleName(_("All keys"))
    return area


class KeyHelp(Flow):
    """Fills the window with the keys of the page it was asked on."""

    def __init__(self, workspace: Workspace, page: str) -> None:
        super().__init__(workspace, _("Keys on the {page} page", page=page))
        rows = key_rows(page, lambda action: keys_of(action, workspace.settings))
        half = (len(rows) + 1) // 2
        inside = QWidget()
        row = QHBoxLayout(inside)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4 * theme.STEP)
        for part in (rows[:half], rows[half:], general_rows()):
            row.addWidget(_table(part), 1, Qt.AlignmentFlag.AlignTop)
        area = QScrollArea()
        area.setProperty("role", "reader")  # the focus shows
        area.setWidget(inside)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setAccessibleName(_("All keys"))
        self.body.addWidget(area, 1)
        self.sentence.hide()
        self.offer(_("OK"))
        self.sheet = QPushButton()
        bindings = Bindings(self, ON_KEYS, {ON_KEYS[0].name: self.save_sheet})
        bindings.button(self.sheet, ON_KEYS[0].name)
        self.foot.insertWidget(1, self.sheet)

    @Slot()
    def save_sheet(self) -> None:
        """Ask for a place and save every key as a PDF, with those that were assigned here."""
        from rehearse.handout.key_sheet import make_key_sheet  # no page needs it to be opened

        start = str(Path(documents_folder()) / (_("Rehearse keys") + ".pdf"))
        if not (
            chosen := file_dialog.save_file(self, _("Save the key sheet"), start, _("PDF (*.pdf)"))
        ):
            return
        settings = self.workspace.settings
        path = Path(chosen) if Path(chosen).suffix else Path(chosen).with_suffix(".pdf")
        groups = [*key_groups(lambda a: keys_of(a, settings)), (_("Clicker"), clicker_rows())]
        paper = "letter" if settings.get("handout_paper", "") == "letter" else "a4"
        try:
            save_atomic(path, make_key_sheet(_("Keys of Rehearse"), groups, paper))
        except UserError as error:
            self.workspace.errorRaised.emit(error.sentence)
            return
        self.say(_("The key sheet is in {name}.", name=path.name))
        self.sentence.show()

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
