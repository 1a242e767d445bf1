"""A comparison round laid out in time: what is heard and what is shown at each second of it.

Conventions: every time is a second of output from the round's beginning. A call's words begin at
`at`; its hold runs from their end, `hit`, to `relax`: the first of the words "and relax", or of the
next call where turn follows turn. Background music is played round and round beneath, cut into
loop passes as long as the song; without any, a loop pass is silence.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from rehearse.cueing.count_in import click
from rehearse.cueing.cue_state import Cue, CueState
from rehearse.cueing.cues import CueSheet
from rehearse.cueing.voice import SpeechEngine
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, Seconds
from rehearse.music.track import Samples, Track
from rehearse.playback.offline_render import render
from rehearse.playback.segment import Clip, Segment
from rehearse.practice.passes import Verdict
from rehearse.routine.model import Placed
from rehearse.routine.rounds import RELAX, Call, Round
from rehearse.session.session_view import SessionView
from rehearse.words import _, shown

#: Seconds of silence before the first words, between them and the first call (time to put the
#: remote away and stand), and kept after the last.
_BEFORE, _READY, _AFTER = 0.3, 4.0, 0.6
#: Seconds a text is taken to last that cannot be said; it is clicked.
_UNSAID = 1.0
#: Seconds of a silent loop pass, and its rate.
_SILENCE, _RATE = 30, 44_100

_READY_WORDS, _RELAX_WORDS = _("get ready"), _("relax")

Measure = Callable[[str], float | None]


@dataclass(frozen=True)
class TimedCall:
    """A call with its times (s): words [at, hit), hold [hit, relax), next call at `end`."""

    call: Call
    at: float
    hit: float
    relax: float
    end: float


@dataclass(frozen=True)
class RoundTimeline:
    """A round laid out.

    Args:
        first: second at which what the round is, is said. end: seconds of all of it.
    """

    round: Round
    calls: tuple[TimedCall, ...]
    first: float
    end: float

    @cached_property
    def _begins(self) -> tuple[float, ...]:
        return tuple(one.at for one in self.calls)

    def index(self, time: float) -> int:
        """The call under way at `time`, its rest included; -1 before the first."""
        return bisect_right(self._begins, time + 1e-9) - 1

    @cached_property
    def texts(self) -> tuple[tuple[float, str], ...]:
        """All that is said, each with the second at which it begins."""
        said = [(self.first, self.round.words)]
        for one in self.calls:
            said.append((one.at, one.call.words))
            if one.call.relax:
                said.append((one.relax, shown(RELAX)))
        return tuple(said)

    @cached_property
    def sheet(self) -> CueSheet:
        """The round for the stage display: a pose a call, the edge light whole at its end."""
        cues = tuple(_cue(k, one) for k, one in enumerate(self.calls))
        reliefs = tuple(one.relax for one in self.calls)
        return CueSheet(cues, (), BeatMap("", self.end), 0.0, self.end, reliefs)

    @cached_property
    def stands(self) -> dict[str, Cue]:
        """What is shown while nothing is held: what comes is the judge's to say."""
        pose, first = self.round.stand, self.sheet.cues[0]
        return {
            words: replace(
                first,
                index=0,
                pose=replace(pose, name=words, say=words),
                facing=pose.facing,
                level=pose.level,
            )
            for words in (_READY_WORDS, _RELAX_WORDS)
        }


def lay_out(made: Round, measure: Measure) -> RoundTimeline:
    """Put a round in time.

    Args:
        measure: seconds that a text sounds; None where it cannot be said.
    """

    def seconds(text: str) -> float:
        return measure(text) or _UNSAID

    time = _BEFORE + seconds(made.words) + _READY
    calls: list[TimedCall] = []
    for call in made.calls:
        hit = time + seconds(call.words)
        relax = hit + call.hold
        end = relax + (seconds(shown(RELAX)) + call.rest if call.relax else call.rest)
        calls.append(TimedCall(call, time, hit, relax, end))
        time = end
    last = calls[-1]
    close = last.relax + (seconds(shown(RELAX)) if last.call.relax else 0.0) + _AFTER
    calls[-1] = replace(last, end=close)
    return RoundTimeline(made, tuple(calls), _BEFORE, close)


def measure_with(speech_engine: SpeechEngine | None) -> Measure:
    """How long texts sound in a voice; None says nothing."""

    def measure(text: str) -> float | None:
        sounding = speech_engine.measure(text, "name") if speech_engine else None
        return sounding.length if sounding else None

    return measure


