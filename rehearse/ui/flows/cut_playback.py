"""Hears a cut before it is made: the whole of it, or one join with two counts on either side."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from rehearse.music.cut import Cut
from rehearse.music.track import Track
from rehearse.playback.segment import OutputLost, PassEnded, Segment
from rehearse.ui.status import SOUND
from rehearse.ui.workspace import Workspace

KEY = "cut"


class CutPlayback(QObject):
    """Plays stretches of a cut's sound; the workspace's own song is back in the player afterwards.

    Signals:
        changed: began or ended. moved: seconds of the cut heard now.
    """

    changed = Signal()
    moved = Signal(float)

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._first, self._lent = 0.0, False
        self._timer = QTimer(self, interval=16)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._tick)
        workspace.musicAsked.connect(self._give_way)
        workspace.stopAsked.connect(self.stop)

    @property
    def on(self) -> bool:
        """Whether it is heard."""
        return self._timer.isActive()

    def play(self, song: Track, cut: Cut, first: float = 0.0, last: float | None = None) -> None:
        """Play from `first` to `last` seconds of the cut; None: to its end."""
        from rehearse.music.cutsound import splice_sound

        self.stop()
        first = max(0.0, first)
        sound = splice_sound(song.samples, song.sample_rate, cut, first=first, last=last)
        track = Track(sound, song.sample_rate, "", song.title)
        self._workspace.standing.mend(SOUND)
        self._workspace.musicAsked.emit(self)
        self._workspace.player.load(track)
        self._lent, self._first = True, first
        self._workspace.player.play(Segment(KEY, 0.0, track.duration), repeat=False)
        self._timer.start()
        self.changed.emit()

    @Slot()
    def stop(self) -> None:
        """Stop."""
        if self.on:
            self._timer.stop()
            self._workspace.player.stop()
            self.changed.emit()

    def give_back(self) -> None:
        """Stop, and let the player have the workspace's song again."""
        self.stop()
        if self._lent and self._workspace.track is not None:
            self._workspace.player.load(self._workspace.track)
        self._lent = False

    @Slot(object)
    def _give_way(self, other: object) -> None:
        if other is not self:
            self.stop()

    @Slot()
    def _tick(self) -> None:
        for event in self._workspace.player.poll():
            if isinstance(event, PassEnded) and event.key == KEY:
                self.stop()
                return
            if isinstance(event, OutputLost):
                self.stop()
                self._workspace.standing.stand(SOUND, event.sentence)
                return
        now = self._workspace.player.now()
        if now.key == KEY:
            self.moved.emit(self._first + float(now.source))
