"""The music of a filmed run: from the track, at any tempo, a transition round and round."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from rehearse.playback.segment import OutputLost, PassEnded, Segment
from rehearse.ui.status import SOUND
from rehearse.ui.workspace import Workspace

KEY = "film"
SLOWEST, FASTEST, STEP = 0.4, 1.0, 0.05


class FilmMusic(QObject):
    """Plays from `second` to the end of the film, or a stretch again and again.

    Signals:
        moved: `second` is another one. changed: began, stopped, another tempo or stretch.
    """

    moved = Signal()
    changed = Signal()

    def __init__(self, workspace: Workspace, start: float, end: float) -> None:
        super().__init__()
        self._workspace = workspace
        self.start, self.end = start, end
        self.second, self.tempo = start, 1.0
        self.loop: tuple[float, float] | None = None
        self._timer = QTimer(self, interval=16)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._tick)
        workspace.musicAsked.connect(self._give_way)
        workspace.stopAsked.connect(self.stop)

    @property
    def on(self) -> bool:
        """Whether this music plays."""
        return self._timer.isActive()

    @Slot()
    def toggle(self) -> None:
        """Play from here, or stop here."""
        if self.on:
            self.stop()
        elif self._workspace.track is None:
            self._workspace.wish.ask("It plays", self.toggle)
        elif self._workspace.other_song:
            self._workspace.notice.say(self._workspace.other_song)
        else:
            self._workspace.standing.mend(SOUND)
            self._workspace.musicAsked.emit(self)
            self._begin()
            self._timer.start()
            self.changed.emit()

    @Slot()
    def stop(self) -> None:
        """Stop where the music is."""
        if self.on:
            self._timer.stop()
            self._workspace.player.stop()
            self.changed.emit()

    def go(self, second: float) -> None:
        """Put the film and its music there."""
        self.second = min(self.end, max(self.start, second))
        if self.on:
            self._begin()
        self.moved.emit()

    def set_tempo(self, tempo: float) -> None:
        """Part of the music's own tempo, `SLOWEST` to `FASTEST`."""
        self.tempo = round(min(FASTEST, max(SLOWEST, tempo)), 2)
        if self.on:
            self._begin()
        self.changed.emit()

    def set_loop(self, loop: tuple[float, float] | None) -> None:
        """Go round from one second to another; None: on to the end."""
        self.loop = loop
        if loop is not None:
            self.second = loop[0]
        if self.on:
            self._begin()
        self.changed.emit()
        self.moved.emit()

    @Slot(object)
    def _give_way(self, other: object) -> None:
        if other is not self:
            self.stop()

    def _begin(self) -> None:
        track = self._workspace.track
        if track is None:
            return
        start, end = self.loop or (self.start, min(self.end, track.duration))
        at = self.second if start <= self.second < end - 0.1 else start
        segment = Segment(KEY, start, end, tempo=self.tempo)
        self._workspace.player.play(segment, at=at, repeat=self.loop is not None)

    @Slot()
    def _tick(self) -> None:
        for event in self._workspace.player.poll():
            if isinstance(event, OutputLost):
                self.stop()
                self._workspace.standing.stand(SOUND, event.sentence)
                return
            if isinstance(event, PassEnded) and event.key == KEY and self.loop is None:
                self.stop()
                return
        now = self._workspace.player.now()
        if now and now.key == KEY:
            self.second = float(now.source)
            self.moved.emit()
