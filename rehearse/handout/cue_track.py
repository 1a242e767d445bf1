"""The cue track for the phone: music, speech, counts and clicks in one file with chapters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rehearse.cueing.texts import unsaid_words
from rehearse.cueing.voice import SpeechEngine
from rehearse.files.atomic import save_atomic
from rehearse.files.user_error import UserError
from rehearse.handout.cover_art import cover_art
from rehearse.handout.cue_plan import (
    CuePlan,
    plan_chapters,
    plan_stretches,
    planned_length,
    refuse_endless,
    words_of,
)
from rehearse.handout.encode import Chapter, Label, decoded, encode, refuse_nothing, resampled
from rehearse.handout.formats import AudioFormat, carried_rate, format_of
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.loudness import (
    CEILING,
    MEASURABLE,
    TARGET,
    LoudnessMeasure,
    mastered,
    measure,
)
from rehearse.music.track import Samples, Track
from rehearse.playback.offline_render import render
from rehearse.playback.segment import Segment
from rehearse.session.segment_builder import SegmentSpec, segment, speech_of
from rehearse.words import _
from rehearse.work.progress import Report, between

#: Bits a second of a cue track where the format is lossy: speech and music for a phone.
BIT_RATE = 192_000
#: Decoding may lift a lossy file's peaks by this many dB; more is met by writing it again.
_ROOM = 0.4
#: LU beside the target that are let be, and that are told: encoding and limiting cost loudness.
_NEAR, _FAR = 0.5, 1.0
#: Times the file is written at most until its loudness and its peaks are as they should be.
_TRIES = 4


@dataclass(frozen=True)
class CueMix:
    """What is heard in a cue track, before its loudness is set.

    Args:
        samples: float32, shape (frames, 2), at `sample_rate`, which `form` can carry.
        label: what the file says of itself. stretches, starts, warnings: as of a `CueSound`.
    """

    samples: Samples
    sample_rate: int
    form: AudioFormat
    label: Label
    stretches: tuple[SegmentSpec, ...]
    starts: tuple[tuple[float, float], ...]
    warnings: tuple[str, ...]

    @property
    def length(self) -> float:
        """Seconds."""
        return len(self.samples) / self.sample_rate


@dataclass(frozen=True)
class CueSound:
    """The sound of a cue track as the bytes of a file, and what is heard in it when.

    Args:
        loudness: as decoded again. length: seconds.
        starts: for each stretch the second at which its pass begins (with its count-in), and the
            second at which its music does.
        warnings: a sentence for each wish that could not be met.
    """

    data: bytes
    loudness: LoudnessMeasure
    length: float
    stretches: tuple[SegmentSpec, ...]
    starts: tuple[tuple[float, float], ...]
    chapters: tuple[Chapter, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class CueTrack:
    """What was written: the file, its loudness as decoded again, seconds, and its chapters."""

    path: Path
    loudness: LoudnessMeasure
    length: float
    chapters: tuple[Chapter, ...]
    warnings: tuple[str, ...] = ()


def write_cue_track(
    source: HandoutSource,
    track: Track,
    path: Path,
    plan: CuePlan,
    speech_engine: SpeechEngine | None,
    *,
    form: AudioFormat | None = None,
    report: Report | None = None,
) -> CueTrack:
    """Render, bring to −16 LUFS with true peaks under −1 dBTP, label and write.

    Args:
        speech_engine: the voice; None: clicks only.
        report: told how far it is; may raise to stop, then nothing is written.

    Raises:
        UserError: an unknown section, nothing to be heard, more than 40 minutes, or the file cannot
            be written.
    """
    made = cue_sound(source, track, plan, speech_engine, form=form, report=report)
    save_atomic(path, made.data)
    return CueTrack(path, made.loudness, made.length, made.chapters, made.warnings)


def cue_sound(
    source: HandoutSource,
    track: Track,
    plan: CuePlan,
    speech_engine: SpeechEngine | None,
    *,
    form: AudioFormat | None = None,
    report: Report | None = None,
) -> CueSound:
    """The same without a file; arguments and faults as `write_cue_track`."""
    form = form or format_of("mp3")
    mix = cue_mix(source, track, plan, speech_engine, form=form, report=report)
    return finished(mix, report)


def cue_mix(
    source: HandoutSource,
    track: Track,
    plan: CuePlan,
    speech_engine: SpeechEngine | None,
    *,
    form: AudioFormat,
    cover: bool = True,
    report: Report | None = None,
) -> CueMix:
    """The first half of it, `cover` False without a picture; faults as `write_cue_track`."""
    stretches = plan_stretches(source, plan)
    refuse_endless(planned_length(source, plan))
    segments = [segment(s, source.sheet, track.sample_rate, speech_engine) for s in stretches]
    sound, starts = _rendered(track, segments, report or (lambda fraction, text: None))
    label = Label(
        title=title_of(source, plan),
        album=source.routine.title,
        comment="cue track",
        chapters=plan_chapters(source, stretches, starts, len(sound) / track.sample_rate),
        cover_art=cover_art(source, words_of(plan)) if cover else b"",
    )
    wish = _("turn the cues on, or choose another section")
    refuse_nothing(sound, track.sample_rate, _("the cue track"), wish)
    rate = carried_rate(form, track.sample_rate)
    sound = resampled(sound, track.sample_rate, rate)
    warnings = unsaid(source, stretches, speech_engine)
    return CueMix(sound, rate, form, label, tuple(stretches), tuple(starts), warnings)


def finished(mix: CueMix, report: Report | None = None) -> CueSound:
    """The second half: set its loudness and encode it; `report` from the middle on.

    Raises:
        UserError: no gain keeps it under the ceiling.
    """
    told = report or (lambda fraction, text: None)
    data, found = levelled(mix.samples, mix.sample_rate, mix.form, mix.label, told)
    warnings = (*mix.warnings, *_beside_target(found))
    return CueSound(
        *(data, found, mix.length, mix.stretches, mix.starts, mix.label.chapters, warnings)
    )


def unsaid(
    source: HandoutSource, stretches: Sequence[SegmentSpec], speech_engine: SpeechEngine | None
) -> tuple[str, ...]:
    """A sentence for each reason why something wished is not said."""
    if speech_engine is None:
        return ()
    words = unsaid_words(
        cue for one in stretches for cue in speech_of(one, source.sheet, speech_engine).unsaid
    )
    return (*speech_engine.errors, *([words] if words else []))


def _beside_target(found: LoudnessMeasure) -> tuple[str, ...]:
    if abs(found.integrated - TARGET) <= _FAR:
        return ()
    level = _("{integrated:.0f} LUFS", integrated=found.integrated).replace("-", "−")
    return (
        _(
            "The cue track is {level} loud: its music is too quiet or too uneven for more.",
            level=level,
        ),
    )


def title_of(source: HandoutSource, plan: CuePlan) -> str:
    """The title that the file carries."""
    return f"{source.routine.title} – {words_of(plan)}"


def _rendered(
    track: Track, segments: Sequence[Segment], report: Report
) -> tuple[Samples, list[tuple[float, float]]]:
    """The passes one after another, and where each and its music begin, in seconds."""
    pieces: list[Samples] = []
    starts: list[tuple[float, float]] = []
    begin = 0.0
    for k, one in enumerate(segments):
        report(
            0.5 * k / len(segments),
            _("rendering pass {k} of {number}", k=k + 1, number=len(segments)),
        )
        rendered = render(track, [one])
        wanted = round((rendered.starts[0] + _heard(one)) * track.sample_rate)
        piece = rendered.samples[:wanted]
        if len(piece) < wanted:
            piece = np.pad(piece, ((0, wanted - len(piece)), (0, 0)))
        starts.append((begin, begin + rendered.starts[0]))
        pieces.append(piece)
        begin += len(piece) / track.sample_rate
    return np.concatenate(pieces) if len(pieces) > 1 else pieces[0], starts


def _heard(one: Segment) -> float:
    """Seconds from the start of a pass's music to the end of its rest."""
    return (one.end - one.start) / one.tempo + one.rest


