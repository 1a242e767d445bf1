"""Remarks from the coach, each at its place: taken, answered or set aside."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QGuiApplication, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.files.door import read_file
from rehearse.files.user_error import UserError
from rehearse.routine.model import Placed, Routine
from rehearse.routine.remarks import (
    LARGEST,
    LONGEST,
    Remark,
    State,
    load_remarks,
    plain_text,
    read_remarks,
    receive,
    save_remarks,
)
from rehearse.ui import file_dialog, theme
from rehearse.ui.flows.opening import downloads_folder
from rehearse.ui.pages.routine.askline import AskLine
from rehearse.ui.pages.routine.notes import Note, NoteList
from rehearse.ui.workspace import Workspace
from rehearse.words import _, place_text, short_day_text, shown

_SIGNS = {"new": "◆", "taken": "✓", "answered": "✓", "set aside": "·"}
_NONE = _("No remarks yet: drop the file that the coach's page saved.")
#: Height from which on all buttons have room beside the list.
_ROOM = 22 * theme.STEP
#: What the clipboard is called in a sentence.
_PASTED = Path(_("the text that was copied"))


class RemarkPanel(QWidget):
    """The remarks kept in the routine's folder, new ones first.

    Attributes:
        open_on: ids of the poses and moves with a remark that nothing became of yet.

    Signals:
        pointed: id of the pose the marked remark is on, else "", and a second of the track.
        proposed: remarks whose changes are to be offered. openChanged: `open_on` is another one.
    """

    pointed = Signal(str, float)
    proposed = Signal(list)
    openChanged = Signal()

    def __init__(self, workspace: Workspace, ask: AskLine) -> None:
        super().__init__()
        self._workspace, self._ask = workspace, ask
        self.open_on: frozenset[str] = frozenset()
        self._folder: Path | None = None  # whose remarks are known
        self.file = QPushButton(_("File …"))
        self.file.setAccessibleName(_("Open a file of remarks"))
        self.paste = QPushButton(_("Paste"))
        self.paste.setAccessibleName(_("Take the remarks that were copied as text"))
        self.told = QLabel(_NONE, wordWrap=True)
        self.told.setTextFormat(Qt.TextFormat.PlainText)
        self.told.setProperty("role", "dim")
        self.list = NoteList(_("Remarks"))
        self.taken = QPushButton(_("Taken"))
        self.answer = QPushButton(_("Answer"))
        self.aside = QPushButton(_("Set aside"))
        self._verdicts = (self.taken, self.answer, self.aside)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP)
        self._coming, self._states = _row(self.file, self.paste), _row(*self._verdicts)
        column.addWidget(self._coming)
        column.addWidget(self.told)
        column.addWidget(self.list, 1)
        column.addWidget(self._states)
        self.list.setMinimumHeight(theme.STEP)
        self.file.clicked.connect(self._choose)
        self.paste.clicked.connect(self._paste)
        self.taken.clicked.connect(self._mark_taken)
        self.aside.clicked.connect(self._mark_aside)
        self.answer.clicked.connect(self._ask_answer)
        self.list.taken.connect(self._take)
        self.list.marked.connect(self._point)
        workspace.documentChanged.connect(self._follow)
        self._give_room()

    def open(self, path: Path) -> None:
        """Take the remarks of a file; what they propose is offered at once."""
        try:
            self._receive(read_file(path, LARGEST), path)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)

    @Slot()
    def _follow(self) -> None:
        """The routine is another one; an edit of the same one is shown where it is seen."""
        if self.isVisible() or self._workspace.folder != self._folder:
            self.refresh()

    def refresh(self) -> None:
        """Show what is kept in the folder; a damaged file is told of where the list is seen."""
        remarks: tuple[Remark, ...] = ()
        self._folder = self._workspace.folder
        if self._folder is not None:
            try:
                remarks = load_remarks(self._folder)
            except UserError as error:
                if self.isVisible():
                    self._workspace.errorRaised.emit(error.sentence)
        marked = frozenset(r.pose or r.move for r in remarks if r.state == "new") - {""}
        if marked != self.open_on:
            self.open_on = marked
            self.openChanged.emit()
        ordered = sorted(remarks, key=lambda remark: (remark.state != "new", self._place(remark)))
        self.list.show_notes([self._note(remark) for remark in ordered])
        self.told.setVisible(not ordered)
        self._give_room()

    def showEvent(self, event: QShowEvent) -> None:
        """What happened meanwhile is seen now."""
        super().showEvent(event)
        self.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Where there is little room the list comes first; a dropped file needs no button."""
        super().resizeEvent(event)
        self._give_room()

    def _give_room(self) -> None:
        there = bool(self.list.notes)
        self._states.setVisible(there)
        self._coming.setVisible(not there or self.height() >= theme.px(_ROOM))

    def _receive(self, data: bytes, path: Path) -> None:
        folder, routine = self._workspace.folder, self._workspace.routine
        if folder is None or routine is None or self._workspace.saving.look_only:
            raise UserError(
                _("remarks need an open routine that can be saved"), do=_("open it here first")
            )
        new = receive(folder, read_remarks(data, path, routine.id))
        self.refresh()
        self.list.setFocus()
        if not new:
            self._workspace.errorRaised.emit(
                _("{name}: all its remarks are here already.", name=path.name)
            )
        elif changes := [remark for remark in new if remark.change]:
            self.proposed.emit(changes)

    @Slot()
    def _choose(self) -> None:
        start, kinds = downloads_folder(), _("Remarks (*.json *.txt)")
        if name := file_dialog.open_file(self, _("Open remarks"), start, kinds):
            self.open(Path(name))

    @Slot()
    def _paste(self) -> None:
        text = QGuiApplication.clipboard().text()[: LARGEST + 1]
        try:
            self._receive(text.encode("utf-8", "replace"), _PASTED)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)

    @Slot()
    def _mark_taken(self) -> None:
        self._settle("taken")

    @Slot()
    def _mark_aside(self) -> None:
        self._settle("set aside")

    @Slot()
    def _ask_answer(self) -> None:
        if self.list.note is not None:
            first = self.list.note.data.answer
            self._ask.ask(_("Answer"), first, lambda text: self._settle("answered", text))

    def _settle(self, state: State, answer: str = "") -> None:
        """Keep what became of the marked remark."""
        note, folder = self.list.note, self._workspace.folder
        if note is None or folder is None or self._workspace.saving.look_only:
            return
        try:
            kept = [
                _settled(remark, state, answer) if remark.id == note.data.id else remark
                for remark in load_remarks(folder)
            ]
            save_remarks(folder, kept)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
        self.refresh()

    def _take(self, note: Note) -> None:
        if note.data.change and note.data.state == "new":
            self.proposed.emit([note.data])
        else:
            self._settle("taken")

    def _point(self, note: Note) -> None:
        placed = self._placed(note.data)
        if placed is not None or note.data.time is not None:
            self.pointed.emit(placed.id if placed else "", self._place(note.data))

    def _placed(self, remark: Remark) -> Placed | None:
        """The pose it is on, or the one its move leads into."""
        routine: Routine | None = self._workspace.routine
        for placed in routine.poses if routine else ():
            if placed.id == remark.pose or any(m.id == remark.move for m in placed.moves):
                return placed
        return None

    def _place(self, remark: Remark) -> float:
        """Second of the track; what is gone comes last."""
        placed, beatmap = self._placed(remark), self._workspace.beatmap
        if placed is not None and beatmap is not None:
            return beatmap.time_of(placed.hit)
        return 1e9 if remark.time is None else remark.time

    def _note(self, remark: Remark) -> Note:
        who = f"{remark.author or _('The coach')}{_day(remark.written)}"
        proposal = _("Proposes a change. ") if remark.change else ""
        answer = _("\nAnswer: {answer}", answer=remark.answer) if remark.answer else ""
        state = (
            ""
            if remark.state == "new"
            else f"{shown(remark.state)[:1].upper()}{shown(remark.state)[1:]}. "
        )
        text = f"{state}{who}: {proposal}{remark.text}{answer}"
        act = _("see the change") if remark.change and remark.state == "new" else _("taken")
        return Note(_SIGNS[remark.state], self._where(remark), text, remark, act)

    def _where(self, remark: Remark) -> str:
        placed, beatmap = self._placed(remark), self._workspace.beatmap
        if placed is not None:
            moves = [move.move for move in placed.moves if move.id == remark.move]
            pose = shown(placed.pose)
            what = _("{move} before {pose}", move=shown(moves[0]), pose=pose) if moves else pose
            return f"{place_text(placed.hit)} {what}"
        if remark.time is not None and beatmap is not None:
            return place_text(beatmap.position_at(min(remark.time, beatmap.duration), 0.03))
        return _("No longer there")


def _settled(remark: Remark, state: State, answer: str) -> Remark:
    answer = plain_text(answer)[:LONGEST] or remark.answer
    return replace(remark, state=state, answer=answer)


def _day(written: str) -> str:
    try:
        return f", {short_day_text(datetime.fromisoformat(written).astimezone())}"
    except (ValueError, OverflowError, OSError):
        return ""


def _row(*buttons: QPushButton) -> QWidget:
    holder = QWidget()
    row = QHBoxLayout(holder)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(theme.STEP)
    for button in buttons:
        row.addWidget(button)
    return holder
