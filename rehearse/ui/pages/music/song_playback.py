"""Hears the song with a click on every count; a selected stretch goes round."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot

from rehearse.cueing.count_in import click
from rehearse.music.beatmap import BeatMap
from rehearse.playback.segment import Clip, Segment
from rehearse.ui.page_music import PageMusic
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.workspace import Workspace
from rehearse.words import _


class SongPlayback(PageMusic):
    """Plays from the cursor to the end, or the selection again and again.

    Signals:
        heard: the second of the track heard now, while it plays.
    """

    key = "mapping"
    heard = Signal(float)

    def __init__(self, workspace: Workspace, view: WaveView) -> None:
        super().__init__(workspace)
        self._view = view
        self._clicks, self._muted = True, False
        self._clicked: BeatMap | None = None
        self._heard = 0.0
        workspace.documentChanged.connect(self._map_changed)

    def now(self) -> float:
        """Seconds of the track heard at this very moment; the cursor while nothing plays."""
        source = self.source()
        return self._view.cursor_time if source is None else source

    def begin(self) -> None:
        """Play from the cursor, or the selection."""
        if self._workspace.track is None:
            self._workspace.wish.ask(_("It plays"), self.begin)
            return
        start = self._view.cursor_time
        if start >= self._workspace.track.duration - 0.1:
            start = 0.0
        selected = self._view.selection
        at = None if selected is not None else start
        self._heard = start
        self._take_over()
        self._play(self._segment(), at=at, repeat=selected is not None)

    def _leave(self) -> None:
        self._view.set_playhead(None)

    def _lose(self) -> None:
        self._view.set_cursor(self.now())

    def _goes_round(self) -> bool:
        return self._view.selection is not None

    @Slot(bool)
    def set_clicks(self, on: bool) -> None:
        """With or without clicks, from now on."""
        self._clicks = on
        self._refresh()

    def mute(self, on: bool) -> None:
        """Without clicks for a while: those of a wrong map would lead the hand that taps."""
        if on != self._muted:
            self._muted = on
            self._refresh()

    @Slot()
    def _map_changed(self) -> None:
        if self._workspace.beatmap is not self._clicked:
            self._refresh()

    def _refresh(self) -> None:
        """Go on with the clicks of the map as it is now."""
        if self.on and self._workspace.track is not None:
            repeat = self._view.selection is not None
            self._workspace.player.change(self._segment(), repeat=repeat)

    def _segment(self) -> Segment:
        selected, track = self._view.selection, self._workspace.track
        assert track is not None
        start, end = (selected.start, selected.end) if selected else (0.0, track.duration)
        return Segment(self.key, start, end, clips=self._clips(start, end, track.sample_rate))

    def _clips(self, start: float, end: float, rate: int) -> tuple[Clip, ...]:
        beatmap = self._clicked = self._workspace.beatmap
        if not self._clicks or self._muted or beatmap is None:
            return ()
        strong, plain = click(rate, strong=True), click(rate)
        return tuple(
            Clip(beat - start, strong if place == 1 else plain)
            for beat, place in zip(beatmap.beats, beatmap.places, strict=True)
            if start <= beat < end
        )

    def _move(self) -> None:
        time, scale = self.now(), self._view.scale
        self._view.set_playhead(time)
        # Whoever scrolls away while listening wants to look elsewhere.
        if scale.shows(self._heard, self._heard):
            self._view.show_time(time)
        self._heard = time
        self.heard.emit(time)
