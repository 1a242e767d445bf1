"""The late mirror on the Rehearse page: its camera, and how many seconds its counts are."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.cueing.count_in import count_length
from rehearse.music.position import Length
from rehearse.ui.film.late_mirror import LATE, LateMirror, words_of
from rehearse.ui.pages.rehearse.camera_host import CameraHost
from rehearse.ui.pages.rehearse.rehearsal_host import RehearsalHost
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Seconds of a count where nothing is mapped.
_COUNT = 0.5


class MirrorHost(QObject):
    """Shows and hides it, and says how late it is.

    Signals:
        changed: it stands in front, or no longer.
    """

    changed = Signal()

    def __init__(self, workspace: Workspace, host: RehearsalHost, camera: CameraHost) -> None:
        super().__init__()
        self._workspace, self._host, self._camera = workspace, host, camera
        self.view = LateMirror(self.ago)
        camera.pictured.connect(self._add)
        camera.changed.connect(self._follow)
        workspace.settings.changed.connect(self._setting_changed)
        self._set()

    def _set(self) -> None:
        late = self._workspace.settings.get("mirror_late")
        self.view.late = late if late in LATE else "8 counts"
        self.view.mirrored = self._workspace.settings.get("mirror_flipped")
        self.view.update()

    @Slot(str)
    def _setting_changed(self, name: str) -> None:
        if name.startswith("mirror_"):
            self._set()

    @Slot()
    def toggle(self) -> None:
        """Show it in front of the stage, or no more."""
        self.show(not self.view.on)

    def show(self, on: bool) -> None:
        """As `toggle`."""
        if on != self.view.on:
            self.view.set_on(on and self._camera.show(True))
            if not on:
                self._camera.show(False)
            self.changed.emit()

    @Slot()
    def step(self) -> None:
        """Later: the next of its delays, after the last one the first."""
        order = list(LATE)
        late = order[(order.index(self.view.late) + 1) % len(order)]
        self._workspace.settings.put("mirror_late", late)
        self._workspace.notice.say(_("Late mirror: {late}.", late=words_of(late)))

    @Slot(float, bytes)
    def _add(self, taken: float, jpeg: bytes) -> None:
        if self.view.on:
            self.view.ring.add(taken, jpeg)

    @Slot()
    def _follow(self) -> None:
        """The camera was closed, by the stop key or because it is gone."""
        if self.view.on and not self._camera.shows:
            self.view.set_on(False)
            self.changed.emit()

    def ago(self) -> float:
        """How late it is, in seconds: its counts as long as they are in what is heard now."""
        number, counts = LATE[self.view.late]
        if not counts:
            return float(number)
        beatmap, plan = self._workspace.beatmap, self._host.view.plan
        if beatmap is None or not beatmap.beats:
            return number * _COUNT
        if self._host.view.state == "music":
            now = self._workspace.player.now()
            return (now.source - beatmap.shift(now.source, Length(-number))) / now.tempo
        start, tempo = (plan.start, plan.tempo) if plan is not None else (beatmap.beats[0], 1.0)
        return number * count_length(beatmap, start) / tempo
