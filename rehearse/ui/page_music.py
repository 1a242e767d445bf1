"""What plays for one page of the window: it gives way to any other, and stops for the stop key."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from rehearse.playback.segment import OutputLost, PassEnded, Segment
from rehearse.ui.status import SOUND
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Milliseconds between two looks at what is heard: a frame of a screen of 60 Hz.
_LOOK = 16


class PageMusic(QObject):
    """One page's music; each page says what is played and what follows it.

    Attributes:
        key: the key of its segments, which tells them from other pages' in the player.

    Signals:
        changed: began, stopped, or plays otherwise.
    """

    key = ""
    changed = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._timer = QTimer(self, interval=_LOOK)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._tick)
        workspace.musicAsked.connect(self._give_way)
        workspace.stopAsked.connect(self.stop)

    @property
    def on(self) -> bool:
        """Whether this music plays."""
        return self._timer.isActive()

    def source(self) -> float | None:
        """Seconds of the track heard at this very moment; None while it does not play."""
        now = self._workspace.player.now() if self.on else None
        # For a moment the player still tells what was heard before.
        return float(now.source) if now and now.key == self.key else None

    @Slot()
    def toggle(self) -> None:
        """Play, or stop."""
        if self.on:
            self.stop()
        else:
            self.begin()

    def begin(self) -> None:
        """Play; while the song is being read, once it is there."""
        if self._workspace.track is None:
            self._workspace.wish.ask(_("It plays"), self.begin)
        elif self._workspace.other_song:
            self._workspace.notice.say(self._workspace.other_song)
        else:
            self._workspace.notice.drop()
            self._start()

    def _take_over(self) -> None:
        """Every other music stops; what is said of a lost speaker goes: it is looked for again."""
        self._workspace.standing.mend(SOUND)
        self._workspace.musicAsked.emit(self)

    def _play(self, segment: Segment, *, at: float | None = None, repeat: bool = False) -> None:
        self._workspace.player.play(segment, at=at, repeat=repeat)
        if not self.on:
            self._timer.start()
            self.changed.emit()

    @Slot()
    def stop(self) -> None:
        """Stop."""
        if self.on:
            self._leave()
            self._timer.stop()
            self._workspace.player.stop()
            self.changed.emit()

    @Slot(QObject)
    def _give_way(self, other: QObject) -> None:
        if other is not self:
            self.stop()

    @Slot()
    def _tick(self) -> None:
        for event in self._workspace.player.poll():
            if isinstance(event, OutputLost):
                self._lose()
                self.stop()  # the next start looks for a device again
                self._workspace.standing.stand(SOUND, event.sentence)
                return
            ended = isinstance(event, PassEnded) and event.key == self.key and event.complete
            if ended and not self._goes_round():
                self.stop()
                return
        self._move()

    def _start(self) -> None:
        """Play what is to be played, the song being there and the one that was mapped."""

    def _leave(self) -> None:
        """Just before it stops."""

    def _lose(self) -> None:
        """The speaker is gone; it stops next."""

    def _goes_round(self) -> bool:
        """Whether a pass that ended is followed by another."""
        return False

    def _move(self) -> None:
        """The music has moved on."""
        raise NotImplementedError
