"""A copy from the coach: what differs, in words, taken over pose by pose and piece by piece."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.files.user_error import UserError
from rehearse.routine.folder import OpenedFolder, open_folder
from rehearse.routine.merge import (
    Offer,
    apply_offers,
    common_save,
    import_files,
    offers,
)
from rehearse.routine.model import Routine
from rehearse.routine.remarks import Remark, state_of, with_changes
from rehearse.routine.zip_import import open_bundle
from rehearse.ui import file_dialog, theme
from rehearse.ui.flows.opening import downloads_folder
from rehearse.ui.jobs import RunningJob
from rehearse.ui.pages.routine.notes import Note, NoteList
from rehearse.ui.workspace import Workspace
from rehearse.words import _, ngettext

STILL_SHOWN = _("The routine still shows this pose – take over the poses first.")
_BY = {
    "theirs": _("Changed there."),
    "both": _("Conflict: you changed it too. Taking it over gives up yours."),
    "unknown": "",
}
_UNKNOWN = _(" No state is known that both come from: look at each one.")


class CopyPanel(QWidget):
    """Offers of the other copy; Return takes one over, the button all that are theirs."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._theirs: OpenedFolder | None = None
        self._common: Routine | None = None
        self._label = ""
        self._scratch: tempfile.TemporaryDirectory[str] | None = None
        self._unpacking: RunningJob | None = None
        self.folder = QPushButton(_("Folder …"))
        self.folder.setAccessibleName(_("Compare with a routine folder"))
        self.zip = QPushButton(_("Zip …"))
        self.zip.setAccessibleName(_("Compare with a zipped routine folder"))
        self.all = QPushButton(_("Take all theirs"))
        self.remarks = QPushButton(_("Remarks"))
        self.remarks.setAccessibleName(_("Remarks from the coach"))
        self.list = NoteList(_("Differences of the copy"))
        self.told = QLabel(
            _("A copy the coach changed: open it to see what differs."), wordWrap=True
        )
        self.told.setTextFormat(Qt.TextFormat.PlainText)
        self.told.setProperty("role", "dim")
        row = QHBoxLayout()
        row.setSpacing(theme.STEP)
        for button in (self.folder, self.zip, self.all):
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP)
        column.addLayout(row)
        second = QHBoxLayout()
        second.setSpacing(theme.STEP)
        second.addWidget(self.told, 1)
        second.addWidget(self.remarks, 0, Qt.AlignmentFlag.AlignTop)
        column.addLayout(second)
        column.addWidget(self.list, 1)
        self.list.setMinimumHeight(theme.STEP)  # a low page keeps its words whole
        self.folder.clicked.connect(self._choose_folder)
        self.zip.clicked.connect(self._choose_zip)
        self.all.clicked.connect(self.take_all)
        self.list.taken.connect(self._take)
        workspace.documentChanged.connect(self._refresh)
        self._refresh()

    def open(self, path: Path) -> None:
        """Compare with the routine folder or zip at `path`."""
        if not (path.is_file() and path.suffix.lower() == ".zip"):
            self._compare(path)
            return
        self.close_copy()
        self._scratch = tempfile.TemporaryDirectory(
            prefix="rehearse-copy-", ignore_cleanup_errors=True
        )
        into = Path(self._scratch.name)
        self._unpacking = self._workspace.run_job(
            _("Unpacking the copy"), open_bundle, path, into, done=self._compare
        )

    def propose(self, remarks: Sequence[Remark]) -> None:
        """Offer what these remarks propose, against the state they were written on."""
        folder, routine, beatmap = (
            self._workspace.folder,
            self._workspace.routine,
            self._workspace.beatmap,
        )
        if folder is None or routine is None or beatmap is None or not remarks:
            return
        self.close_copy()
        common = state_of(folder, remarks[0].base, beatmap, routine) or routine
        self._theirs = OpenedFolder(folder, with_changes(common, beatmap, remarks), beatmap)
        self._common = common
        self._label = _("Proposed by {author}", author=remarks[0].author or _("the coach"))
        self._refresh()
        self._give_keys()

    def _compare(self, folder: Path) -> None:
        self._unpacking = None
        self._label = ""
        mine, beatmap = self._workspace.folder, self._workspace.beatmap
        routine = self._workspace.routine
        if mine is None or routine is None or beatmap is None:
            return
        try:
            self._theirs = open_folder(folder)
            self._common = common_save(mine, self._theirs.folder, beatmap, routine)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
        self._refresh()
        self._give_keys()

    def _give_keys(self) -> None:
        """Return takes over what is marked; a button that asked for the copy is done with."""
        if self.isVisible() and self.list.notes:
            self.list.setFocus()

    def close_copy(self) -> None:
        """Forget the copy and what was unpacked for it."""
        self._theirs = self._common = None
        if self._unpacking is not None:
            self._workspace.stop_job(self._unpacking)
            self._unpacking = None
        if self._scratch is not None:
            self._scratch.cleanup()
            self._scratch = None

    @Slot()
    def take_all(self) -> None:
        """Take over everything the copy proposes."""
        self._take_over([n.data for n in self.list.notes if n.data.wanted])
        self._give_keys()

    def _take(self, note: Note) -> None:
        self._take_over([note.data])

    def _take_over(self, chosen: list[Offer]) -> None:
        routine, beatmap = self._workspace.routine, self._workspace.beatmap
        folder = self._workspace.folder
        if routine is None or beatmap is None or self._theirs is None or not chosen:
            return
        if folder is None:
            return
        words = (
            chosen[0].text
            if len(chosen) == 1
            else _("{number} changes of the copy", number=len(chosen))
        )
        new = apply_offers(routine, beatmap, chosen, self._theirs)
        if new == routine:
            self._workspace.errorRaised.emit(STILL_SHOWN)
            return
        try:
            if self._theirs.folder != folder:
                new = import_files(new, folder, self._theirs, routine)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
            return
        self._workspace.edit(_("take over {words}", words=words), routine=new)

    @Slot()
    def _refresh(self) -> None:
        routine, beatmap, theirs = self._workspace.routine, self._workspace.beatmap, self._theirs
        self.all.setEnabled(False)
        if theirs is None or routine is None or beatmap is None:
            self.list.show_notes(())
            return
        try:
            found = offers(routine, beatmap, theirs, self._common)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
            found = ()
        self.list.show_notes([_note(offer) for offer in found])
        self.all.setEnabled(any(offer.wanted for offer in found))
        self.told.setText(f"{self._label or theirs.folder.name}: {_told(found)}")

    @Slot()
    def _choose_folder(self) -> None:
        if name := file_dialog.open_folder(self, _("Compare with a routine folder")):
            self.open(Path(name))

    @Slot()
    def _choose_zip(self) -> None:
        start = downloads_folder()
        if name := file_dialog.open_file(self, _("Compare with a zip"), start, _("Zip (*.zip)")):
            self.open(Path(name))


def _told(found: Sequence[Offer]) -> str:
    """How much there is to take over, and of what kind."""
    if not found:
        return _("nothing there that you do not have.")
    clashes = sum(offer.by == "both" for offer in found)
    changed = len(found) - clashes
    parts = (
        [ngettext("{number} change", "{number} changes", changed, number=changed)]
        if changed
        else []
    )
    parts += (
        [ngettext("{number} conflict", "{number} conflicts", clashes, number=clashes)]
        if clashes
        else []
    )
    unknown = any(offer.by == "unknown" for offer in found)
    return _(
        "{parts}; what only you changed stays.{unknown}",
        parts=", ".join(parts),
        unknown=_UNKNOWN if unknown else "",
    )


def _note(offer: Offer) -> Note:
    sign = {"theirs": "◆", "both": "△"}.get(offer.by, "·")
    label, text = (words[:1].upper() + words[1:] for words in (offer.label, offer.text))
    return Note(sign, label, f"{text.rstrip('.')}. {_BY[offer.by]}".strip(), offer, _("take over"))
