"""Saving the open routine: soon after each edit, again until it works, never over another's work.

What cannot be written to the routine's folder – the stick was pulled out, the disk is full,
another program changed the files meanwhile – is kept on this machine (`routine.unsaved`) and
offered when the folder is next opened. The folder is followed when it is renamed and never made
anew. Another window or program at the same folder is `sharing`'s matter.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from rehearse.files.atomic import sweep, user_error_of
from rehearse.files.mark import FolderMark, find_folder, is_unchanged, mark, refreshed
from rehearse.files.user_error import UserError
from rehearse.routine.folder import ROOMS, save_changes
from rehearse.routine.versions import BEATS, ROUTINE, thin
from rehearse.ui.saving.leftover import offer_unsaved
from rehearse.ui.saving.sharing import Sharing
from rehearse.ui.status import SAVING
from rehearse.ui.undo import Documents
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.routine.unsaved import Unsaved
    from rehearse.ui.workspace import Workspace

#: Milliseconds from an edit to its save, to the next try after a failed one, and between looks
#: at the folder.
SAVE_AFTER, RETRY_AFTER, LOOK_EVERY = 1000, 5000, 1000
FILES = (ROUTINE, BEATS)

_GONE = _("the routine's folder is not there any more")
_TAKEN = _("another window has taken this routine over")
_CHANGED = _("another program has changed this routine meanwhile")


class Saving(QObject):
    """What of the workspace's routine is on disk.

    Args:
        workspace: whose documents are saved.

    Attributes:
        folder, seen: the folder, and its files as last read or written; None while none is open.
        written: the documents that lie there.
        sharing: who else is at the folder.
        unsaved: what is kept on this machine instead.

    Signals:
        moved: the folder has another name now.
    """

    moved = Signal(Path)

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self.folder: Path | None = None
        self.seen: FolderMark | None = None
        self.written = Documents()
        self.unsaved: Unsaved | None = None
        self.sharing = Sharing(workspace, self)
        self._told = ""
        self._soon = self._timer(self.save)
        self._looking = self._timer(self.look)

    def _timer(self, slot: Callable[[], object]) -> QTimer:
        timer = QTimer(self, singleShot=True)
        timer.timeout.connect(slot)
        return timer

    @property
    def saved(self) -> bool:
        """Whether a save of all that is shown was seen to end, and nobody came by since."""
        now = self._workspace.documents
        return now.routine is None or (now == self.written and not self.sharing.conflict)

    @property
    def look_only(self) -> bool:
        """Whether another window writes into the folder."""
        return self.sharing.look_only

    def begin(self, folder: Path) -> None:
        """The workspace has read `folder`; what it shows is what lies there."""
        self.end()
        self.folder, self.written = folder, self._workspace.documents
        with contextlib.suppress(UserError, OSError):
            self.seen = mark(folder, FILES)
        if self._workspace.is_started:
            self.settle()
        self._looking.start(LOOK_EVERY)

    def settle(self) -> None:
        """Take the folder if no other window has it; after the window's first picture."""
        if self.folder is not None:
            self.sharing.begin(self.folder)
            self.tidy()

    def end(self) -> None:
        """The workspace leaves the folder."""
        self._soon.stop()
        self._looking.stop()
        self.sharing.end()
        self._workspace.questions.drop()
        self.folder = self.seen = self.unsaved = None
        self.written, self._told = Documents(), ""

    def tidy(self) -> None:
        """Where the folder is this window's: see to what earlier ones have left."""
        if self.folder is None or self.look_only:
            return
        for name in ("", *ROOMS):
            sweep(self.folder / name)
        with contextlib.suppress(UserError, OSError):
            thin(self.folder)
            offer_unsaved(self._workspace, self.folder)

    def later(self) -> None:
        """Something was edited: save it soon."""
        if not self._soon.isActive():
            self._soon.start(SAVE_AFTER)

    @Slot()
    def save(self) -> bool:
        """Write what is not on disk yet; False (and one sentence) when that fails."""
        self._soon.stop()
        now, folder = self._workspace.documents, self._workspace.folder
        if folder is None or self.look_only or self.saved:
            return True
        try:
            self._write(now, folder)
        except (UserError, OSError) as error:
            self.fail(error if isinstance(error, UserError) else user_error_of(error, folder))
            return False
        self.succeed(now)
        return True

    def _write(self, now: Documents, folder: Path) -> None:
        folder = self.where(folder)
        if not self.sharing.may_write():
            raise UserError(_TAKEN, do=_("what was changed here is kept on this machine"))
        if self.seen is not None and not is_unchanged(self.seen, folder, FILES):
            self.sharing.conflict = True
        if self.sharing.conflict:
            do = _("choose which state to continue with, both are kept")
            raise UserError(_CHANGED, where=folder.name, do=do)
        assert now.routine is not None
        map_too = now.beatmap is not None and now.beatmap != self.written.beatmap
        save_changes(folder, now.routine, now.beatmap, map_too=map_too)
        self.seen = mark(folder, FILES)

    def where(self, folder: Path) -> Path:
        """Where the open folder is now.

        Raises:
            UserError: it is gone.
        """
        if self.seen is None or self.folder != folder:
            return folder
        found = find_folder(self.seen, folder)
        if found is None:
            self._come_back(self.seen, folder)
        elif found != folder:
            self.folder = found
            self.moved.emit(found)
        return found or folder

    def _come_back(self, earlier: FolderMark, folder: Path) -> None:
        """The same files at the same path: their drive was plugged in again."""
        with contextlib.suppress(UserError, OSError):
            now = mark(folder, FILES)
            if now.contents == earlier.contents:
                self.seen = now
                self.sharing.begin(folder)
                return
        raise UserError(_GONE, where=folder, do=_("plug its drive in, or put it back where it was"))

    def succeed(self, now: Documents) -> None:
        """`now` lies in the folder."""
        from rehearse.routine.unsaved import forget_unsaved

        self.written = now
        for cause in ("conflict", "leaving"):
            self._workspace.questions.drop(cause)
        if self.unsaved is not None:
            forget_unsaved(self.unsaved)
            self.unsaved = None
        self._tell("")

    def fail(self, error: UserError) -> None:
        """It could not be written: keep it here, say so once, try again."""
        more = self.keep()
        if self.sharing.conflict:
            self.sharing.ask_which()
        elif not self.look_only:
            self._soon.start(RETRY_AFTER)
            more = more or _("The change is kept on this machine, and saved when it can be.")
        self._tell(_("Not saved: {sentence} {more}", sentence=error.sentence, more=more).strip())

    def keep(self) -> str:
        """Keep what is shown on this machine; a sentence where that fails too."""
        from rehearse.routine.unsaved import keep_unsaved

        now, folder = self._workspace.documents, self._workspace.folder
        if now.routine is None or folder is None:
            return ""
        bases = [self.seen.contents[0]] if self.seen else []
        with contextlib.suppress(UserError, OSError):
            bases.append(mark(folder, FILES).contents[0])
        try:
            self.unsaved = keep_unsaved(
                folder, bases, now.routine, now.beatmap, instead=self.unsaved
            )
        except UserError as error:
            self.unsaved = None
            return _("Nor could it be kept on this machine: {sentence}", sentence=error.sentence)
        return ""

    def _tell(self, sentence: str) -> None:
        """Say it once; an empty one takes back what was said, where it still stands."""
        if sentence != self._told:
            self._workspace.standing.stand(SAVING, sentence)
        self._told = sentence

    @Slot()
    def look(self) -> None:
        """Look whether the folder moved, its files changed, or another window asks for it."""
        if self.folder is None or self.seen is None:
            return
        self._looking.start(LOOK_EVERY)
        self.sharing.look()
        with contextlib.suppress(UserError, OSError):
            folder = self.where(self.folder)
            if self.sharing.conflict:
                return
            if is_unchanged(self.seen, folder, FILES):
                self.seen = refreshed(self.seen, folder, FILES)
            elif self._workspace.documents == self.written:
                self.sharing.take_in(folder)
            else:
                self.save()
