"""The open routine for another show: a copy that keeps poses, music and history."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QLabel, QLineEdit

from rehearse.files.user_error import UserError
from rehearse.routine import edits
from rehearse.routine.rules import load_rules
from rehearse.ui.actions import key
from rehearse.ui.flows.flow import Flow, field_grid
from rehearse.ui.flows.rulebox import RuleBox
from rehearse.ui.recent import days_left
from rehearse.ui.status import FLOW
from rehearse.ui.workspace import Workspace
from rehearse.words import _, day_field, read_day


class AnotherShow(Flow):
    """Show, division, date, rules of the copy, and where it is put."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, _("Another show"))
        assert workspace.routine is not None
        assert workspace.folder is not None
        routine = workspace.routine
        self.title = QLineEdit(routine.title, maxLength=80)
        self.show_name = QLineEdit(maxLength=200)
        self.division = QLineEdit(routine.division, maxLength=200)
        self.rules = RuleBox(workspace, workspace.folder, routine.rules)
        self.date = QLineEdit(placeholderText=day_field("2027-04-17"))
        self.place = QLineEdit(str(workspace.folder.parent))
        self.left = QLabel()
        self.left.setProperty("role", "dim")
        fields = (
            (_("&Title"), self.title),
            (_("&Show"), self.show_name),
            (_("D&ivision"), self.division),
            (_("&Rules"), self.rules),
            (_("D&ate"), self.date),
            (_("Sa&ve in"), self.place),
        )
        form = field_grid(fields)
        form.addWidget(self.left, 4, 2)
        self.body.addLayout(form)
        self.body.addStretch(1)
        for field in (self.title, self.show_name, self.date):
            field.textChanged.connect(self._refresh)
        self.setFocusProxy(self.show_name)
        self.say(_("A copy keeps poses, music and practice; this routine stays as it is."))
        self._refresh()

    @Slot()
    def _refresh(self) -> None:
        self.left.setText(days_left(read_day(self.date.text()), date.today()))
        ready = self.title.text().strip() and self.show_name.text().strip()
        self.offer(_("Make the copy"), ready=bool(ready))

    def do_main(self) -> None:
        """Copy in a worker, then open the copy."""
        from rehearse.practice.show_copy import copy_for_show

        workspace = self.workspace
        if workspace.folder is None or workspace.routine is None or not workspace.save():
            return
        try:
            heading = edits.describe(
                workspace.routine,
                title=" ".join(self.title.text().split()),
                show=self.show_name.text().strip(),
                division=self.division.text().strip(),
                show_date=read_day(self.date.text()),
                rules=self.rules.chosen.key,
            )
        except UserError as error:
            workspace.standing.stand(FLOW, error.sentence)
            self.date.setFocus()
            return
        workspace.standing.mend(FLOW)
        place = Path(self.place.text()).expanduser()
        words = _("Copying the routine")
        workspace.run_job(words, copy_for_show, workspace.folder, heading, place, done=self._copied)
        self.main.setEnabled(False)

    def _copied(self, folder: Path) -> None:
        if self.workspace.open(folder):
            self.closed.emit()
            if words := limit_words(self.workspace):
                self.workspace.notice.say(words)

    def take_path(self, path: Path) -> None:
        """Nothing is dropped here."""


def limit_words(workspace: Workspace) -> str:
    """What the new show's limit asks of the music, in one sentence; empty: nothing."""
    routine, beatmap = workspace.routine, workspace.beatmap
    if routine is None:
        return ""
    try:
        limit = load_rules(routine.rules, workspace.folder).limit
    except UserError:
        return ""
    length = routine.stage.length if routine.stage else beatmap.duration if beatmap else 0.0
    if limit is None or length <= limit + 0.05:
        return ""
    return _(
        "The music is {length:.1f} s over this show's limit of {limit:g} s: "
        "press 1, then {key_cut} for a shorter cut, or set a shorter stage "
        "part.",
        length=length - limit,
        limit=limit,
        key_cut=key("cut"),
    )
