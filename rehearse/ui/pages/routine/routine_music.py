"""Hears the routine while it is made: from anywhere, at any tempo, the cursor going along."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot

from rehearse.playback.segment import Segment
from rehearse.ui.page_music import PageMusic
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.ui.workspace import Workspace

SLOWEST, FASTEST, STEP = 0.4, 1.05, 0.05
#: Less music than this before the end is not worth playing: it begins again at the start.
_LEFT = 0.1


class RoutineMusic(PageMusic):
    """Plays from the cursor to the end of the stage part.

    Signals:
        ticked: the music has moved on.
    """

    key = "making"
    ticked = Signal()

    def __init__(self, workspace: Workspace, editor: EditorState) -> None:
        super().__init__(workspace)
        self._editor = editor
        self._tempo = 1.0
        workspace.leaving.connect(self._forget)

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
        source = self.source()
        return self._editor.cursor if source is None else source

    def _start(self) -> None:
        """Play from the cursor."""
        self._take_over()
        self._begin(self._editor.cursor)

    def _leave(self) -> None:
        """The cursor stays where the music was."""
        self._editor.cursor = self.now()

    @Slot()
    def _forget(self) -> None:
        """Another routine is opened: a tempo wished for this one is not for that."""
        self.stop()
        self.tempo = 1.0

    def go(self, time: float) -> None:
        """Put the cursor there; music that plays goes on from there."""
        self._editor.cursor = time
        if self.on:
            self._begin(self._editor.cursor)

    def _begin(self, time: float) -> None:
        start, end = self.bounds()
        if time >= end - _LEFT:
            time = start
        segment = Segment(self.key, min(start, time), end, tempo=self._tempo)
        self._play(segment, at=time)

    def bounds(self) -> tuple[float, float]:
        """Seconds at which the stage part begins and ends, else the song."""
        stage = self._workspace.routine.stage if self._workspace.routine else None
        end = self._workspace.track.duration if self._workspace.track else 0.0
        return (stage.start, min(stage.end, end)) if stage else (0.0, end)

    def _move(self) -> None:
        self._editor.cursor = self.now()
        self.ticked.emit()
