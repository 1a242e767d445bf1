"""The own camera on the Rehearse page: films runs and last passes, has them read, shows them.

Nothing here waits for the camera: it is a process of its own (`film/recorder.py`), and so is the
reading. A pass that is paused, changed in its tempo, broken off or stopped is not kept.
"""

from __future__ import annotations

import shutil
import time
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from rehearse.files.user_error import UserError
from rehearse.ui.film.hit_review import LookView
from rehearse.ui.pages.rehearse.camera_reading import CAMERA, PassReading
from rehearse.ui.pages.rehearse.filmed_pass import FilmedPass
from rehearse.ui.pages.rehearse.rehearsal_host import RehearsalHost
from rehearse.ui.workspace import Workspace
from rehearse.words import _

if TYPE_CHECKING:
    from rehearse.film.camera_client import CameraClient
    from rehearse.practice.passplan import PassPlan
    from rehearse.routine.folder import OpenedFolder
    from rehearse.session.session_view import SessionView

#: Milliseconds between two looks at what the camera says.
_POLL = 15
#: Seconds at the end of a pass in which a hit is none of it: nobody holds it any more.
LAST = 0.3
#: Seconds of music after which a pass that is noticed has already begun.
_BEGUN = 0.3


class CameraHost(QObject):
    """Watches the rehearsal and films it where that is wished.

    Attributes:
        look: where the hits of a pass are shown. shows: its pictures are handed on.

    Signals:
        changed: it is on or off, films or not; there is something to look at, or no longer.
        pictured: while it `shows`, when each picture was taken, and its JPEG.
    """

    changed = Signal()
    pictured = Signal(float, bytes)

    def __init__(self, workspace: Workspace, host: RehearsalHost, look: LookView) -> None:
        super().__init__()
        self._workspace, self._host, self.look = workspace, host, look
        self.client: CameraClient | None = None
        self._filmed: FilmedPass | None = None  # under way
        self._ending: tuple[FilmedPass, OpenedFolder] | None = None  # being finished
        self._given_up: PassPlan | None = None  # could not be filmed, and is not tried again
        self.shows = False
        self._poll = QTimer(self, interval=_POLL)
        self._poll.timeout.connect(self.poll)
        self.reading = PassReading(workspace, host, look)
        self.reading.changed.connect(self.changed)
        self.reading.over.connect(self._go_on)
        look.ended.connect(self._go_on)
        workspace.stopAsked.connect(self.stop)
        workspace.leaving.connect(self.stop)
        workspace.settings.changed.connect(self._setting_changed)

    @property
    def wished(self) -> bool:
        """Whether runs are to be filmed."""
        return bool(self._workspace.settings.get("camera"))

    @property
    def state(self) -> str:
        """A key of `camera_sign.SAID`; empty: off."""
        if self._filmed is not None and self._filmed.part is None and self.client is not None:
            return "filming"
        if self.shows:
            return "showing"
        return "ready" if self.wished else ""

    @Slot()
    def toggle(self) -> None:
        """Film runs from now on, or no more."""
        self._workspace.settings.put("camera", not self.wished)

    @Slot(str)
    def _setting_changed(self, name: str) -> None:
        if name == "camera_name" or (name == "camera" and not self.wished):
            self.stop()
        if name.startswith("camera"):
            self.prepare()
            self.changed.emit()

    def prepare(self) -> None:
        """Have the process there before it is needed; its camera stays closed until then."""
        if self.wished and self._workspace.folder is not None:
            self._ready()

    def show(self, on: bool) -> bool:
        """Hand on every picture from now on, or none; False where there can be none."""
        self.shows = on and self._workspace.folder is not None and self._ready()
        if self.client is not None and (self.shows or self.client.started):
            self.client.start(self._workspace.settings.get("camera_name"))
            self.client.show(self.shows)
        self.rest()
        self.changed.emit()
        return self.shows

    # -- a pass is filmed ------------------------------------------------------------------------

    @Slot(object)
    def watch(self, view: SessionView) -> None:
        """One look at the rehearsal, as often as the stage looks."""
        filmed = self._filmed
        if filmed is None:
            if view.plan is not None and self._begins(view):
                self._begin(view.plan)
        elif view.state == "music" and view.plan is not None:
            now = self._workspace.player.now()
            if now.state == "music":
                filmed.hear(view.plan, time.perf_counter() - now.elapsed)
        elif view.state != "count-in":
            self._end(filmed, view)

    def _begins(self, view: SessionView) -> bool:
        if not self.wished or view.plan is None or view.state not in ("count-in", "music"):
            return False
        if view.plan is self._given_up:
            return False
        early = view.state == "count-in" or view.heard - view.plan.start < _BEGUN
        return early and self._host.closes and self._has_hits(view.plan)

    def _has_hits(self, plan: PassPlan) -> bool:
        sheet = self._workspace.sheet
        return sheet is not None and any(
            plan.start <= cue.hit <= plan.end - LAST for cue in sheet.cues
        )

    def _begin(self, plan: PassPlan) -> None:
        folder, last = self._workspace.folder, self._host.last
        if folder is None or not self._ready():
            return
        self.look.close_film()
        self._filmed = FilmedPass(plan, last.id if last is not None else "")
        self._host.wait_after()
        assert self.client is not None
        self.client.start(self._workspace.settings.get("camera_name"))
        self.client.begin(folder, sound=bool(self._workspace.settings.get("camera_sound")))
        self.changed.emit()

    def _end(self, filmed: FilmedPass, view: SessionView) -> None:
        """The pass is over, one way or the other."""
        from rehearse.ui.film.film_data import opened

        self._filmed, last = None, self._host.last
        whole = last is not None and last.id != filmed.before and last.complete
        keep = whole and filmed.wanted and bool(filmed.zeros) and not view.unwell
        if self.client is not None and filmed.part is None:
            self.client.end(keep=keep)
        try:
            self._ending = (filmed, opened(self._workspace)) if keep else None
        except UserError:
            self._ending = None
        if self._ending is None:
            _delete(filmed.part)
            self._go_on()
        elif filmed.part is not None:
            self._finish(filmed.part, filmed.zero)
        self.changed.emit()

    def _ready(self) -> bool:
        """Have the camera open, or opening; False where its process cannot be started."""
        from rehearse.film.camera_client import CameraClient

        if self.client is not None and not self.client.over:
            return True
        try:
            self.client = CameraClient()
        except (OSError, RuntimeError):
            self._tell(_("The camera could not be started – close other programs."))
            return False
        self._workspace.standing.mend(CAMERA)
        self._poll.start()
        return True

    def _tell(self, sentence: str) -> None:
        self._workspace.standing.stand(CAMERA, sentence)

    @Slot()
    def poll(self) -> None:
        """Take what the camera says."""
        from rehearse.film.camera_messages import CameraPicture, Ended, Failed, Told

        client = self.client
        if client is None:
            return
        for message in client.poll():
            if isinstance(message, Told | Failed):
                self._tell(message.sentence)
            elif isinstance(message, Ended):
                if message.number == client.number or self._ending is not None:
                    self._ended(message.part, client.zero)
                else:  # of a pass that was broken off; another one is filmed since
                    _delete(message.part)
            elif isinstance(message, CameraPicture):
                self.pictured.emit(message.taken, message.jpeg)
        if client.over:
            self._lose()

    def _ended(self, part: Path | None, zero: float) -> None:
        """A recording is over; it may have ended by itself, in the middle of the pass."""
        filmed = self._filmed
        if self._ending is not None and part is not None:
            self._finish(part, zero)
        elif filmed is not None and part is not None:
            filmed.part, filmed.zero = part, zero
        elif filmed is not None:  # it never began
            self._filmed, self._given_up = None, filmed.plan
            self._host.wait_after(False)
        elif self._ending is not None:
            self._ending = None
            self._go_on()
        self.rest()
        self.changed.emit()

    def _lose(self) -> None:
        """The camera is gone; what it filmed of the pass is read at its end."""
        filmed, lost = self._filmed, self._ending is not None
        self._close()
        if filmed is not None and filmed.part is None:
            self._filmed, self._given_up = None, filmed.plan
            self._host.wait_after(False)
        if lost:
            self._ending = None
            self._go_on()
        self.changed.emit()

    def _finish(self, part: Path, zero: float) -> None:
        assert self._ending is not None
        (filmed, routine), self._ending = self._ending, None
        self.reading.read(part, routine, filmed.place(zero))

    @Slot()
    def _go_on(self) -> None:
        """What follows begins, where it waits for something to be looked at."""
        if self._host.waits:
            self._host.pause_or_resume()

    def end_look(self) -> None:
        """The stage again; what follows still waits."""
        if self.look.on:
            self.look.close_film()
            self.changed.emit()

    # -- it ends ---------------------------------------------------------------------------------

    @Slot()
    def stop(self) -> None:
        """The camera is closed, and what is being filmed is not kept."""
        filmed, self._filmed, self._ending = self._filmed, None, None
        client, folder = self.client, self._workspace.folder
        self.look.close_film()
        self._close()
        if client is not None and client.recording and folder is not None:
            from rehearse.film.recording import drop_of

            drop_of(folder, client.pid)
        _delete(filmed.part if filmed is not None else None)
        self.changed.emit()

    def rest(self) -> None:
        """Where nothing is rehearsed the camera is closed, once its recording is written."""
        client, busy = self.client, self._host.busy or self.shows or self._filmed is not None
        if client is None or busy or self._ending is not None or client.recording:
            return
        if client.started:
            self._close()
            self.prepare()

    def leave(self) -> None:
        """The window closes."""
        self.stop()

    def _close(self) -> None:
        client, self.client, self.shows = self.client, None, False
        self._poll.stop()
        if client is not None:
            client.close()


def _delete(part: Path | None) -> None:
    """Delete a recording that nobody wants."""
    if part is not None:
        shutil.rmtree(part, ignore_errors=True)
