"""What the own camera filmed is finished, read, written to the logbook and looked at.

Films stay for as many days as are set, then they are deleted; their readings stay.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.files.user_error import UserError
from rehearse.ui.film.hit_review import LookedAt, LookView
from rehearse.ui.pages.rehearse.rehearsal_host import RehearsalHost
from rehearse.ui.workspace import Workspace
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.film.keep import Kept
    from rehearse.film.known_clock import KnownPlace
    from rehearse.routine.folder import OpenedFolder

#: As `film/keep.py` has it, which is not loaded for every routine that is opened.
_TAKES = "takes"
#: Whose sentences these are in the line of faults.
CAMERA = _("Camera")
READING = _("Reading the film of the pass")


class PassReading(QObject):
    """Has recordings read, one after another.

    Signals:
        changed: there is something to look at. over: nothing can be read, and why was told.
    """

    changed = Signal()
    over = Signal()

    def __init__(self, workspace: Workspace, host: RehearsalHost, look: LookView) -> None:
        super().__init__()
        self._workspace, self._host, self._look = workspace, host, look
        self._swept: Path | None = None
        workspace.documentChanged.connect(self._sweep_once)
        workspace.jobChanged.connect(self._tell_progress)
        self._sweep_once()

    def read(self, part: Path, routine: OpenedFolder, known: KnownPlace) -> None:
        """Finish a recording and read it.

        Args:
            part: its hidden folder. routine: as it was then. known: where it lies in the music.
        """
        from rehearse.film.recording import finish

        now = datetime.now().astimezone()
        self._workspace.run_job(
            READING, finish, part, now,
            done=lambda folder: self._finished(folder, routine, known),
            failed=self._failed,
        )  # fmt: skip

    def _finished(self, folder: str, routine: OpenedFolder, known: KnownPlace) -> None:
        from rehearse.film.keep import PROXY
        from rehearse.film.own_film import of_pass, read_own_film, request

        meant = of_pass(routine, known)
        try:
            asked = request(meant, known, folder)
        except UserError as error:  # such as a stretch without a hit
            self._failed(error)
            return
        hits = [
            LookedAt(placed.pose, known.to_film(second))
            for placed, second in zip(meant.routine.poses, asked.hits, strict=True)
        ]
        if not self._host.busy or self._host.paused:
            self._look.begin(routine.folder / folder / PROXY, hits)
            self._look.tell(_("being read …"))
        self._workspace.run_job(
            READING, read_own_film, routine.folder, folder, asked,
            done=lambda kept: self._read(kept, meant),
            failed=self._failed,
        )  # fmt: skip
        self.changed.emit()

    @Slot()
    def _tell_progress(self) -> None:
        done = next((job.fraction for job in self._workspace.jobs if job.words == READING), None)
        if done is not None and self._look.on and self._look.note:
            self._look.tell(_("being read … {percent:.0f} %", percent=100 * done))

    def _read(self, kept: Kept, meant: OpenedFolder) -> None:
        from rehearse.film.film_text import head
        from rehearse.film.own_film import own_take

        try:
            take = own_take(meant, kept).take
        except UserError as error:
            self._failed(error)
            return
        if self._workspace.logbook is not None:
            self._workspace.logbook.keep_take(take)
        if self._look.on and len(self._look.hits) == len(take.poses):
            self._look.take(take.poses, take.refused, by_clock=kept.reading.alignment.by == "clock")
        else:
            self._workspace.notice.say(head(take))
        self._sweep()

    def _failed(self, error: UserError) -> None:
        self._workspace.standing.stand(CAMERA, error.sentence)
        self._look.close_film()
        self.over.emit()
        self.changed.emit()

    @Slot()
    def _sweep_once(self) -> None:
        if self._workspace.folder != self._swept:
            self._swept = self._workspace.folder
            self._sweep()

    def _sweep(self) -> None:
        """Delete what the camera filmed more than so many days ago."""
        folder, days = self._workspace.folder, self._workspace.settings.get("camera_days")
        if folder is not None and (folder / _TAKES).is_dir():
            from rehearse.film.recording import delete_old

            now = datetime.now().astimezone()
            self._workspace.run_job(
                _("Deleting old films"), delete_old, folder, max(1, days), now,
                done=lambda _number: None,
            )  # fmt: skip
