"""The button that plays the first seconds of a cue track before it is made."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtWidgets import QPushButton

from rehearse.files.fault import Fault
from rehearse.handout.material import Material
from rehearse.handout.options import HandoutOptions
from rehearse.handout.preview import heard
from rehearse.playback.passage import Passage
from rehearse.ui.desk import Desk
from rehearse.ui.jobs import Running

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
        self, desk: Desk, chosen: Callable[[], tuple[Material, HandoutOptions] | None]
    ) -> None:
        super().__init__()
        self._desk, self._chosen = desk, chosen
        self._running: Running | None = None
        self._sounding = QTimer(self, singleShot=True)
        self._sounding.timeout.connect(self._refresh)
        self.clicked.connect(self.toggle)
        desk.stopAsked.connect(self.hush)
        desk.musicAsked.connect(self._give_way)
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
        chosen, track = self._chosen(), self._desk.track
        if chosen is None or track is None:
            self.told.emit("The song is not read yet – wait a moment and press again.")
            return
        self._running = self._desk.run_job(
            "Preparing the first seconds",
            heard,
            *(*chosen, track.sample_rate),
            done=self._play,
            failed=self._failed,
        )
        self._refresh()

    def _play(self, passage: Passage) -> None:
        self._running = None
        self._desk.musicAsked.emit(self)
        self._desk.player.play(passage, repeat=False)
        seconds = passage.lead + (passage.end - passage.start) / passage.tempo
        self._sounding.start(round(1000 * seconds) + _RING)
        self._refresh()

    def _failed(self, fault: Fault) -> None:
        self._running = None
        self._refresh()
        self._desk.faultRaised.emit(fault.sentence)

    @Slot()
    def hush(self) -> None:
        """Stop."""
        running, self._running = self._running, None
        if running is not None:
            self._desk.stop_job(running)
        if self._sounding.isActive():
            self._sounding.stop()
            self._desk.player.stop()
        self._refresh()

    @Slot(object)
    def _give_way(self, other: object) -> None:
        if other is not self and self._sounding.isActive():
            self._sounding.stop()
            self._refresh()

    @Slot()
    def _refresh(self) -> None:
        self.setText("Stop &listening" if self.on else "&Listen")
        words = "Stop listening" if self.on else "Hear the first 20 seconds before it is made"
        self.setAccessibleName(words)
        self.setToolTip(words)
