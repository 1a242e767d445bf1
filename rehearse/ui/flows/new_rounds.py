"""A folder for comparison rounds alone: title, division, rules, figure; the song comes later."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QLineEdit

from rehearse.files.user_error import UserError
from rehearse.routine.model import FIGURES
from rehearse.routine.start import FIRST_RULES, start_rounds
from rehearse.ui.flows.flow import Flow, field_grid
from rehearse.ui.flows.opening import place_of
from rehearse.ui.flows.rulebox import RuleBox
from rehearse.ui.flows.show import choice_box
from rehearse.ui.status import FLOW
from rehearse.ui.workspace import Workspace
from rehearse.words import _


class NewRounds(Flow):
    """What the rounds are made from.

    Signals:
        made: the folder is open.
    """

    made = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, _("Comparison rounds"))
        self.title = QLineEdit(_("Rounds"), maxLength=80)
        self.division = QLineEdit(maxLength=200)
        self.division.setPlaceholderText(_("Bodybuilding, Classic physique, Figure, Bikini …"))
        self.rules = RuleBox(workspace, None, workspace.settings.get("rules", "") or FIRST_RULES)
        self.figure = choice_box(FIGURES, FIGURES[0])
        self.place = QLineEdit(str(place_of(workspace)))
        fields = (
            (_("&Title"), self.title),
            (_("D&ivision"), self.division),
            (_("&Rules"), self.rules),
            (_("&Figure"), self.figure),
            (_("&Save in"), self.place),
        )
        form = field_grid(fields)
        self.body.addLayout(form)
        self.body.addStretch(1)
        self.title.textChanged.connect(self._refresh)
        self.setFocusProxy(self.division)
        self.say(
            _(
                "Quarter turns and mandatory poses need no song; you can choose one "
                "later and go on to a routine."
            )
        )
        self._refresh()

    @Slot()
    def _refresh(self) -> None:
        self.offer(_("Make the rounds"), ready=bool(self.title.text().strip()))

    def do_main(self) -> None:
        """Make the folder, open it."""
        if not self.workspace.save():
            return
        place = Path(self.place.text()).expanduser()
        rules, division = self.rules.chosen, self.division.text().strip()
        figure = self.figure.currentData()
        try:
            folder = start_rounds(
                None, place, rules, self.title.text(), division=division, figure=figure
            )
        except UserError as error:
            self.workspace.standing.stand(FLOW, error.sentence)
            return
        if not self.workspace.open(folder):
            return
        self.workspace.settings.put("routines", str(place))
        self.workspace.settings.put("rules", rules.key)
        self.made.emit()
        self.closed.emit()

    def take_path(self, path: Path) -> None:
        """A song was dropped: it is for a routine."""
        self.workspace.notice.say(_("A song is for a routine: go back, and drop it there."))
