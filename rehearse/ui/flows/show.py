"""The show the routine is for, and the rules it is checked against."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from types import MappingProxyType

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLabel, QLineEdit

from rehearse.files.user_error import UserError
from rehearse.routine import edits
from rehearse.routine.model import DRESSES, FIGURES, SKINS
from rehearse.routine.rules import own_rules_folder
from rehearse.ui import theme
from rehearse.ui.flows.flow import Flow
from rehearse.ui.flows.rulebox import RuleBox, tell_rules
from rehearse.ui.recent import days_left
from rehearse.ui.status import FLOW
from rehearse.ui.workspace import Workspace
from rehearse.words import _, day_field, read_day, shown

#: Values whose words are their own.
NONE: Mapping[str, str] = MappingProxyType({})


class ShowAndRules(Flow):
    """Title, show, division, date, rule set and figure; one step that can be undone."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace, _("Show and rules"))
        routine = workspace.routine
        assert routine is not None, "asked for with a routine open"
        self.title = QLineEdit(routine.title, maxLength=80)
        self.show_name = QLineEdit(routine.show, maxLength=200)
        self.division = QLineEdit(routine.division, maxLength=200)
        self.date = QLineEdit(day_field(routine.show_date), placeholderText=day_field("2027-04-17"))
        self.rules = RuleBox(workspace, workspace.folder, routine.rules)
        self.figure = choice_box(FIGURES, routine.figure)
        self.dress = choice_box(("", *DRESSES), routine.dress, {"": _("as the division wears")})
        self.skin = choice_box(
            SKINS, routine.skin, {skin: _("{skin} skin", skin=shown(skin)) for skin in SKINS}
        )
        self.left = QLabel()
        self.about = QLabel(wordWrap=True)
        self.about.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.about.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.left.setProperty("role", "dim")
        self._lay_out()
        self.title.textChanged.connect(self._refresh)
        self.date.textChanged.connect(self._refresh)
        self.rules.currentIndexChanged.connect(self._refresh)
        self.setFocusProxy(self.show_name)
        self.say(_("Rules differ by federation and event: choose those of your show."))
        self._refresh()

    def _lay_out(self) -> None:
        form = QGridLayout()
        form.setHorizontalSpacing(2 * theme.STEP)
        form.setVerticalSpacing(theme.STEP)
        fields = (
            (_("&Title"), self.title),
            (_("&Show"), self.show_name),
            (_("D&ivision"), self.division),
            (_("&Rules"), self.rules),
            (_("D&ate"), self.date),
        )
        for row, (words, field) in enumerate(fields):
            label = QLabel(words)
            label.setBuddy(field)
            field.setAccessibleName(words.replace("&", ""))
            form.addWidget(label, row, 0)
            form.addWidget(field, row, 1)
        looks = QHBoxLayout()
        looks.setSpacing(theme.STEP)
        for words, box in (
            (_("Figure"), self.figure),
            (_("Dress"), self.dress),
            (_("Skin"), self.skin),
        ):
            box.setAccessibleName(words)
            looks.addWidget(box, 2 if box is self.dress else 1)
        label = QLabel(_("&Figure"))
        label.setBuddy(self.figure)
        form.addWidget(label, len(fields), 0)
        form.addLayout(looks, len(fields), 1)
        form.addWidget(self.left, len(fields) + 1, 1)
        form.setRowStretch(len(fields) + 2, 1)
        columns = QHBoxLayout()
        columns.setSpacing(5 * theme.STEP)
        columns.addLayout(form, 1)
        columns.addWidget(self.about, 1)
        self.body.addLayout(columns, 1)

    @Slot()
    def _refresh(self) -> None:
        rules = self.rules.chosen
        own = _(
            "Own rule sets are read from {own_rules_folder}.", own_rules_folder=own_rules_folder()
        )
        self.about.setText("\n\n".join([*tell_rules(rules), own]))
        self.left.setText(days_left(read_day(self.date.text()), date.today()))
        self.offer(_("Save"), ready=bool(self.title.text().strip()))

    def do_main(self) -> None:
        """Change the routine's heading."""
        old = self.workspace.routine
        if old is None:
            return
        try:
            routine = edits.describe(
                old,
                title=" ".join(self.title.text().split()),
                show=self.show_name.text().strip(),
                division=self.division.text().strip(),
                show_date=read_day(self.date.text()),
                rules=self.rules.chosen.key,
                figure=self.figure.currentData(),
                dress=self.dress.currentData(),
                skin=self.skin.currentData(),
            )
        except UserError as error:
            self.workspace.standing.stand(FLOW, error.sentence)
            self.date.setFocus()
            return
        self.workspace.standing.mend(FLOW)
        self.workspace.edit(_("change show and rules"), routine=routine)
        self.closed.emit()


def choice_box(values: Sequence[str], now: str, words: Mapping[str, str] = NONE) -> QComboBox:
    """A box of values, shown by their words, with the present one chosen."""
    box = QComboBox()
    for value in values:
        box.addItem(words.get(value, shown(value)), value)
    box.setCurrentIndex(box.findData(now))
    return box
