"""Hears a cut before it is made: the whole of it, or one join with two counts on either side."""

from __future__ import annotations

from PySide6.QtCore import Signal

from rehearse.music.cut import Cut
from rehearse.music.cutsound import splice_sound
from rehearse.music.track import Track
from rehearse.playback.segment import Segment
from rehearse.ui.page_music import PageMusic
from rehearse.ui.workspace import Workspace


class CutPlayback(PageMusic):
    """Plays stretches of a cut's sound; the workspace's own song is back in the player afterwards.

    Signals:
        moved: seconds of the cut heard now.
    """

    key = "cut"
    moved = Signal(float)

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._first, self._lent = 0.0, False

    def play(self, song: Track, cut: Cut, first: float = 0.0, last: float | None = None) -> None:
        """Play from `first` to `last` seconds of the cut; None: to its end."""
        self.stop()
        first = max(0.0, first)
        sound = splice_sound(song.samples, song.sample_rate, cut, first=first, last=last)
        track = Track(sound, song.sample_rate, "", song.title)
        self._take_over()
        self._workspace.player.load(track)
        self._lent, self._first = True, first
        self._play(Segment(self.key, 0.0, track.duration))

    def give_back(self) -> None:
        """Stop, and let the player have the workspace's song again."""
        self.stop()
        if self._lent and self._workspace.track is not None:
            self._workspace.player.load(self._workspace.track)
        self._lent = False

    def _move(self) -> None:
        source = self.source()
        if source is not None:
            self.moved.emit(self._first + source)
