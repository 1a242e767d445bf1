"""Adding another song to the one that is cut: asked for or dropped, read and mapped in a worker."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtWidgets import QWidget

from rehearse.files.user_error import UserError
from rehearse.routine.added_song import add_song
from rehearse.routine.cutting import Source
from rehearse.ui import file_dialog
from rehearse.ui.flows.opening import SONGS, is_routine, music_folder
from rehearse.ui.jobs import RunningJob
from rehearse.ui.workspace import Workspace
from rehearse.words import _

ADDING = _("Adding the song")


class SongAdder:
    """Asks for a song and lays it behind the one that is cut.

    Args:
        window: over which the dialog stands.
        source: the song that is cut now; None while it is not known or another job runs.
        begun: called with the job. done, failed: called when it has ended.
    """

    def __init__(
        self,
        workspace: Workspace,
        window: QWidget,
        source: Callable[[], Source | None],
        begun: Callable[[RunningJob], None],
        done: Callable[[Source], None],
        failed: Callable[[UserError], None],
    ) -> None:
        self._workspace, self._window, self._source = workspace, window, source
        self._begun, self._done, self._failed = begun, done, failed

    def choose(self) -> None:
        """Ask for a song and add it."""
        if self._ready() is None:
            return
        words = _("Add a song")
        if path := file_dialog.open_file(self._window, words, music_folder(), SONGS):
            self.add(Path(path))

    def add(self, path: Path) -> None:
        """Add a song that was chosen or dropped."""
        source = self._ready()
        if source is None:
            return
        if is_routine(path):
            self._workspace.notice.say(_("A routine is opened in the window – Escape goes back."))
            return
        folder = self._workspace.folder
        job = self._workspace.run_job(
            ADDING, add_song, folder, source, path, done=self._done, failed=self._failed
        )
        self._begun(job)

    def _ready(self) -> Source | None:
        source = self._source()
        if source is None:
            self._workspace.notice.say(_("The song is being read – wait a moment and press again."))
        return source
