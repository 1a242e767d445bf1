"""What was wished for before the song was read: said at once, done as soon as it can be."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.ui.workspace import Workspace

#: The job, in words.
READING = _("Reading the song")
NO_SONG = _("There is no song yet – press 1 and choose one.")


class Wish(QObject):
    """The newest gesture that waits for the song; another one, or a stop, takes its place.

    Signals:
        changed: `state` is another one.
    """

    changed = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._workspace = workspace
        self._then = ""
        self._do: Callable[[], None] | None = None
        workspace.trackChanged.connect(self._look)
        workspace.jobChanged.connect(self._tell)
        workspace.stopAsked.connect(self.drop)
        workspace.leaving.connect(self.drop)

    @property
    def waits(self) -> bool:
        """Whether a gesture waits."""
        return self._do is not None

    @property
    def state(self) -> str:
        """What goes on with the song, to be read where the eyes are; empty: nothing."""
        job = next((job for job in self._workspace.jobs if job.words == READING), None)
        if job is None or self._workspace.track is not None:
            return ""
        far = f" {100 * job.fraction:.0f} %" if job.fraction else ""
        then = _("{then} as soon as it is there.", then=self._then) if self.waits else ""
        return f"{READING} …{far}\n{then}".strip()

    def ask(self, then: str, do: Callable[[], None]) -> None:
        """Call `do` once the song is read; it is read again where that failed or was stopped.

        Args:
            then: what follows, a clause such as "It plays".
        """
        workspace = self._workspace
        if workspace.routine is None or not workspace.routine.track:
            workspace.notice.say(NO_SONG)
            return
        self._then, self._do = then, do
        if not any(job.words == READING for job in workspace.jobs):
            workspace.decode()
        workspace.notice.say(_("The song is being read. {then} as soon as it is there.", then=then))
        self.changed.emit()

    @Slot()
    def drop(self) -> None:
        """Nothing is to follow any more."""
        if self.waits:
            self._then, self._do = "", None
            self._workspace.notice.drop()
            self.changed.emit()

    @Slot()
    def _tell(self) -> None:
        reading = any(job.words == READING for job in self._workspace.jobs)
        if self.waits and not reading and self._workspace.track is None:
            # The result may be on its way; a fault or a stop leaves nothing to wait for.
            QTimer.singleShot(0, self, self._give_up)
        self.changed.emit()

    def _give_up(self) -> None:
        if self._workspace.track is None and not any(
            job.words == READING for job in self._workspace.jobs
        ):
            self._then, self._do = "", None
            self.changed.emit()

    @Slot()
    def _look(self) -> None:
        self.changed.emit()
        if self.waits and self._workspace.track is not None:
            # After every page has taken the song up.
            QTimer.singleShot(0, self, self._fulfil)

    def _fulfil(self) -> None:
        do, self._do, self._then = self._do, None, ""
        if do is not None and self._workspace.track is not None:
            self._workspace.notice.drop()
            self.changed.emit()
            do()
