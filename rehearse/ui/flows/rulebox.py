"""A choice of rule sets, and what a set says in words."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QComboBox

from rehearse.files.user_error import UserErrors
from rehearse.routine.rules import TURNS, RuleSet, sound_rules
from rehearse.ui.workspace import Workspace


class RuleBox(QComboBox):
    """All rule sets, those of no body first."""

    def __init__(self, workspace: Workspace, folder: Path | None, key: str) -> None:
        """`folder`: a routine whose own sets count too. `key`: the set chosen at first."""
        super().__init__()
        self.setAccessibleName("Rules")
        self.view().setAccessibleName("Rules")
        sets, errors = sound_rules(folder)
        if errors:
            workspace.errorRaised.emit(UserErrors(errors).sentence)
        for rules in sorted(sets, key=lambda r: (r.body != "none", r.name.casefold())):
            self.addItem(rules.name, rules)
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
    limit = "No limit stated" if rules.limit is None else f"{rules.limit:g} s of free posing"
    lines = [f"{limit}; the warning comes at {rules.warning:g} s left."]
    if rules.minimum:
        lines.append(f"At least {rules.minimum:g} s.")
    for words, poses in (("Required", rules.required), ("Mandatory poses", rules.mandatory)):
        if poses:
            lines.append(f"{words}: {', '.join(poses)}.")
    if rules.forbidden:
        lines.append(f"Forbidden: {', '.join(f.what for f in rules.forbidden)}.")
    if rules.mandatory_men:
        lines.append(f"Mandatory for men besides: {', '.join(rules.mandatory_men)}.")
    if rules.men_only:
        lines.append(f"For men only: {', '.join(rules.men_only)}.")
    if rules.open_hands:
        lines.append(f"With open hands: {', '.join(rules.open_hands)}.")
    if rules.turns:
        lines.append(TURNS[rules.turns])
    lines += [f"{text[:1].upper()}{text[1:]}." for text in rules.remember]
    lines += [f"Not confirmed: {text}." for text in rules.unconfirmed]
    if rules.origin:
        lines.append(f"From: {rules.origin}.")
    lines.append(f"{rules.note[:1].upper()}{rules.note[1:]}.")
    return lines
