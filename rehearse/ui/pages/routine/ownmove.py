"""A move of one's own: a name, and if wished photos or a short clip shown while it is done."""

from __future__ import annotations

from rehearse.files.user_error import UserError
from rehearse.routine import edits
from rehearse.routine.model import OwnMove, Routine
from rehearse.routine.poses import plain
from rehearse.ui.pages.routine.ownform import OwnForm
from rehearse.ui.workspace import Workspace


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
                f"there is already an own move {own.name}",
                do="choose another name, or change that one",
            )
        return edits.add_own_move(routine, own)
