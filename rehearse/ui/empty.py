"""What is missing before anything can be done: one sentence with its key, or a page of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Routine
from rehearse.ui import theme
from rehearse.ui.actions import ON_START, key, named
from rehearse.ui.bindings import Bindings
from rehearse.ui.settings import Settings
from rehearse.ui.walk import SETTING
from rehearse.ui.workspace import Workspace
from rehearse.words import _, section_text

if TYPE_CHECKING:
    from rehearse.ui.recent import RecentList

NO_MAP = _("This song has no beat map yet: press 1 and map it on the Music page.")
NO_POSE = _("No pose is placed yet: press 2 and put the first one on the music.")
NO_COUNT = _("{} stands on a count that this music does not have: press 2 and move it.")


def missing(workspace: Workspace) -> str:
    """What the open routine lacks; empty: nothing."""
    beatmap, routine = workspace.beatmap, workspace.routine
    if beatmap is None or not beatmap.duration:
        return NO_MAP
    if workspace.other_song:
        return workspace.other_song
    if routine is None or not routine.poses:
        return NO_POSE
    astray = _astray(routine, beatmap)
    return NO_COUNT.format(f"{astray[:1].upper()}{astray[1:]}") if astray else ""


def _astray(routine: Routine, beatmap: BeatMap) -> str:
    """The name of the first pose or section on a count that the map does not have."""
    for placed in routine.poses:
        try:
            placed.times(beatmap)
        except KeyError:
            return placed.pose
    for section in routine.sections:
        try:
            beatmap.time_of(section.start), beatmap.time_of(section.end)
        except KeyError:
            return _("the section {name}", name=section_text(section.name))
    return ""


class EmptyState(QWidget):
    """Start a routine, open one, or drop either.

    Signals:
        newAsked: begin a new routine. openAsked: open a folder. zipAsked: open a zipped one.
        roundsAsked: begin comparison rounds, without a song. recentAsked: open this folder.
        walkAsked: be shown around on the demo.
    """

    newAsked = Signal()
    openAsked = Signal()
    zipAsked = Signal()
    roundsAsked = Signal()
    recentAsked = Signal(Path)
    walkAsked = Signal()

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self._list: RecentList | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._words = words = QLabel(_("No routine yet"))
        words.setProperty("role", "display")
        how = QLabel(
            _(
                "Press {key_start_new} to start with a song, {key_open} to open a "
                "routine, or drop either here.",
                key_start_new=key("start_new"),
                key_open=key("open"),
            )
        )
        how.setProperty("role", "body")
        bindings = Bindings(self, ON_START, {"start_new": self.main_action})
        self.new = QPushButton()
        bindings.dress(self.new, "start_new")
        self.new.setProperty("role", "main")
        row = QHBoxLayout()
        row.setSpacing(2 * theme.STEP)
        self.open = QPushButton(_("Open a routine   {key_open}", key_open=key("open")))
        self.open.setAccessibleName(
            _("{words}, key {key_open}", words=named("open").words, key_open=key("open"))
        )
        self.zip = QPushButton(_("Open a zip   {key_open_zip}", key_open_zip=key("open zip")))
        self.zip.setAccessibleName(
            _(
                "{words}, key {key_open_zip}",
                words=named("open zip").words,
                key_open_zip=key("open zip"),
            )
        )
        self.rounds = QPushButton(
            _("Rounds only   {key_new_rounds}", key_new_rounds=key("new rounds"))
        )
        self.rounds.setAccessibleName(
            _(
                "{words}, key {key_new_rounds}",
                words=named("new rounds").words,
                key_new_rounds=key("new rounds"),
            )
        )
        self.walk = QPushButton(_("See how it works, on a demo   {key_walk}", key_walk=key("walk")))
        self.walk.setAccessibleName(
            _("{words}, key {key_walk}", words=named("walk").words, key_walk=key("walk"))
        )
        second = QHBoxLayout()
        second.setSpacing(2 * theme.STEP)
        for button in (self.new, self.walk):
            row.addWidget(button)
        for button in (self.open, self.zip, self.rounds):
            second.addWidget(button)
        row.addStretch(1)
        second.addStretch(1)
        self._column = column = QVBoxLayout(self)
        column.setContentsMargins(*(12 * theme.STEP,) * 4)
        column.setSpacing(3 * theme.STEP)
        column.addStretch(1)
        column.addWidget(words)
        column.addWidget(how)
        column.addLayout(row)
        column.addLayout(second)
        column.addStretch(2)
        self.open.clicked.connect(self.openAsked)
        self.new.clicked.connect(self.newAsked)
        self.zip.clicked.connect(self.zipAsked)
        self.rounds.clicked.connect(self.roundsAsked)
        self.walk.clicked.connect(self.walkAsked)
        self._settings.changed.connect(self._offer_walk)
        self._offer_walk(SETTING)

    @Slot(str)
    def _offer_walk(self, name: str) -> None:
        """Offer the walk until it was done or left once; the menu has it afterwards."""
        if name == SETTING:
            self.walk.setVisible(not self._settings.get(SETTING, ""))

    def show_recent(self) -> None:
        """Show the routines opened last, where there are any; Enter opens the chosen one."""
        from rehearse.ui.recent import RecentList

        if self._list is None:
            self._list = RecentList(self._settings)
            self._list.opened.connect(self.recentAsked)
            self._column.insertWidget(3, self._list, 3)
        self._list.refresh()
        there = self._list.count() > 0
        self._list.setVisible(there)
        self._column.setStretch(0, 0 if there else 1)  # the list has the room, where there is one
        self._column.setStretch(self._column.count() - 1, 0 if there else 2)
        self._words.setText(_("Your routines") if there else _("No routine yet"))
        if there:
            self.setFocusProxy(self._list)
            self._list.setFocus()

    @Slot()
    def main_action(self) -> None:
        """Space: a new routine, wherever the focus is."""
        self.newAsked.emit()
