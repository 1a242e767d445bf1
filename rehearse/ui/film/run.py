"""The run that is filmed: time to walk to one's place, the clap, the count-in, the music."""

from __future__ import annotations

from dataclasses import replace

from rehearse.playback.segment import Clip, Segment
from rehearse.ui.page_music import PageMusic
from rehearse.ui.pages.rehearse.speech_renderer import SpeechRenderer, speech_choice
from rehearse.ui.workspace import Workspace

#: Seconds to walk to one's place before the clap.
WALK = 10.0


class RunToFilm(PageMusic):
    """Plays the whole routine once, counted in with the clap that a film is searched for."""

    key = "filmed"

    def __init__(self, workspace: Workspace) -> None:
        super().__init__(workspace)
        self._voice = SpeechRenderer(workspace)
        self._told, self._lead = -1, 0.0

    def prepare(self) -> None:
        """Have the voice formed before it is asked for."""
        self._voice.prepare()

    def _start(self) -> None:
        """Play the run."""
        if self._workspace.sheet is not None:
            self._take_over()
            self._play(self._segment())

    @property
    def before(self) -> float:
        """Seconds before the music; 0 once it plays."""
        now = self._workspace.player.now() if self.on else None
        if now is None or now.key != self.key:  # for a moment it tells what was heard before
            return self._lead
        return max(0.0, -float(now.elapsed))

    def _segment(self) -> Segment:
        from rehearse.cueing.clap import COUNTS, clap, clap_before
        from rehearse.session.segment_builder import SegmentSpec, segment

        workspace = self._workspace
        sheet, track = workspace.sheet, workspace.track
        assert sheet is not None
        assert track is not None
        choice = replace(speech_choice(workspace.settings), counts=COUNTS)
        spec = SegmentSpec(self.key, sheet.start, sheet.end, choice=choice)
        made = segment(spec, sheet, track.sample_rate, self._voice.speech_engine())
        at = clap_before(sheet.beatmap, sheet.start)
        claps = (Clip(-at, clap(track.sample_rate), "click"), *made.clips)
        self._lead = at + WALK
        return Segment(self.key, sheet.start, sheet.end, lead=self._lead, clips=claps)

    def _move(self) -> None:
        """Nothing follows the music here; each second before it is told."""
        if (left := round(self.before)) != self._told:
            self._told = left
            self.changed.emit()
