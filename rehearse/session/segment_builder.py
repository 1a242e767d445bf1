"""From a stretch of the routine to what the player plays: music, count-in, clicks and speech."""

from __future__ import annotations

from dataclasses import dataclass, field

from rehearse.cueing.count_in import click
from rehearse.cueing.cues import CueSheet
from rehearse.cueing.pass_sounds import sounds
from rehearse.cueing.speech import Speech, SpeechChoice, plan_speech
from rehearse.cueing.voice import SpeechEngine
from rehearse.playback.segment import Clip, Segment


@dataclass(frozen=True)
class SegmentSpec:
    """A stretch to be passed through, in seconds of the track, and how it is played.

    Args:
        key: the caller's name for it.
        tempo: 0.4–1.05 of the music's own.
        choice: what is counted, said and clicked.
        rest: seconds of silence after it.
        beats: whether every beat is clicked, as when a beat map is checked by ear.
        say: said before the count-in ("up to 65 percent"); empty: nothing.
    """

    key: str
    start: float
    end: float
    tempo: float = 1.0
    choice: SpeechChoice = field(default_factory=SpeechChoice)
    rest: float = 0.0
    beats: bool = False
    say: str = ""


#: Seconds between what is announced and the count-in.
_GAP = 0.3


def segment(
    stretch: SegmentSpec,
    sheet: CueSheet,
    sample_rate: int,
    speech_engine: SpeechEngine | None = None,
) -> Segment:
    """The segment of one pass through `stretch`, count-in first.

    Args:
        sample_rate: the track's.
        speech_engine: the voice; None: the counts are only clicked.
    """
    speech = speech_of(stretch, sheet, speech_engine)
    heard = sounds(speech, speech_engine, sample_rate, stretch.choice.levels)
    clips = [Clip(sound.at, sound.samples, sound.kind) for sound in heard]
    lead = speech.lead
    if stretch.say and speech_engine and (spoken := speech_engine.measure(stretch.say, "name")):
        lead += _GAP + spoken.length
        samples = speech_engine.samples(stretch.say, "name", sample_rate)
        clips.insert(0, Clip(-lead, samples, "speech"))
    if stretch.beats:
        clips += _beat_clicks(stretch, sheet, sample_rate)
    return Segment(
        key=stretch.key,
        start=stretch.start,
        end=stretch.end,
        tempo=stretch.tempo,
        lead=lead,
        clips=tuple(clips),
        rest=stretch.rest,
    )


def speech_of(
    stretch: SegmentSpec, sheet: CueSheet, speech_engine: SpeechEngine | None = None
) -> Speech:
    """What is said when in one pass, beside `stretch.say`; arguments as of `segment`."""
    measure = speech_engine.measure if speech_engine else _nothing_said
    return plan_speech(
        sheet,
        stretch.start,
        stretch.end,
        measure,
        tempo=stretch.tempo,
        choice=stretch.choice,
    )


def _nothing_said(text: str, kind: str, pace: float = 1.0) -> None:
    return None


def _beat_clicks(stretch: SegmentSpec, sheet: CueSheet, sample_rate: int) -> list[Clip]:
    clicks = {first: click(sample_rate, strong=first, soft=True) for first in (True, False)}
    beats = zip(sheet.beatmap.beats, sheet.beatmap.places, strict=True)
    return [
        Clip((time - stretch.start) / stretch.tempo, clicks[place == 1], "click")
        for time, place in beats
        if stretch.start <= time < stretch.end
    ]
