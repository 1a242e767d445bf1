"""Puts corrections of the beat map on the workspace, the routine kept at its place in the music."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from rehearse.files.user_error import UserError
from rehearse.music import correct
from rehearse.music.analysis.reanalyse import onset_near
from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.trim import nearest
from rehearse.routine.remap import remap
from rehearse.ui import actions
from rehearse.ui.wave.map_marks import DOUBT
from rehearse.ui.wave.wave_view import WaveView
from rehearse.ui.workspace import Workspace
from rehearse.words import _

#: Seconds of one nudge, and by how much a pose may go along with a beat that is nudged.
NUDGE, FOLLOW = 0.005, 0.06

NO_DOUBT = _(
    "No place is unsure – where you hear a wrong beat, move there and press"
    " {key_one}, {key_pin_beat} or {key_tap}.",
    key_one=actions.key("one"),
    key_pin_beat=actions.key("pin_beat"),
    key_tap=actions.key("tap"),
)

#: How far a hand misses what it means: pixels, but at least and at most these seconds.
HAND, NEAREST, FARTHEST = 3.0, 0.015, 0.05


class Corrections:
    """Corrections of the selected stretch (the whole song without one) or at the cursor."""

    def __init__(self, workspace: Workspace, view: WaveView) -> None:
        self._workspace, self._view = workspace, view

    def apply(
        self,
        words: str,
        function: Callable[..., BeatMap],
        *args: Any,
        follow: float = 0.0,
        merge: str = "",
    ) -> None:
        """Swap in `function(map, *args)` as one step; a fault is told and changes nothing."""
        old = self._workspace.beatmap
        if old is None or self.hindrance:
            self._workspace.notice.say(self.hindrance)
            return
        try:
            new = function(old, *args)
        except UserError as error:
            self._workspace.notice.say(error.sentence)
            return
        routine = self._workspace.routine
        if routine is not None:
            routine = remap(routine, old, new, follow=follow)
        self._workspace.errorRaised.emit("")
        self._workspace.edit(words, routine=routine, beatmap=new, merge=merge)

    @property
    def hindrance(self) -> str:
        """Why the map cannot be corrected now, in a sentence; empty when it can."""
        beatmap, track = self._workspace.beatmap, self._workspace.track
        if beatmap is None:
            return _("There is no beat map yet – press Space to map the song.")
        if track is None:
            return _("The song is being read – wait a moment and press again.")
        if beatmap.track_hash != track.content_hash:
            return _("The beat map belongs to another song – press Space to map this one.")
        return ""

    def twice(self) -> None:
        """Twice as many counts."""
        self.apply(_("twice the counts"), correct.double_tempo, self._view.selection)

    def half(self) -> None:
        """Half as many counts."""
        self.apply(_("half the counts"), correct.halve_tempo, self._view.selection)

    def shift(self, counts: float) -> None:
        """Move the grid along itself."""
        self.apply(_("move the counts"), correct.shift_beats, counts, self._view.selection)

    def nudge(self, seconds: float) -> None:
        """Move the counts in time; poses go along."""
        where = self._view.selection
        self.apply(
            _("nudge the counts"), correct.nudge, seconds, where, follow=FOLLOW, merge="nudge"
        )

    def one(self) -> None:
        """The 1 is at the cursor."""
        self.apply(_("set the 1"), correct.set_one, self._view.cursor_time)

    def bar(self, beats: int) -> None:
        """Counts in a bar."""
        self.apply(
            _("{beats} counts in a bar", beats=beats), correct.set_bar, beats, self._view.selection
        )

    def eight(self) -> None:
        """A new eight at the cursor, or no longer."""
        self.apply(_("new eight"), correct.toggle_restart, self._view.cursor_time)

    def exact_cursor(self) -> float:
        """The beat under the cursor, or the onset that a hand meant by putting it there."""
        time, track, beatmap = (
            self._view.cursor_time,
            self._workspace.track,
            self._workspace.beatmap,
        )
        if track is None or (beatmap and nearest(beatmap.beats, time, 0.001) is not None):
            return time
        reach = min(max(HAND / self._view.scale.per_second, NEAREST), FARTHEST)
        return onset_near(track.samples, track.sample_rate, time, reach)

    def accent(self) -> None:
        """An accent at the cursor."""
        self.apply(_("add an accent"), correct.add_accent, self.exact_cursor())

    def strike(self) -> None:
        """No accent at the cursor."""
        self.apply(_("delete an accent"), correct.strike_accent, self._view.cursor_time)

    def free(self) -> None:
        """The selected stretch is free time; or, without one, the free time here is counted."""
        selected = self._view.selection
        if selected is not None:
            self.apply(_("mark free time"), correct.mark_free, selected)
        else:
            self.apply(_("count free time"), correct.lift_free, self._view.cursor_time)

    def tapped(self, taps: list[float], onsets: list[float]) -> None:
        """Beats as tapped along."""
        self.apply(_("tap along"), correct.tap_along, taps, onsets, follow=FOLLOW)

    def found(self, words: str, function: Callable[..., BeatMap], *args: Any) -> None:
        """Beats that were found again; `function` takes them into the map."""
        self.apply(words, function, *args, follow=FOLLOW)

    def doubt(self) -> None:
        """Select the next stretch whose beats are in doubt, so that corrections mean it alone."""
        stretches = doubts(self._workspace.beatmap) if self._workspace.beatmap else []
        if not stretches:
            self._workspace.notice.say(NO_DOUBT)
            return
        after = [s for s in stretches if s.start > self._view.cursor_time + 1e-3]
        stretch = (after or stretches)[0]
        self._view.set_cursor(stretch.start)
        self._view.select(stretch)


def doubts(beatmap: BeatMap) -> list[Stretch]:
    """The stretches whose beats are in doubt; those that touch are one."""
    found: list[Stretch] = []
    for each in beatmap.confidence:
        if each.value >= DOUBT:
            continue
        if found and each.start <= found[-1].end + 1e-3:
            found[-1] = Stretch(found[-1].start, each.end)
        else:
            found.append(Stretch(each.start, each.end))
    return found


def summary(beatmap: BeatMap) -> str:
    """The map in a line: tempo, bar, eights, doubt."""
    if len(beatmap.beats) < 2:
        return _("no beats")
    steps = np.diff(beatmap.times)
    tempo = round(60.0 / float(np.median(steps)))
    bar = max(beatmap.places)
    eights = beatmap.counts[-1].eight
    words = _(
        "{tempo} counts a minute · {bar} in a bar · {eights} eights",
        tempo=tempo,
        bar=bar,
        eights=eights,
    )
    number = len(doubts(beatmap))
    return _("{words} · {number} unsure", words=words, number=number) if number else words