def silent_track() -> Track:
    """What a round without music is played over."""
    return Track(np.zeros((_SILENCE * _RATE, 2), np.float32), _RATE, "silence")


def loop_passes_of(
    timeline: RoundTimeline, track: Track, speech_engine: SpeechEngine | None
) -> tuple[Segment, ...]:
    """What the player plays, one segment after another without a gap; each is called by its number.

    Args:
        track: background music, or `silent_track()`.
        speech_engine: the voice; what it cannot say is clicked.
    """
    length = track.duration
    rate = track.sample_rate
    clips = [_clip(at, text, speech_engine, rate) for at, text in timeline.texts]
    loop_passes = []
    for number in range(max(1, math.ceil(timeline.end / length - 1e-9))):
        begin = number * length
        end = min(length, timeline.end - begin)
        here = (c for c in clips if begin <= c.at < begin + length)
        own = tuple(replace(c, at=c.at - begin) for c in here)
        loop_passes.append(Segment(str(number), 0.0, max(end, 0.01), clips=own))
    return tuple(loop_passes)


def sound_of(timeline: RoundTimeline, track: Track, speech_engine: SpeechEngine | None) -> Samples:
    """All that is heard of a round, float32 (frames, 2) at the track's rate, as long as it is."""
    rendered = render(track, loop_passes_of(timeline, track, speech_engine))
    first = round(rendered.starts[0] * track.sample_rate)  # the fade into the first loop pass
    wanted = round(timeline.end * track.sample_rate)
    sound = rendered.samples[first : first + wanted]
    return np.pad(sound, ((0, wanted - len(sound)), (0, 0)))


def _clip(at: float, text: str, speech_engine: SpeechEngine | None, rate: int) -> Clip:
    if speech_engine and speech_engine.measure(text, "name"):
        return Clip(at, speech_engine.samples(text, "name", rate), "speech")
    return Clip(at, click(rate, strong=True, soft=False), "click")


def view_at(timeline: RoundTimeline, time: float, verdict: Verdict | None = None) -> SessionView:
    """What is going on at `time`, for the stage display.

    Args:
        verdict: taken for the call under way, or in its rest.
    """
    index = timeline.index(time)
    number = f"{max(index, 0) + 1}/{len(timeline.calls)}"
    if index < 0:
        left = timeline.calls[0].at - time
        cue_state = _standing(timeline, time, _READY_WORDS)
        return SessionView("rest", cue_state, rest=left, heard=time, counted=number)
    one = timeline.calls[index]
    if time >= one.relax:
        cue_state = _standing(timeline, time, _RELAX_WORDS)
        left = max(0.0, one.end - time)
        return SessionView(
            "rest", cue_state, rest=left, heard=time, verdict=verdict, counted=number
        )
    cue_state = _held(timeline, index, time)
    return SessionView("music", cue_state, heard=time, verdict=verdict, counted=number)


def _held(timeline: RoundTimeline, index: int, time: float) -> CueState:
    """A call: its figure on the way while it is said, then what is left of the hold."""
    one = timeline.calls[index]
    left = one.relax - max(time, one.hit)
    spoken = max(one.hit - one.at, 1e-9)
    return _cue_state(
        timeline,
        time,
        timeline.sheet.cues[index],
        numeral=str(max(1, math.ceil(left - 0.02))),
        travel=min(1.0, (time - one.at) / spoken),
        rim=1.0 - left / max(one.call.hold, 1e-9),
    )


def _standing(timeline: RoundTimeline, time: float, words: str) -> CueState:
    return _cue_state(timeline, time, timeline.stands[words], numeral="", travel=1.0, rim=0.0)


def _cue_state(
    timeline: RoundTimeline, time: float, cue: Cue, *, numeral: str, travel: float, rim: float
) -> CueState:
    return CueState(
        time=time,
        next=cue,
        held=None,
        counts=None,
        seconds=None,
        numeral=numeral,
        travel=travel,
        count=None,
        beat_phase=None,
        interval=None,
        rim=rim,
        hit=False,
        section=None,
        progress=min(1.0, max(0.0, time / timeline.end)),
    )


def _cue(index: int, one: TimedCall) -> Cue:
    call = one.call
    pose = replace(call.pose, name=call.shown)
    if call.say not in call.pose.name:
        pose = replace(pose, say="")  # the figure shows the rest
    placed = Placed(
        f"call {index}",
        pose.name,
        Seconds(one.hit),
        Length(call.hold, in_counts=False),
        Length(one.hit - one.at, in_counts=False),
    )
    return Cue(index, placed, pose, pose.facing, pose.level, one.at, one.hit, one.relax)
