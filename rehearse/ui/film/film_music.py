"""The music of a filmed run: from the track, at any tempo, a transition round and round."""

from __future__ import annotations

from PySide6.QtCore import Signal

from rehearse.playback.segment import Segment
from rehearse.playback.stretch import SLOWEST
from rehearse.ui.page_music import PageMusic
from rehearse.ui.workspace import Workspace

FASTEST, STEP = 1.0, 0.05


class FilmMusic(PageMusic):
    """Plays from `second` to the end of the film, or a stretch again and again.

    Before `start` there are pictures but no music, down to `first`: the clap before a run.

    Signals:
        moved: `second` is another one.
    """

    key = "film"
    moved = Signal()

    def __init__(
        self, workspace: Workspace, start: float, end: float, *, first: float | None = None
    ) -> None:
        super().__init__(workspace)
        self.start, self.end = start, end
        self._first = start if first is None else first
        self.second, self.tempo = start, 1.0
        self.loop: tuple[float, float] | None = None

    def _start(self) -> None:
        """Play from here."""
        self._take_over()
        self._begin()

    def go(self, second: float) -> None:
        """Put the film and its music there."""
        self.second = min(self.end, max(self._first, second))
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

    def _begin(self) -> None:
        track = self._workspace.track
        if track is None:
            return
        start, end = self.loop or (self.start, min(self.end, track.duration))
        at = self.second if start <= self.second < end - 0.1 else start
        segment = Segment(self.key, start, end, tempo=self.tempo)
        self._play(segment, at=at, repeat=self.loop is not None)

    def _goes_round(self) -> bool:
        return self.loop is not None

    def _move(self) -> None:
        source = self.source()
        if source is not None:
            self.second = source
            self.moved.emit()
