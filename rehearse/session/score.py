"""What a rehearsal reads from: the music, the routine in it, the voice."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from rehearse.cueing.cues import CueSheet
from rehearse.cueing.speech import SpeechChoice
from rehearse.cueing.voice import Speaker
from rehearse.music.track import Track
from rehearse.playback.passage import Passage
from rehearse.practice.passplan import PassPlan
from rehearse.practice.scope import Spot, seconds_of, spots_of
from rehearse.routine.model import Routine
from rehearse.session.passages import Stretch, passage


@dataclass(frozen=True, eq=False)
class Score:
    """One routine with its decoded music, ready to be passed through.

    Args:
        sheet: the cue sheet of `routine`.
        speaker: the voice; None: counts are only clicked.
        speech: what is said and how loud; a pass's own cueing and count-in take its place.
        beats: whether every beat of the music is clicked too.
    """

    track: Track
    routine: Routine
    sheet: CueSheet
    speaker: Speaker | None = None
    speech: SpeechChoice = field(default_factory=SpeechChoice)
    beats: bool = False

    @cached_property
    def spots(self) -> tuple[Spot, ...]:
        """The routine's poses in the music, for the log."""
        return spots_of(self.routine, self.sheet.beatmap)

    def rest(self, plan: PassPlan) -> float:
        """Seconds of rest after a planned pass."""
        return seconds_of(plan.rest, self.sheet.beatmap, plan.end, plan.percent)

    def passage(self, plan: PassPlan, key: str) -> Passage:
        """What the player plays for one planned pass."""
        choice = SpeechChoice(
            cueing=plan.cueing,
            levels=self.speech.levels,
            turns=self.speech.turns,
            counting=self.speech.counting,
            counts=plan.count_in,
        )
        stretch = Stretch(
            key, plan.start, plan.end, plan.tempo, choice, self.rest(plan), self.beats, plan.say
        )
        return passage(stretch, self.sheet, self.track.sample_rate, self.speaker)
