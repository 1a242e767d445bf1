"""Hears the routine while it is made: from anywhere, at any tempo, the cursor going along."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from rehearse.playback.segment import OutputLost, PassEnded, Segment
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.ui.status import SOUND
from rehearse.ui.workspace import Workspace

KEY = "making"
SLOWEST, FASTEST, STEP = 0.4, 1.05, 0.05
#: Less music than this before the end is not worth playing: it begins again at the start.
_LEFT = 0.1


class Playing(QObject):
    """Plays from the cursor to the end of the stage part.

    Signals:
        changed: began, stopped, or another tempo. ticked: the music has moved on.
    """

    changed = Signal()
    ticked = Signal()

    def __init__(self, workspace: Workspace, editor: EditorState) -> None:
        super().__init__()
        self._workspace, self._editor = workspace, editor
        self._tempo = 1.0
        self._timer = QTimer(self, interval=16)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._tick)
        workspace.musicAsked.connect(self._give_way)
        workspace.stopAsked.connect(self.stop)
        workspace.leaving.connect(self._forget)

    @property
    def on(self) -> bool:
        """Whether this page's music plays."""
        return self._timer.isActive()

    @property
    def tempo(self) -> float:
        """Part of the music's own tempo, 0.4–1.05."""
        return self._tempo

    @tempo.setter
    def tempo(self, value: float) -> None:
        value = round(min(max(SLOWEST, value), FASTEST), 2)
        if value != self._tempo:
            self._tempo = value
            if self.on:
                self._begin(self.now())
            self.changed.emit()

    def now(self) -> float:
        """Seconds of the track heard at this very moment, or the cursor while nothing plays."""
        now = self._workspace.player.now() if self.on else None
        # For a moment the player still tells what was heard before.
        return float(now.source) if now and now.key == KEY else self._editor.cursor

    @Slot()
    def toggle(self) -> None:
        """Play from the cursor, or stop there."""
        if self.on:
            self.stop()
        else:
            self.begin()

    def begin(self) -> None:
        """Play from the cursor; while the song is being read, once it is there."""
        if self._workspace.track is None:
            self._workspace.wish.ask("It plays", self.begin)
        elif self._workspace.other_song:
            self._workspace.notice.say(self._workspace.other_song)
        else:
            self._workspace.notice.drop()
            self._workspace.standing.mend(SOUND)
            self._workspace.musicAsked.emit(self)
            self._begin(self._editor.cursor)
            self._timer.start()
            self.changed.emit()

    @Slot()
    def stop(self) -> None:
        """Stop; the cursor stays where the music was."""
        if self.on:
            self._editor.cursor = self.now()
            self._timer.stop()
            self._workspace.player.stop()
            self.changed.emit()

    @Slot()
    def _forget(self) -> None:
        """Another routine is opened: a tempo wished for this one is not for that."""
        self.stop()
        self.tempo = 1.0

    @Slot(QObject)
    def _give_way(self, other: QObject) -> None:
        if other is not self:
            self.stop()

    def go(self, time: float) -> None:
        """Put the cursor there; music that plays goes on from there."""
        self._editor.cursor = time
        if self.on:
            self._begin(self._editor.cursor)

    def _begin(self, time: float) -> None:
        start, end = self.bounds()
        if time >= end - _LEFT:
            time = start
        segment = Segment(KEY, min(start, time), end, tempo=self._tempo)
        self._workspace.player.play(segment, at=time, repeat=False)

    def bounds(self) -> tuple[float, float]:
        """Seconds at which the stage part begins and ends, else the song."""
        stage = self._workspace.routine.stage if self._workspace.routine else None
        end = self._workspace.track.duration if self._workspace.track else 0.0
        return (stage.start, min(stage.end, end)) if stage else (0.0, end)

    @Slot()
    def _tick(self) -> None:
        for event in self._workspace.player.poll():
            if isinstance(event, PassEnded) and event.key == KEY and event.complete:
                self.stop()
                return
            if isinstance(event, OutputLost):
                self.stop()  # the next press of Play looks for a device again
                self._workspace.standing.stand(SOUND, event.sentence)
                return
        self._editor.cursor = self.now()
        self.ticked.emit()
