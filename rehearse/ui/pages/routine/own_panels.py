"""Poses and moves of one's own: a name, how it stands, and if wished photos or a short clip."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox

from rehearse.files.user_error import UserError
from rehearse.routine import edits
from rehearse.routine.model import Facing, Level, OwnMove, OwnPose, Routine
from rehearse.routine.poses import plain
from rehearse.ui.pages.routine.ownform import OwnForm
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown


class OwnPosePanel(OwnForm):
    """The form of a new own pose, or of one that is changed."""

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self.facing, self.level = QComboBox(), QComboBox()
        for facing in Facing:
            self.facing.addItem(shown(facing), facing.value)
        for level in Level:
            self.level.addItem(shown(level), level.value)
        self.field(_("Facing"), self.facing, 1, 0)
        self.field(_("Level"), self.level, 1, 2)
        self.show_pose(None, OwnPose(""))

    def ask(self, name: str) -> None:
        """Begin a new pose with this name."""
        self.show_pose(None, OwnPose(name))
        self.listen()

    def change(self, name: str) -> None:
        """Change the own pose of this name; where it stands in the routine it stays."""
        routine = self._workspace.routine
        own = next((o for o in routine.own_poses if o.name == name), None) if routine else None
        if own is not None:
            self.show_pose(own, own)
            self.listen()

    def show_pose(self, old: OwnPose | None, own: OwnPose) -> None:
        """Show a pose in the form."""
        self.facing.setCurrentIndex(self.facing.findData(own.facing.value))
        self.level.setCurrentIndex(self.level.findData(own.level.value))
        self.begin(old, own, (own.picture,) if own.picture else ())

    def edited(self, routine: Routine, pictures: tuple[str, ...]) -> Routine:
        """The routine with this pose."""
        own = OwnPose(
            self.name.text().strip(),
            Facing(self.facing.currentData()),
            Level(self.level.currentData()),
            pictures[0] if pictures else "",
            self.say.text().strip(),
        )
        if self._old is not None:
            return edits.change_own(routine, self._old.name, **vars(own))
        if plain(own.name) in {plain(other.name) for other in routine.own_poses}:
            raise UserError(
                _("there is already an own pose {name}", name=own.name),
                do=_("choose another name, or change that one"),
            )
        return edits.add_own(routine, own)


class OwnMovePanel(OwnForm):
    """The form of a new own move, or of one that is changed."""

    kind, many = "move", True

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self.begin(None, OwnMove(""), ())

    def ask(self, name: str) -> None:
        """Begin a new move with this name."""
        self.begin(None, OwnMove(name), ())
        self.listen()

    def change(self, name: str) -> None:
        """Change the own move of this name; where it is done in the routine it stays."""
        routine = self._workspace.routine
        own = next((o for o in routine.own_moves if o.name == name), None) if routine else None
        if own is not None:
            self.begin(own, own, own.pictures)
            self.listen()

    def edited(self, routine: Routine, pictures: tuple[str, ...]) -> Routine:
        """The routine with this move."""
        own = OwnMove(self.name.text().strip(), pictures, self.say.text().strip())
        if self._old is not None:
            return edits.change_own_move(routine, self._old.name, **vars(own))
        if plain(own.name) in {plain(other.name) for other in routine.own_moves}:
            raise UserError(
                _("there is already an own move {name}", name=own.name),
                do=_("choose another name, or change that one"),
            )
        return edits.add_own_move(routine, own)
