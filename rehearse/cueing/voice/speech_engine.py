"""One call for a spoken text, wherever it comes from: own recording, disk, or the voice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt

from rehearse.cueing.voice import espeak, speech_cache
from rehearse.cueing.voice.onset import Utterance, at_rate, joined, utterance
from rehearse.cueing.voice.recordings import find_recordings, load_recording, recording_of
from rehearse.cueing.voice.voices import default_voice, unreadable, voice_of
from rehearse.files.user_error import UserError
from rehearse.words import _

Kind = Literal["name", "count"]
#: What is said: text, kind, and how much faster than wished.
Text = tuple[str, Kind, float]
LONGEST_TEXT = 120
SLOWEST, FASTEST = 110, 320


@dataclass(frozen=True)
class VoiceSetting:
    """Which voice speaks and how fast.

    Args:
        voice: key of a `VoiceChoice`.
        name_speed: words a minute for names, 110–320.
        count_speed: the same for counts; faster, so that they fit between beats.
    """

    voice: str = default_voice().key
    name_speed: int = 190
    count_speed: int = 230


@dataclass(frozen=True)
class Sounding:
    """How long a text sounds: seconds before and after its stressed onset."""

    before: float
    after: float

    @property
    def length(self) -> float:
        """Seconds."""
        return self.before + self.after


#: What was said, what could not be said, the recordings that could not be used, and what was said
#: at a track's rate.
Formed = tuple[
    dict[Text, Utterance],
    dict[Text, UserError],
    dict[Path, UserError],
    dict[tuple[Text, int], npt.NDArray[np.float32]],
]


class SpeechEngine:
    """Says texts in one voice; each is rendered once and kept. Safe from any thread.

    Args:
        setting: voice and speeds.
        kept: folder for rendered texts; None keeps them in memory only.
        recordings: folder of own recordings, used before the voice; for one that cannot be used
            the voice steps in.
        waits: False leaves unsaid what was not formed yet, and notes it in `wanted`: forming a
            text and writing it down takes some tens of milliseconds (see `form`, `take`).

    Attributes:
        wanted: what was asked for and is not there; whoever has it formed empties it.
        misses: how often that was.

    Raises:
        UserError: the setting names no voice.
    """

    def __init__(
        self,
        setting: VoiceSetting | None = None,
        *,
        kept: Path | None = None,
        recordings: Path | None = None,
        waits: bool = True,
    ) -> None:
        self.setting = setting or VoiceSetting()
        self.voice = voice_of(self.setting.voice)
        self._kept = kept
        self._own = find_recordings(recordings) if recordings else {}
        self._said: dict[Text, Utterance] = {}
        self._failed: dict[Text, UserError] = {}
        self._unusable: dict[Path, UserError] = {}
        self._waits, self.wanted, self.misses = waits, dict[Text, None](), 0
        self._rated: dict[tuple[Text, int], npt.NDArray[np.float32]] = {}

    @property
    def formed(self) -> Formed:
        """All that was said up to now, for another speaker to `take`."""
        return dict(self._said), dict(self._failed), dict(self._unusable), dict(self._rated)

    def take(self, formed: Formed) -> None:
        """Say what another speaker of the same setting has formed."""
        said, failed, unusable, rated = formed
        self._said |= said
        self._rated |= rated
        self._failed |= failed
        self._unusable |= unusable

    @property
    def errors(self) -> tuple[str, ...]:
        """One sentence for each different reason why something could not be said, or not by its
        own recording.
        """
        reasons = [*self._unusable.values(), *self._failed.values()]
        return tuple(dict.fromkeys(error.sentence for error in reasons))

    def say(self, text: str, kind: Kind = "name", pace: float = 1.0) -> Utterance:
        """The utterance of `text`; counts ("5", "and") are said at the counts' speed.

        `pace` reads it so many times faster; an own recording stays as it is.

        Raises:
            UserError: the voice is missing or cannot read the text.
        """
        key = (text, kind, pace)
        if key in self._failed:
            raise self._failed[key]
        if key not in self._said and not self._waits:
            self.wanted[key] = None
            self.misses += 1
            raise UserError(_("is not ready yet"), where=text, do=_("ask again"))
        if key not in self._said:
            try:
                self._said[key] = self._find(text, kind, pace)
            except UserError as error:
                self._failed[key] = error
                raise
        return self._said[key]

    def measure(self, text: str, kind: Kind = "name", pace: float = 1.0) -> Sounding | None:
        """How long `text` sounds; None when it cannot be said (the reason is in `errors`)."""
        try:
            spoken = self.say(text, kind, pace)
        except UserError:
            return None
        return Sounding(spoken.onset, spoken.length - spoken.onset)

    def samples(
        self, text: str, kind: Kind, sample_rate: int, pace: float = 1.0
    ) -> npt.NDArray[np.float32]:
        """`say(text)` at `sample_rate`, shape (n,).

        Raises:
            UserError: as `say`.
        """
        key = (text, kind, pace), sample_rate
        if key not in self._rated:
            self._rated[key] = at_rate(self.say(text, kind, pace), sample_rate)
            self._rated[key].setflags(write=False)
        return self._rated[key]

    def _find(self, text: str, kind: Kind, pace: float) -> Utterance:
        recording = recording_of(text, self._own)
        if recording is not None:
            try:
                return load_recording(recording, text)
            except UserError as error:
                self._unusable[recording] = error
        parts = text.split(", ")
        if len(parts) > 1 and any(recording_of(part, self._own) for part in parts):
            return joined(text, [self.say(part, kind, pace) for part in parts])
        said = self.voice.half if text == "and" else text
        if reason := unreadable(said, self.voice):
            do = _("set a short form it can say, record it, or choose another voice")
            raise UserError(reason, where=text, do=do)
        if len(said) > LONGEST_TEXT:
            raise UserError(
                _("is too long to say"), where=text[:30] + "…", do=_("set a short form for it")
            )
        speed = self.setting.name_speed if kind == "name" else self.setting.count_speed
        speed = min(FASTEST, max(SLOWEST, round(speed * pace)))
        return self._render(said, text, speed)

    def _render(self, said: str, text: str, speed: int) -> Utterance:
        if self._kept and (found := speech_cache.load(self._kept, said, self.voice.code, speed)):
            return Utterance(text, found.samples, found.sample_rate, found.onset)
        rendered = espeak.render(said, self.voice.code, speed)
        try:
            spoken = utterance(said, rendered.samples, rendered.sample_rate, rendered.stress)
        except ValueError as error:
            raise UserError(
                _("comes out silent"), where=text, do=_("set a short form for it")
            ) from error
        if self._kept:
            speech_cache.keep(self._kept, spoken, self.voice.code, speed)
        return Utterance(text, spoken.samples, spoken.sample_rate, spoken.onset)


def form(
    setting: VoiceSetting,
    kept: Path | None,
    recordings: Path | None,
    texts: Sequence[Text],
    sample_rate: int,
    report: Callable[[float, str], None],
) -> Formed:
    """Form texts and keep them on disk; for a worker process.

    Args:
        setting, kept, recordings: as of `SpeechEngine`.
        sample_rate: of the track they will be heard over.
    """
    speech_engine = SpeechEngine(setting, kept=kept, recordings=recordings)
    for number, (text, kind, pace) in enumerate(texts):
        report(number / len(texts), text)
        if speech_engine.measure(text, kind, pace):
            speech_engine.samples(text, kind, sample_rate, pace)
    return speech_engine.formed
