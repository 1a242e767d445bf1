"""The button that plays the first seconds of a cue track before it is made."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer, Signal, Slot
from PySide6.QtWidgets import QPushButton

from rehearse.files.user_error import UserError
from rehearse.handout.handout_options import HandoutOptions
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.preview import heard
from rehearse.playback.segment import Segment
from rehearse.ui.jobs import RunningJob
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Milliseconds that the last sound rings on.
_RING = 500


class Listen(QPushButton):
    """Prepares them in a worker process, plays them, and stops when pressed again.

    Args:
        chosen: what is open and the choices now; None where there is nothing to be heard.

    Signals:
        told: a sentence about what goes on.
    """

    told = Signal(str)

    def __init__(
        self,
        workspace: Workspace,
        chosen: Callable[[], tuple[HandoutSource, HandoutOptions] | None],
    ) -> None:
        super().__init__()
        self._workspace, self._chosen = workspace, chosen
        self._running: RunningJob | None = None
        self._sounding = QTimer(self, singleShot=True)
        self._sounding.timeout.connect(self._refresh)
        self.clicked.connect(self.toggle)
        workspace.stopAsked.connect(self.hush)
        workspace.musicAsked.connect(self._give_way)
        self._refresh()

    @property
    def on(self) -> bool:
        """Whether it is being prepared or heard."""
        return self._running is not None or self._sounding.isActive()

    @Slot()
    def toggle(self) -> None:
        """Begin to listen, or stop."""
        if self.on:
            self.hush()
            return
        chosen, track = self._chosen(), self._workspace.track
        if chosen is None or track is None:
            self.told.emit(_("The song is still being read – wait a moment and press again."))
            return
        self._running = self._workspace.run_job(
            _("Preparing the first seconds"),
            heard,
            *(*chosen, track.sample_rate),
            done=self._play,
            failed=self._failed,
        )
        self._refresh()

    def _play(self, segment: Segment) -> None:
        self._running = None
        self._workspace.musicAsked.emit(self)
        self._workspace.player.play(segment, repeat=False)
        seconds = segment.lead + (segment.end - segment.start) / segment.tempo
        self._sounding.start(round(1000 * seconds) + _RING)
        self._refresh()

    def _failed(self, error: UserError) -> None:
        self._running = None
        self._refresh()
        self._workspace.errorRaised.emit(error.sentence)

    @Slot()
    def hush(self) -> None:
        """Stop."""
        running, self._running = self._running, None
        if running is not None:
            self._workspace.stop_job(running)
        if self._sounding.isActive():
            self._sounding.stop()
            self._workspace.player.stop()
        self._refresh()

    @Slot(QObject)
    def _give_way(self, other: QObject) -> None:
        if other is not self and self._sounding.isActive():
            self._sounding.stop()
            self._refresh()

    @Slot()
    def _refresh(self) -> None:
        self.setText(_("Stop &listening") if self.on else _("&Listen"))
        words = _("Stop listening") if self.on else _("Hear the first 20 seconds before it is made")
        self.setAccessibleName(words)