def levelled(
    sound: Samples, rate: int, form: AudioFormat, label: Label, report: Report
) -> tuple[bytes, LoudnessMeasure]:
    """The encoded bytes and what decoding them shows, within the limits.

    Raises:
        UserError: no gain keeps it under the ceiling.
    """
    target, ceiling = TARGET, CEILING - (_ROOM if form.lossy else 0.0)
    bit_rate = BIT_RATE if form.lossy else 0
    kept: tuple[bytes, LoudnessMeasure] | None = None
    done = 0.5
    for _unused in range(_TRIES):
        # A second try is rare: each takes three quarters of the bar that is left.
        begun, part = done, 0.75 * (1.0 - done)
        report(begun, _("setting the loudness"))
        loud = mastered(sound, rate, target=target, ceiling=ceiling)
        told = between(report, begun + 0.2 * part, begun + 0.8 * part)
        data = encode(loud, rate, form, bit_rate=bit_rate, quick=True, label=label, report=told)
        report(begun + 0.8 * part, _("checking the cue track"))
        done = begun + part
        again = decoded(data, form)
        found = measure(again.samples, again.sample_rate)
        over, lost = found.true_peak - CEILING, TARGET - found.integrated
        if over > 0.0:
            ceiling -= over + 0.1
            continue
        better = kept is None or abs(lost) < abs(TARGET - kept[1].integrated)
        kept = (data, found) if better else kept
        # What no gain brings nearer (a click a second in silence) is left as it is.
        if abs(lost) < _NEAR or not better or found.integrated < MEASURABLE:
            break
        target += lost
    if kept is None:
        raise UserError(_("the cue track stays too loud"), do=_("write it as flac or wav"))
    return kept
