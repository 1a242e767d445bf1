"""A choice of rule sets, and what a set says in words."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QComboBox

from rehearse.files.user_error import UserErrors
from rehearse.routine.rules import TURNS, RuleSet, sound_rules
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown


class RuleBox(QComboBox):
    """All rule sets, those of no body first."""

    def __init__(self, workspace: Workspace, folder: Path | None, key: str) -> None:
        """`folder`: a routine whose own sets count too. `key`: the set chosen at first."""
        super().__init__()
        self.setAccessibleName(_("Rules"))
        self.view().setAccessibleName(_("Rules"))
        sets, errors = sound_rules(folder)
        if errors:
            workspace.errorRaised.emit(UserErrors(errors).sentence)
        for rules in sorted(sets, key=lambda r: (r.body != "none", r.name.casefold())):
            self.addItem(shown(rules.name), rules)
        keys = [rules.key for rules in self.sets]
        if key not in keys:
            self.insertItem(0, key or "none", RuleSet(key, key or "none"))
            keys.insert(0, key)
        self.setCurrentIndex(keys.index(key))

    @property
    def sets(self) -> list[RuleSet]:
        """The sets in the order shown."""
        return [self.itemData(k) for k in range(self.count())]

    @property
    def chosen(self) -> RuleSet:
        """The set chosen now."""
        rules: RuleSet = self.currentData()
        return rules


def tell_rules(rules: RuleSet) -> list[str]:
    """What a set asks for and where it comes from, a line for each."""
    limit = (
        _("No limit stated")
        if rules.limit is None
        else _("{limit:g} s of free posing", limit=rules.limit)
    )
    lines = [
        _("{limit}; the warning comes at {warning:g} s left.", limit=limit, warning=rules.warning)
    ]
    if rules.minimum:
        lines.append(_("At least {minimum:g} s.", minimum=rules.minimum))
    for words, poses in ((_("Required"), rules.required), (_("Mandatory poses"), rules.mandatory)):
        if poses:
            lines.append(f"{words}: {', '.join(poses)}.")
    if rules.forbidden:
        lines.append(
            _(
                "Forbidden: {forbidden}.",
                forbidden=", ".join(shown(f.what) for f in rules.forbidden),
            )
        )
    if rules.mandatory_men:
        lines.append(
            _(
                "Mandatory for men besides: {mandatory_men}.",
                mandatory_men=", ".join(rules.mandatory_men),
            )
        )
    if rules.men_only:
        lines.append(_("For men only: {men_only}.", men_only=", ".join(rules.men_only)))
    if rules.open_hands:
        lines.append(_("With open hands: {open_hands}.", open_hands=", ".join(rules.open_hands)))
    if rules.turns:
        lines.append(TURNS[rules.turns])
    lines += [f"{text[:1].upper()}{text[1:]}." for text in map(shown, rules.remember)]
    lines += [_("Not confirmed: {text}.", text=shown(text)) for text in rules.unconfirmed]
    if rules.origin:
        lines.append(_("From: {origin}.", origin=rules.origin))
    lines.append(f"{shown(rules.note)[:1].upper()}{shown(rules.note)[1:]}.")
    return lines
