"""Maps the song and finds beats again, in worker processes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from rehearse.music.analysis.analyse import analyse
from rehearse.music.analysis.reanalyse import beats_again, onsets_again
from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.splice import splice, splice_around
from rehearse.routine.remap import carry_over, remap
from rehearse.ui.pages.music.corrections import FOLLOW, Corrections
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Seconds on either side of a pin that are listened to again, and around a stretch, to settle in.
#: All of most songs: where a tempo change was missed, the map is wrong to the end.
AROUND, MARGIN = 150.0, 4.0
#: The job that maps the whole song, in words.
MAPPING = _("Mapping the song")


class Mapping:
    """Jobs that listen to the song; what they find is one step that can be undone."""

    def __init__(self, workspace: Workspace, view: WaveView, corrections: Corrections) -> None:
        self._workspace, self._view, self._corrections = workspace, view, corrections
        self.pins: list[float] = []

    @property
    def fits(self) -> bool:
        """Whether the map is of the song that is there."""
        beatmap, track = self._workspace.beatmap, self._workspace.track
        return beatmap is not None and (track is None or beatmap.track_hash == track.content_hash)

    def map_song(self) -> None:
        """Map the whole song."""
        if self._workspace.track is None:
            self._workspace.wish.ask(_("It is mapped"), self.map_song)
        elif not any(job.words == MAPPING for job in self._workspace.jobs):
            self._workspace.run_job(MAPPING, analyse, self._workspace.track, done=self._mapped)

    def _mapped(self, beatmap: BeatMap) -> None:
        old, routine = self._workspace.beatmap, self._workspace.routine
        same_song = old is not None and old.track_hash == beatmap.track_hash
        if routine is not None and old is not None:
            if same_song:
                routine = remap(routine, old, beatmap, follow=FOLLOW)
            else:
                routine = carry_over(routine, old, beatmap)
        self.pins.clear()
        self._workspace.edit(_("map the song"), routine=routine, beatmap=beatmap)

    def pin(self) -> None:
        """Pin a beat at the cursor, or pull the pin there; find the beats around it again."""
        if self._corrections.hindrance:
            self._workspace.notice.say(self._corrections.hindrance)
            return
        time = self._corrections.exact_cursor()
        near = [p for p in self.pins if abs(p - time) < 0.03]
        if near:
            self.pins.remove(near[0])
            self._view.refresh()
            return
        self.pins = sorted([*self.pins, time])
        self._view.refresh()
        within = self._inside(Stretch(time - AROUND, time + AROUND))
        self._listen(
            _("Finding beats around the pin"),
            within,
            lambda rows: self._corrections.found(
                _("pin a beat"), splice_around, rows, time, within
            ),
        )

    def again(self) -> None:
        """Find the beats of the selection anew; without one, map the whole song."""
        selected = self._view.selection
        if selected is None:
            self.map_song()
            return
        self._listen(
            _("Finding beats again"),
            selected,
            lambda rows: self._corrections.found(_("find beats again"), splice, rows, selected),
        )

    def tapped(self, taps: Sequence[float]) -> None:
        """Take taps into the map, rid of the lead that the onsets of the music show."""
        if self._corrections.hindrance:
            self._workspace.notice.say(self._corrections.hindrance)
            return
        stretch = self._inside(Stretch(min(taps) - 1.0, max(taps) + 1.0))
        samples, rate, offset = self._cut(stretch)
        self._workspace.run_job(
            _("Comparing taps with the music"),
            onsets_again,
            samples,
            rate,
            offset,
            done=lambda onsets: self._corrections.tapped(list(taps), onsets),
        )

    def _listen(self, words: str, stretch: Stretch, done: Callable[[Any], None]) -> None:
        if self._corrections.hindrance:
            self._workspace.notice.say(self._corrections.hindrance)
            return
        wide = self._inside(Stretch(stretch.start - MARGIN, stretch.end + MARGIN))
        samples, rate, offset = self._cut(wide)
        pins = [p for p in self.pins if p in wide]
        self._workspace.run_job(words, beats_again, samples, rate, offset, pins, done=done)

    def _inside(self, stretch: Stretch) -> Stretch:
        return Stretch(max(0.0, stretch.start), min(stretch.end, self._view.duration))

    def _cut(self, stretch: Stretch) -> tuple[object, int, float]:
        """Samples of a stretch, their rate, and the second at which they begin exactly."""
        track = self._workspace.track
        assert track is not None
        first = math.floor(stretch.start * track.sample_rate)
        last = math.ceil(stretch.end * track.sample_rate)
        return track.samples[first:last].copy(), track.sample_rate, first / track.sample_rate
