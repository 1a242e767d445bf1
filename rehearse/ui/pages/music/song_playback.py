"""Hears the song with a click on every count; a selected stretch goes round."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from rehearse.cueing.count_in import click
from rehearse.music.beatmap import BeatMap
from rehearse.playback.segment import Clip, OutputLost, PassEnded, Segment
from rehearse.ui.status import SOUND
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.workspace import Workspace

KEY = "mapping"


class SongPlayback(QObject):
    """Plays from the cursor to the end, or the selection again and again.

    Signals:
        changed: began or ended. heard: the second of the track heard now, while it plays.
    """

    changed = Signal()
    heard = Signal(float)

    def __init__(self, workspace: Workspace, view: WaveView) -> None:
        super().__init__()
        self._workspace, self._view = workspace, view
        self._clicks, self._muted = True, False
        self._clicked: BeatMap | None = None
        self._heard = 0.0
        self._timer = QTimer(self, interval=16)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._tick)
        workspace.documentChanged.connect(self._map_changed)
        workspace.musicAsked.connect(self._give_way)
        workspace.stopAsked.connect(self.stop)

    @property
    def on(self) -> bool:
        """Whether this page's music plays."""
        return self._timer.isActive()

    def now(self) -> float:
        """Seconds of the track heard at this very moment; the cursor while nothing plays."""
        now = self._workspace.player.now() if self.on else None
        # For a moment the player still tells what was heard before.
        return float(now.source) if now and now.key == KEY else self._view.cursor_time

    @Slot()
    def toggle(self) -> None:
        """Play, or stop; the cursor stays where the playing began."""
        if self.on:
            self.stop()
        else:
            self.begin()

    def begin(self) -> None:
        """Play from the cursor, or the selection."""
        if self._workspace.track is None:
            self._workspace.wish.ask("It plays", self.begin)
            return
        self._workspace.standing.mend(SOUND)
        start = self._view.cursor_time
        if start >= self._workspace.track.duration - 0.1:
            start = 0.0
        selected = self._view.selection
        at = None if selected is not None else start
        self._heard = start
        self._workspace.musicAsked.emit(self)
        self._workspace.player.play(self._segment(), at=at, repeat=selected is not None)
        self._timer.start()
        self.changed.emit()

    @Slot()
    def stop(self) -> None:
        """Stop."""
        if self.on:
            self._timer.stop()
            self._workspace.player.stop()
            self._view.set_playhead(None)
            self.changed.emit()

    @Slot(QObject)
    def _give_way(self, other: QObject) -> None:
        if other is not self:
            self.stop()

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
        return Segment(KEY, start, end, clips=self._clips(start, end, track.sample_rate))

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

    @Slot()
    def _tick(self) -> None:
        for event in self._workspace.player.poll():
            if isinstance(event, PassEnded) and event.key == KEY and event.complete:
                if self._view.selection is None:
                    self.stop()
                    return
            elif isinstance(event, OutputLost):
                self._view.set_cursor(self.now())
                self.stop()  # the next press of Space looks for a device again
                self._workspace.standing.stand(SOUND, event.sentence)
                return
        time, scale = self.now(), self._view.scale
        self._view.set_playhead(time)
        # Whoever scrolls away while listening wants to look elsewhere.
        if scale.shows(self._heard, self._heard):
            self._view.show_time(time)
        self._heard = time
        self.heard.emit(time)
