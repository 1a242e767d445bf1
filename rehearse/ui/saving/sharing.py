"""Others at the same folder: another window, or another program that changed the files.

One window writes (`files.hold`); the next one looks and rehearses, until it takes over: then the
first one saves and gives way. What another program changed is shown at once where nothing is
unsaved here; else the athlete chooses, and the other state becomes a version under a name.
"""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Slot

from rehearse.files.atomic import user_error_of
from rehearse.files.door import read_inside
from rehearse.files.hold import Hold
from rehearse.files.mark import mark
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import MAX_BYTES
from rehearse.routine.folder import open_folder
from rehearse.routine.versions import BEATS, ROUTINE, keep_data
from rehearse.ui.questions import Answer, Question
from rehearse.ui.saving.leftover import keep_version
from rehearse.ui.undo import Documents
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.ui.saving.autosave import Saving
    from rehearse.ui.workspace import Workspace

#: Milliseconds between two tries to take over, and tries until it is done by force.
_TRY_EVERY, _TRIES = 100, 30

LOOK_ONLY = _(
    "This routine is open in another window: here it can be looked at and rehearsed, not changed."
)
_GIVEN = _(
    "Another window has taken this routine over: here it can be looked at "
    "and rehearsed, not changed."
)
_WHICH = _(
    "Another program has changed this routine meanwhile. Which state do you"
    " keep? The other one is kept among the versions."
)
_TAKEN_IN = _("Another program has changed this routine: that is shown now, Ctrl+Z goes back.")


class Sharing(QObject):
    """Who else is at the folder that `saving` writes.

    Attributes:
        look_only: another window writes. conflict: the files are not those last read or written.
    """

    def __init__(self, workspace: Workspace, saving: Saving) -> None:
        super().__init__(saving)
        self._workspace, self._saving = workspace, saving
        self._hold: Hold | None = None
        self._tries = 0
        self._trying = QTimer(self, singleShot=True)
        self._trying.timeout.connect(self._try)
        self.look_only = self.conflict = False

    def begin(self, folder: Path) -> None:
        """Take the folder if no other window has it."""
        self.end()
        with contextlib.suppress(OSError):
            self._hold = Hold(folder)
            self.look_only = not self._hold.take()
        if self.look_only:
            self._offer_to_take_over(LOOK_ONLY)

    def end(self) -> None:
        """Let go of the folder."""
        self._trying.stop()
        if self._hold is not None:
            self._hold.release()
        self._hold = None
        self.look_only = self.conflict = False

    # Another window

    def may_write(self) -> bool:
        """Whether the folder is still this window's; else it looks from now on."""
        if self._hold is not None and not self._hold.held:
            self._give_way()
        return not self.look_only

    def look(self) -> None:
        """Give way when another window asks, or has taken the folder by force."""
        if self._hold is None or self.look_only:
            return
        if not self._hold.held:
            if not self._saving.saved:
                self._saving.keep()
            self._give_way()
        elif self._hold.asked:
            self._saving.save()
            self._give_way()

    def _give_way(self) -> None:
        if self._hold is not None:
            self._hold.release()
        self.look_only = True
        self._workspace.undo.clear()
        self._offer_to_take_over(_GIVEN)

    def _offer_to_take_over(self, sentence: str) -> None:
        answers = (Answer(_("Take over"), "T", self.take_over),)
        self._workspace.questions.ask("look only", Question(sentence, answers))

    def take_over(self) -> None:
        """Ask the other window to save and give way; by force when it does not answer."""
        if self._hold is not None:
            self._hold.ask()
            self._tries = 0
            self._try()

    @Slot()
    def _try(self) -> None:
        if self._hold is None or not self.look_only:
            return
        self._tries += 1
        if not self._hold.take(by_force=self._tries > _TRIES):
            self._trying.start(_TRY_EVERY)
            return
        with contextlib.suppress(UserError, OSError):
            assert self._saving.folder is not None
            self.take_in(self._saving.where(self._saving.folder), at_once=True)
        self.look_only = False
        self._workspace.questions.drop("look only")
        self._saving.tidy()

    # Another program

    def take_in(self, folder: Path, *, at_once: bool = False) -> bool:
        """Show what lies in the folder now, as one step that can be undone where this window
        writes. Whether it was read.

        Args:
            at_once: even while music plays, which it ends.

        Raises:
            OSError: the folder is gone.
        """
        if self._workspace.is_playing and not at_once:
            return False
        try:
            seen = mark(folder, (ROUTINE, BEATS))
            opened = open_folder(folder)
        except UserError:  # being written just now, or spoilt: what is shown here is whole
            return False
        self._saving.seen, self.conflict = seen, False
        self._saving.written = found = Documents(opened.routine, opened.beatmap)
        if found == self._workspace.documents:
            return True
        if self.look_only:
            self._workspace.show_documents(found)
            return True
        words = _("take in what another program changed")
        self._workspace.edit(words, routine=opened.routine, beatmap=opened.beatmap)
        self._workspace.notice.say(_TAKEN_IN)
        return True

    def ask_which(self) -> None:
        """Ask which of two states goes on."""
        mine = Answer(_("This one"), "M", self.keep_mine)
        theirs = Answer(_("The other"), "O", self.take_theirs)
        self._workspace.questions.ask("conflict", Question(_WHICH, (mine, theirs)), first=True)

    def keep_mine(self) -> None:
        """Save over what another program wrote, which becomes a version under a name."""
        folder = self._saving.folder
        assert folder is not None
        try:
            if (folder / ROUTINE).exists() and (data := read_inside(folder, ROUTINE, MAX_BYTES)):
                keep_data(folder, data, "by another program")
            self._saving.seen = mark(folder, (ROUTINE, BEATS))
        except (UserError, OSError) as error:
            self._fail(error, folder)
            return
        # Nothing of what is shown lies there: the map may be another one too.
        self._saving.written, self.conflict = Documents(), False
        self._saving.save()

    def take_theirs(self) -> None:
        """Go on with what another program wrote; this state becomes a version under a name."""
        folder, mine = self._saving.folder, self._workspace.documents
        assert folder is not None
        try:
            keep_version(folder, mine, "before another program's")
            read = self.take_in(folder, at_once=True)
        except (UserError, OSError) as error:
            self._fail(error, folder)
            return
        if read:
            self._saving.succeed(self._workspace.documents)
            return
        self.ask_which()
        self._workspace.errorRaised.emit(_("The other state cannot be read – go on with this one."))

    def _fail(self, error: Exception, folder: Path) -> None:
        refusal = user_error_of(error, folder) if isinstance(error, OSError) else error
        assert isinstance(refusal, UserError)
        self.conflict = True
        self._saving.fail(refusal)
