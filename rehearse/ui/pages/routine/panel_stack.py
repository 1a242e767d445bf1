"""The right side: checks, suggestions, versions, the coach's copy and remarks, all keys."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, Slot
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from rehearse.routine.remarks import Remark
from rehearse.ui import theme
from rehearse.ui.actions import ROUTINE, named
from rehearse.ui.flows.key_help import key_table
from rehearse.ui.pages.routine.askline import AskLine
from rehearse.ui.pages.routine.copypanel import CopyPanel
from rehearse.ui.pages.routine.findings import Findings
from rehearse.ui.pages.routine.notes import Note, NoteList, keeps
from rehearse.ui.pages.routine.remarkpanel import RemarkPanel
from rehearse.ui.pages.routine.versionpanel import VersionPanel
from rehearse.ui.workspace import Workspace
from rehearse.words import _

CHECKS, SUGGESTIONS, VERSIONS, COPY, REMARKS, KEYS = range(6)
_WORDS = (_("Checks"), _("Suggestions"), _("Versions"), _("Copy"))
#: Their actions.
_NAMES = ("checks", "suggestions", "versions", "copy")


class PanelStack(QWidget):
    """Four words over one list; the remarks belong to the coach's copy."""

    def __init__(self, workspace: Workspace, findings: Findings, ask: AskLine) -> None:
        super().__init__()
        self._findings = findings
        self.checks = NoteList(_("Checks"), findings.act_of)
        self.suggestions = NoteList(_("Suggestions"))
        self.suggestions.own_keys = (*self.suggestions.own_keys, Qt.Key.Key_Right)
        self.versions = VersionPanel(workspace, ask)
        self.copy = CopyPanel(workspace)
        self.remarks = RemarkPanel(workspace, ask)
        self.stack = QStackedWidget()
        self._nothing = [QLabel(wordWrap=True), QLabel(wordWrap=True)]
        for notes, nothing in zip((self.checks, self.suggestions), self._nothing, strict=True):
            self.stack.addWidget(_over(nothing, notes))
        for panel in (self.versions, self.copy, self.remarks):
            self.stack.addWidget(panel)
        self._buttons = QButtonGroup(self)
        words = QHBoxLayout()
        words.setSpacing(0)
        for index, word in enumerate(_WORDS):
            button = QPushButton(word)
            button.setCheckable(True)
            button.setProperty("role", "plain")
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            action = named(_NAMES[index])
            button.setToolTip(f"{action.sentence} ({action.key})")
            self._buttons.addButton(button, index)
            words.addWidget(button)
        words.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(theme.STEP, 0, 2 * theme.STEP, theme.STEP)
        column.setSpacing(theme.STEP)
        column.addLayout(words)
        column.addWidget(self.stack, 1)
        self._buttons.idClicked.connect(self.show_panel)
        self.checks.taken.connect(self._take)
        self.suggestions.taken.connect(self._take)
        self.remarks.proposed.connect(self._propose)
        self.copy.remarks.clicked.connect(self._show_remarks)
        findings.changed.connect(self.refresh)
        self._buttons.button(CHECKS).setChecked(True)
        self.refresh()

    @property
    def _shown(self) -> QWidget:
        shown = self.stack.currentWidget()
        assert shown is not None, "there are panels from the start"
        return shown

    @property
    def panel(self) -> int:
        """Which panel is up."""
        return self.stack.currentIndex()

    @Slot(int)
    def show_panel(self, index: int) -> None:
        """Bring a panel up and give it the keys."""
        if index == KEYS and self.stack.count() == KEYS:
            # Laying out so much text takes longer than all the rest: only when it is asked for.
            self.stack.addWidget(key_table(ROUTINE))
        self.stack.setCurrentIndex(index)
        self._buttons.setExclusive(index != KEYS)
        for k in range(len(_WORDS)):
            self._buttons.button(k).setChecked(k == (COPY if index == REMARKS else index))
        if index == VERSIONS:
            self.versions.refresh()
        lists = (
            *(self.checks, self.suggestions, self.versions.list),
            *(self.copy.list, self.remarks.list),
        )
        if index < len(lists):
            (lists[index] if lists[index].notes else self._shown).setFocus()

    @Slot()
    def refresh(self) -> None:
        """Show what was found."""
        checks, offers = self._findings.check_notes(), self._findings.suggestion_notes()
        self.checks.show_notes(checks)
        self.suggestions.show_notes(offers)
        counts = (self._findings.serious or "", len(offers) or "")
        for index, (word, number) in enumerate(zip(_WORDS, counts, strict=False)):
            button = self._buttons.button(index)
            button.setText(f"{word} {number}".strip())
            button.setAccessibleName(f"{word}: {number or _('none')}")
        told = (
            _("No problems found.")
            if self._findings.looked
            else _("Nothing to check yet: add a pose first."),
            _("No more suggestions."),
        )
        lists = (self.checks, self.suggestions)
        for label, shown, text in zip(self._nothing, lists, told, strict=True):
            label.setText(text)
            had_keys = shown.hasFocus()
            label.setVisible(not shown.notes)
            shown.setVisible(bool(shown.notes))
            if had_keys and not shown.notes:
                self._shown.setFocus()

    @Slot()
    def _show_remarks(self) -> None:
        self.show_panel(REMARKS)

    @Slot(list)
    def _propose(self, remarks: list[Remark]) -> None:
        """Offer what remarks propose as the changes of a copy are."""
        self.copy.propose(remarks)
        self.show_panel(COPY)

    @Slot(Note)
    def _take(self, note: Note) -> None:
        self._findings.take(note)


class _Panel(QWidget):
    """A list, or what is said without one; Return meant for its lines does nothing else."""

    def event(self, event: QEvent) -> bool:
        """Whoever presses Return once more than there are lines puts no pose with it."""
        return keeps(event, (Qt.Key.Key_Return, Qt.Key.Key_Enter)) or super().event(event)


def _over(nothing: QLabel, notes: NoteList) -> QWidget:
    panel = _Panel()
    column = QVBoxLayout(panel)
    column.setContentsMargins(0, 0, 0, 0)
    nothing.setProperty("role", "dim")
    column.addWidget(nothing)
    column.addWidget(notes, 1)
    column.addStretch(0)
    return panel
