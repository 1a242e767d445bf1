"""Hears the song with a click on every count; a selected stretch goes round."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from rehearse.cueing.clicks import click
from rehearse.music.beatmap import BeatMap
from rehearse.playback.passage import Clip, OutputLost, Passage, PassEnded
from rehearse.ui.desk import Desk
from rehearse.ui.faults import SOUND
from rehearse.ui.wave.view import WaveView

KEY = "mapping"


class Hearing(QObject):
    """Plays from the cursor to the end, or the selection again and again.

    Signals:
        changed: began or ended.
    """

    changed = Signal()

    def __init__(self, desk: Desk, view: WaveView) -> None:
        super().__init__()
        self._desk, self._view = desk, view
        self._clicks, self._muted = True, False
        self._clicked: BeatMap | None = None
        self._heard = 0.0
        self._timer = QTimer(self, interval=16)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._tick)
        desk.documentChanged.connect(self._map_changed)
        desk.musicAsked.connect(self._give_way)
        desk.stopAsked.connect(self.stop)

    @property
    def on(self) -> bool:
        """Whether this page's music plays."""
        return self._timer.isActive()

    def now(self) -> float:
        """Seconds of the track heard at this very moment; the cursor while nothing plays."""
        now = self._desk.player.now() if self.on else None
        # For a moment the player still tells what was heard before.
        return float(now.source) if now and now.key == KEY else self._view.cursor

    @Slot()
    def toggle(self) -> None:
        """Play, or stop; the cursor stays where the playing began."""
        if self.on:
            self.stop()
        else:
            self.begin()

    def begin(self) -> None:
        """Play from the cursor, or the selection."""
        if self._desk.track is None:
            self._desk.wish.ask("It plays", self.begin)
            return
        self._desk.standing.mend(SOUND)
        start = self._view.cursor
        if start >= self._desk.track.duration - 0.1:
            start = 0.0
        selected = self._view.selection
        at = None if selected is not None else start
        self._heard = start
        self._desk.musicAsked.emit(self)
        self._desk.player.play(self._passage(), at=at, repeat=selected is not None)
        self._timer.start()
        self.changed.emit()

    @Slot()
    def stop(self) -> None:
        """Stop."""
        if self.on:
            self._timer.stop()
            self._desk.player.stop()
            self._view.set_playhead(None)
            self.changed.emit()

    @Slot(object)
    def _give_way(self, other: object) -> None:
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
        if self._desk.beatmap is not self._clicked:
            self._refresh()

    def _refresh(self) -> None:
        """Go on with the clicks of the map as it is now."""
        if self.on and self._desk.track is not None:
            repeat = self._view.selection is not None
            self._desk.player.change(self._passage(), repeat=repeat)

    def _passage(self) -> Passage:
        selected, track = self._view.selection, self._desk.track
        assert track is not None
        start, end = (selected.start, selected.end) if selected else (0.0, track.duration)
        return Passage(KEY, start, end, clips=self._clips(start, end, track.sample_rate))

    def _clips(self, start: float, end: float, rate: int) -> tuple[Clip, ...]:
        beatmap = self._clicked = self._desk.beatmap
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
        for event in self._desk.player.poll():
            if isinstance(event, PassEnded) and event.key == KEY and event.complete:
                if self._view.selection is None:
                    self.stop()
                    return
            elif isinstance(event, OutputLost):
                self._view.set_cursor(self.now())
                self.stop()  # the next press of Space looks for a device again
                self._desk.standing.stand(SOUND, event.sentence)
                return
        time, scale = self.now(), self._view.scale
        self._view.set_playhead(time)
        # Whoever scrolls away while listening wants to look elsewhere.
        if scale.shows(self._heard, self._heard):
            self._view.show_time(time)
        self._heard = time
