"""Goes through the ways to count a song, or takes the one that four taps mean."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.files.fault import Fault
from rehearse.music.beatmap import BeatMap, Reading
from rehearse.music.correct import take_reading
from rehearse.routine.rebase import rebase
from rehearse.ui import actions
from rehearse.ui.desk import Desk
from rehearse.ui.pages.music.corrections import Corrections
from rehearse.ui.pages.music.hearing import Hearing
from rehearse.ui.wave.view import WaveView

#: Mean certainty of a map under which the song is asked about.
DOUBTFUL = 0.6
#: The jobs, in words.
COMPARING, TAKING = "Comparing readings", "Finding what was tapped"
#: Seconds by which beats of the same reading may differ, and by which a pose may go along with one.
_SAME, _CLOSE = 0.002, 0.03

ASKED = (
    f"These counts are not sure: tap four counts you hear with {actions.key('four')}, "
    f"or see other readings with {actions.key('reading')}."
)


class Readings(QObject):
    """The readings of the song on the desk; each is tried on the whole song or the selection.

    Signals:
        changed: another reading stands in the map, or there is something else to say.
    """

    changed = Signal()

    def __init__(
        self, desk: Desk, view: WaveView, corrections: Corrections, hearing: Hearing
    ) -> None:
        super().__init__()
        self._desk, self._view = desk, view
        self._corrections, self._hearing = corrections, hearing
        self._song, self._found = "", ()
        self._at = -1
        self._put: BeatMap | None = None
        self._base = (desk.routine, desk.beatmap)
        self._answered: set[str] = set()
        self.said = ""

    @property
    def sentence(self) -> str:
        """Which reading stands in the map, or the question about a doubtful song."""
        beatmap = self._desk.beatmap
        if beatmap is None:
            return ""
        if self.said and beatmap is self._put:
            return self.said
        asks = beatmap.track_hash not in self._answered and doubtful(beatmap)
        return ASKED if asks else ""

    def answer(self) -> None:
        """Ask no more about this song."""
        if self._desk.beatmap is not None:
            self._answered.add(self._desk.beatmap.track_hash)
            self.changed.emit()

    @Slot()
    def moved_on(self) -> None:
        """The athlete is at something else: say no more of readings."""
        if self.sentence:
            self.said = ""
            self.answer()

    @Slot()
    def next(self) -> None:
        """The next-best reading, drawn and heard."""
        beatmap, track = self._desk.beatmap, self._desk.track
        if self._corrections.hindrance or beatmap is None or track is None:
            self._desk.hint.say(self._corrections.hindrance)
            return
        self.answer()
        if self._song == beatmap.track_hash:
            self._step()
        elif not any(job.words == COMPARING for job in self._desk.jobs):
            from rehearse.music.analysis.readings import find_readings

            self._desk.run_job(
                COMPARING, find_readings, track.samples, track.sample_rate, done=self._compared
            )

    def tapped(self, taps: list[float]) -> None:
        """Count the song as four taps mean it, the first of them on a 1."""
        from rehearse.music.analysis.readings import tapped_reading

        track = self._desk.track
        if self._corrections.hindrance or track is None:
            self._desk.hint.say(self._corrections.hindrance)
            return
        self.answer()
        self._desk.run_job(
            TAKING, tapped_reading, track.samples, track.sample_rate, taps, done=self._taken
        )

    def _compared(self, found: tuple[Reading, ...]) -> None:
        track = self._desk.track
        self._song, self._found, self._at = (track.content_hash if track else ""), found, -1
        self._step()

    def _step(self) -> None:
        beatmap = self._desk.beatmap
        if beatmap is None or len(self._found) < 2:
            self._desk.hint.say("There is no other reading – move to a count and press T to tap.")
            return
        if beatmap is not self._put:
            self._at = -1
        self._at = (self._at + 1) % len(self._found)
        if self._at == 0 and beatmap is not self._put and _same(beatmap, self._found[0]):
            self._at = 1
        reading = self._found[self._at]
        place = f"Reading {self._at + 1} of {len(self._found)}"
        self._take(reading, f"{place}: {reading.words}, {reading.likelihood:.0%} likely.")
        if not self._hearing.on:
            self._hearing.begin()

    def _taken(self, reading: Reading) -> None:
        self._put = None
        self._take(reading, "Counted as tapped. Ctrl+Z takes it back.")

    def _take(self, reading: Reading, said: str) -> None:
        desk = self._desk
        if desk.beatmap is not self._put or desk.beatmap is None:
            # Every reading is laid on what was there before the first of them.
            self._base = (desk.routine, desk.beatmap)
        routine, old = self._base
        assert old is not None
        try:
            new = take_reading(old, reading, self._view.selection)
        except Fault as fault:
            desk.hint.say(fault.sentence)
            return
        if routine is not None:
            routine = rebase(routine, old, new, follow=_CLOSE)
        self._put, self.said = new, said
        desk.edit("another reading", routine=routine, beatmap=new, merge="reading")
        self.changed.emit()


def doubtful(beatmap: BeatMap) -> bool:
    """Whether so little of the map is sure that the athlete is asked."""
    seconds = sum(c.end - c.start for c in beatmap.confidence)
    sure = sum(c.value * (c.end - c.start) for c in beatmap.confidence)
    return seconds > 0 and sure < DOUBTFUL * seconds


def _same(beatmap: BeatMap, reading: Reading) -> bool:
    """Whether the map is counted like a reading, its free time apart."""
    rows = dict(zip(beatmap.beats, beatmap.places, strict=True))
    inside = [
        (t, p)
        for t, p in zip(reading.times, reading.places, strict=True)
        if not any(t in s for s in beatmap.free)
    ]
    return len(inside) == len(rows) and all(
        abs(t - beat) < _SAME and p == place
        for (t, p), (beat, place) in zip(inside, rows.items(), strict=True)
    )
