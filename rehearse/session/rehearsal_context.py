"""What a rehearsal reads from: the music, the routine in it, the voice."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from rehearse.cueing.cue_options import SAID
from rehearse.cueing.cues import CueSheet
from rehearse.cueing.speech import Speech, SpeechChoice
from rehearse.cueing.voice import SpeechEngine
from rehearse.music.track import Track
from rehearse.playback.segment import Segment
from rehearse.practice.passplan import PassPlan
from rehearse.practice.scope import Spot, seconds_of, spots_of
from rehearse.routine.model import Routine
from rehearse.session.segment_builder import SegmentSpec, segment, speech_of


@dataclass(frozen=True, eq=False)
class RehearsalContext:
    """One routine with its decoded music, ready to be passed through.

    Args:
        sheet: the cue sheet of `routine`.
        speech_engine: the voice; None: counts are only clicked.
        speech: what is said and how loud; a pass's own cueing and count-in take its place.
        beats: whether every beat of the music is clicked too.
    """

    track: Track
    routine: Routine
    sheet: CueSheet
    speech_engine: SpeechEngine | None = None
    speech: SpeechChoice = field(default_factory=SpeechChoice)
    beats: bool = False

    @cached_property
    def spots(self) -> tuple[Spot, ...]:
        """The routine's poses in the music, for the log."""
        return spots_of(self.routine, self.sheet.beatmap)

    def rest(self, plan: PassPlan) -> float:
        """Seconds of rest after a planned pass."""
        return seconds_of(plan.rest, self.sheet.beatmap, plan.end, plan.percent)

    def segment(self, plan: PassPlan, key: str) -> Segment:
        """What the player plays for one planned pass."""
        stretch = self._stretch(plan, key)
        return segment(stretch, self.sheet, self.track.sample_rate, self.speech_engine)

    def said(self, plan: PassPlan) -> Speech:
        """What is said when in one planned pass."""
        return speech_of(self._stretch(plan, ""), self.sheet, self.speech_engine)

    def _stretch(self, plan: PassPlan, key: str) -> SegmentSpec:
        choice = SpeechChoice(
            cueing=plan.cueing,
            levels=self.speech.levels,
            turns=self.speech.turns,
            counting=self.speech.counting,
            counts=plan.count_in,
            said=plan.said if plan.said in SAID else self.speech.said,
        )
        return SegmentSpec(
            key, plan.start, plan.end, plan.tempo, choice, self.rest(plan), self.beats, plan.say
        )
