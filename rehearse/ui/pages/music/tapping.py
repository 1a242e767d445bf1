"""Collects taps while the song is heard; they end on Enter, on Stop or when none comes."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from rehearse.ui.pages.music.song_playback import SongPlayback

#: Milliseconds without a tap after which the taps are taken.
PAUSE = 2500


class Tapping(QObject):
    """Taps on their way into the map.

    Args:
        enough: taps that end it, and that are tapped without clicks; 0: as many as come.

    Signals:
        changed: begun, a tap more, or ended. ended: the taps, in seconds of the track.
    """

    changed = Signal()
    ended = Signal(list)

    def __init__(self, song_playback: SongPlayback, enough: int = 0) -> None:
        super().__init__()
        self._song_playback, self._enough = song_playback, enough
        self.taps: list[float] = []
        self.waiting = False
        self._pause = QTimer(self, singleShot=True, interval=PAUSE)
        self._pause.timeout.connect(self.finish)
        song_playback.changed.connect(self._stopped)

    @Slot()
    def tap(self) -> None:
        """A tap; the first one while nothing plays starts the music instead."""
        if not self._song_playback.on:
            self.taps, self.waiting = [], True
            self._song_playback.mute(self._enough > 0)
            self._song_playback.begin()
            self.waiting = self._song_playback.on
        else:
            self.waiting = True
            self._song_playback.mute(self._enough > 0)
            self.taps.append(self._song_playback.now())
            self._pause.start()
            if len(self.taps) == self._enough:
                self.finish()
        self.changed.emit()

    @Slot()
    def finish(self) -> None:
        """Hand over the taps."""
        if not self.waiting:
            return
        self._pause.stop()
        taps, self.taps, self.waiting = self.taps, [], False
        self._song_playback.mute(False)
        self.changed.emit()
        if taps:
            self.ended.emit(taps)

    @Slot()
    def drop(self) -> None:
        """Forget the taps."""
        self._pause.stop()
        self.taps, self.waiting = [], False
        self._song_playback.mute(False)
        self.changed.emit()

    @Slot()
    def _stopped(self) -> None:
        if not self._song_playback.on:
            self.finish()
