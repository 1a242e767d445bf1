"""Goes through the ways to count a song, or takes the one that four taps mean."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QObject, Signal, Slot

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap, Reading
from rehearse.music.correct import take_reading
from rehearse.music.tapped_counts import take_tapped
from rehearse.routine.remap import remap
from rehearse.ui import actions
from rehearse.ui.pages.music.corrections import Corrections
from rehearse.ui.pages.music.song_playback import SongPlayback
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Mean certainty of a map under which the song is asked about.
DOUBTFUL = 0.6
#: The jobs, in words.
COMPARING, TAKING = _("Comparing readings"), _("Finding what was tapped")
#: Seconds by which beats of the same reading may differ, and by which a pose may go along with one.
_SAME, _CLOSE = 0.002, 0.03

ASKED = _(
    "Unsure: tap four counts, {key_four} – or {key_reading}",
    key_four=actions.key("four"),
    key_reading=actions.key("reading"),
)
NO_COUNTS = _(
    "No beat was found: {key_four} starts the song, then tap four counts with it",
    key_four=actions.key("four"),
)


class ReadingsController(QObject):
    """The readings of the song on the workspace; each is tried on the whole song or the selection.

    Signals:
        changed: another reading stands in the map, or there is something else to say.
        counted: four taps have given a song its counts, and its first poses come next.
    """

    changed = Signal()
    counted = Signal()

    def __init__(
        self,
        workspace: Workspace,
        view: WaveView,
        corrections: Corrections,
        song_playback: SongPlayback,
    ) -> None:
        super().__init__()
        self._workspace, self._view = workspace, view
        self._corrections, self._song_playback = corrections, song_playback
        self._song = ""
        self._found: tuple[Reading, ...] = ()
        self._at = -1
        self._put: BeatMap | None = None
        self._base = (workspace.routine, workspace.beatmap)
        self._answered: set[str] = set()
        self.said = ""

    @property
    def sentence(self) -> str:
        """Which reading stands in the map, or the question about a doubtful song."""
        beatmap = self._workspace.beatmap
        if beatmap is None:
            return ""
        if self.said and beatmap is self._put:
            return self.said
        if beatmap.track_hash in self._answered:
            return ""
        if not beatmap.has_counts:
            return NO_COUNTS
        return ASKED if doubtful(beatmap) else ""

    def answer(self) -> None:
        """Ask no more about this song."""
        if self._workspace.beatmap is not None:
            self._answered.add(self._workspace.beatmap.track_hash)
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
        beatmap, track = self._workspace.beatmap, self._workspace.track
        if self._corrections.hindrance or beatmap is None or track is None:
            self._workspace.notice.say(self._corrections.hindrance)
            return
        self.answer()
        if self._song == beatmap.track_hash:
            self._step()
        elif not any(job.words == COMPARING for job in self._workspace.jobs):
            from rehearse.music.analysis.readings import find_readings

            self._workspace.run_job(
                COMPARING, find_readings, track.samples, track.sample_rate, done=self._compared
            )

    def tapped(self, taps: list[float]) -> None:
        """Count the song as four taps mean it, the first of them on a 1."""
        from rehearse.music.analysis.readings import tapped_reading

        track = self._workspace.track
        if self._corrections.hindrance or track is None:
            self._workspace.notice.say(self._corrections.hindrance)
            return
        self.answer()
        self._workspace.run_job(
            *(TAKING, tapped_reading, track.samples, track.sample_rate, taps),
            done=partial(self._taken, taps),
        )

    def _compared(self, found: tuple[Reading, ...]) -> None:
        track = self._workspace.track
        self._song, self._found, self._at = (track.content_hash if track else ""), found, -1
        self._step()

    def _step(self) -> None:
        beatmap = self._workspace.beatmap
        if beatmap is None or len(self._found) < 2:
            self._workspace.notice.say(
                _(
                    "There is no other reading – tap four counts with {key_four}.",
                    key_four=actions.key("four"),
                )
            )
            return
        if beatmap is not self._put:
            self._at = -1
        self._at = (self._at + 1) % len(self._found)
        if self._at == 0 and beatmap is not self._put and _same(beatmap, self._found[0]):
            self._at = 1
        reading = self._found[self._at]
        place = _("Reading {at} of {number}", at=self._at + 1, number=len(self._found))
        self._take(
            lambda old: take_reading(old, reading, self._view.selection),
            _(
                "{place}: {words}, {likelihood:.0%} likely.",
                place=place,
                words=reading.words,
                likelihood=reading.likelihood,
            ),
        )
        if not self._song_playback.on:
            self._song_playback.begin()

    def _taken(self, taps: list[float], reading: Reading) -> None:
        self._put = None
        said = _("Counted as tapped. {key_undo} takes it back.", key_undo=actions.key("undo"))
        if self._view.selection is not None:
            self._take(lambda old: take_reading(old, reading, self._view.selection), said)
            return
        before, routine = self._workspace.beatmap, self._workspace.routine
        had_counts = before is not None and before.has_counts
        begun = routine is None or routine.poses or had_counts
        if self._take(lambda old: take_tapped(old, reading, taps), said) and not begun:
            self.counted.emit()

    def _take(self, correct: Callable[[BeatMap], BeatMap], said: str) -> bool:
        workspace = self._workspace
        if workspace.beatmap is not self._put or workspace.beatmap is None:
            # Every reading is laid on what was there before the first of them.
            self._base = (workspace.routine, workspace.beatmap)
        routine, old = self._base
        assert old is not None
        try:
            new = correct(old)
        except UserError as error:
            workspace.notice.say(error.sentence)
            return False
        if routine is not None:
            routine = remap(routine, old, new, follow=_CLOSE)
        self._put, self.said = new, said
        workspace.edit(_("another reading"), routine=routine, beatmap=new, merge="reading")
        self.changed.emit()
        return True


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
