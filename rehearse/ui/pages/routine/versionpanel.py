"""Earlier saves: kept under a name, compared with now in words, restored as one step."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from PySide6.QtCore import Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import load_yaml
from rehearse.music.beatmap import BeatMap
from rehearse.routine.compare import compare
from rehearse.routine.folder import read_save
from rehearse.routine.model import Routine
from rehearse.routine.versions import Version, keep_as, list_versions, outline
from rehearse.ui import theme
from rehearse.ui.actions import key, named
from rehearse.ui.pages.routine.askline import AskLine
from rehearse.ui.pages.routine.notes import Note, NoteList
from rehearse.ui.workspace import Workspace
from rehearse.words import _, moment_text, ngettext, shown

#: Differences told one by one; the rest are counted.
_TOLD = 8
#: Height from which on list and button both have room.
_ROOM = 18 * theme.STEP


class VersionPanel(QWidget):
    """Versions, newest first; the marked one tells what has changed since."""

    def __init__(self, workspace: Workspace, ask: AskLine) -> None:
        super().__init__()
        self._workspace, self._ask = workspace, ask
        self.keep = QPushButton(_("Save version …   {key_keep}", key_keep=key("keep")))
        self.keep.setAccessibleName(
            _("{tip}, key {key_keep}", tip=named("keep").tip, key_keep=key("keep"))
        )
        self.list = NoteList(_("List of versions"))
        self.told = QLabel(
            _("No earlier saves yet – every change is kept here by itself."), wordWrap=True
        )
        self.told.setProperty("role", "dim")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP)
        column.addWidget(self.keep)
        column.addWidget(self.told)
        column.addWidget(self.list, 1)
        self.keep.clicked.connect(self.ask_name)
        self.list.marked.connect(self._tell)
        self.list.taken.connect(self._restore)
        workspace.documentChanged.connect(self._tell_anew)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Where there is hardly room for the list, its key alone keeps a state."""
        self.keep.setVisible(self.height() > _ROOM)
        super().resizeEvent(event)

    @Slot()
    def refresh(self) -> None:
        """Read the list anew; done when the panel comes up and after each keep."""
        if self._workspace.folder is None:
            self.list.show_notes(())
            return
        try:
            versions = outline(list_versions(self._workspace.folder))
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
            return
        self._show(versions)
        self.told.setVisible(not versions)

    @Slot()
    def _tell_anew(self) -> None:
        """The present state is another one: what was told of earlier ones is out of date."""
        if self.isVisible() and self.list.notes:
            self._show([note.data for note in self.list.notes])

    def _show(self, versions: Sequence[Version]) -> None:
        """Show these; the mark stays on the version it is on, wherever that stands now."""
        marked = self.list.note.data if self.list.note is not None else None
        self.list.show_notes([_note(v) for v in versions])
        row = next((k for k, v in enumerate(versions) if v == marked), 0)
        if versions:
            self.list.setCurrentIndex(self.list.model().index(row, 0))
            self._tell(self.list.notes[row])

    @Slot()
    def ask_name(self) -> None:
        """Ask what to call the present state."""
        self._ask.ask(_("Keep this state as"), "", self._keep)

    def _keep(self, name: str) -> None:
        if self._workspace.folder is None or not self._workspace.save():
            return
        try:
            keep_as(self._workspace.folder, name)
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
        self.refresh()

    def _tell(self, note: Note) -> None:
        now, beatmap = self._workspace.routine, self._workspace.beatmap
        then = self._read(note.data)
        if then is None or now is None or beatmap is None:
            return
        changes = [difference.text for difference in compare(then[0], now, then[1], beatmap)]
        more = len(changes) - _TOLD
        lines = changes[:_TOLD] + ([_("and {more} more", more=more)] if more > 0 else [])
        told = (
            [_("Since then:"), *(f"– {line}" for line in lines)]
            if lines
            else [_("The same as now.")]
        )
        row = next((k for k, n in enumerate(self.list.notes) if n.data == note.data), -1)
        if row >= 0:
            self.list.retell(row, "\n".join([_note(note.data).text, *told]))

    def _restore(self, note: Note) -> None:
        then = self._read(note.data)
        if then is not None:
            # With its own map where its music was another one, such as before the song was cut.
            self._workspace.edit(
                _("restore {head}", head=note.head), routine=then[0], beatmap=then[1]
            )
            self._tell(note)

    def _read(self, version: Version) -> tuple[Routine, BeatMap] | None:
        if self._workspace.folder is None or self._workspace.beatmap is None:
            return None
        try:
            return read_save(
                load_yaml(version.path), self._workspace.folder, self._workspace.beatmap
            )
        except UserError as error:
            self._workspace.errorRaised.emit(error.sentence)
            return None


def _note(version: Version) -> Note:
    local = version.replaced.astimezone()
    when = moment_text(local)
    age = _age(datetime.now(UTC) - version.replaced)
    head, text = (shown(version.name), f"{when}, {age}") if version.name else (when, age)
    return Note("◆" if version.name else "·", head, text, version, _("restore"))


def _age(age: timedelta) -> str:
    minutes = int(age.total_seconds() // 60)
    days, hours = minutes // (60 * 24), minutes // 60
    if days:
        return ngettext("{number} day ago", "{number} days ago", days, number=days)
    if hours:
        return ngettext("{number} hour ago", "{number} hours ago", hours, number=hours)
    if minutes:
        return ngettext("{number} minute ago", "{number} minutes ago", minutes, number=minutes)
    return _("just now")
