"""The cue track for the phone: music, speech, counts and clicks in one file with chapters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rehearse.cueing.texts import unsaid_words
from rehearse.cueing.voice import Speaker
from rehearse.files.atomic import save_atomic
from rehearse.files.fault import Fault
from rehearse.handout.again import decoded, refuse_nothing
from rehearse.handout.cover import cover
from rehearse.handout.cue_plan import (
    CuePlan,
    plan_chapters,
    plan_stretches,
    planned_length,
    refuse_endless,
    words_of,
)
from rehearse.handout.encode import Chapter, Label, encode, resampled
from rehearse.handout.formats import AudioFormat, carried_rate, format_of
from rehearse.handout.loudness import (
    CEILING,
    MEASURABLE,
    TARGET,
    Loudness,
    mastered,
    measure,
)
from rehearse.handout.material import Material
from rehearse.handout.report import Report, between
from rehearse.music.track import Samples, Track
from rehearse.playback.passage import Passage
from rehearse.session.passages import Stretch, passage, speech_of

#: Bits a second of a cue track where the format is lossy: speech and music for a phone.
BIT_RATE = 192_000
#: Decoding may lift a lossy file's peaks by this many dB; more is met by writing it again.
_ROOM = 0.4
#: LU beside the target that are let be, and that are told: encoding and limiting cost loudness.
_NEAR, _FAR = 0.5, 1.0
#: Times the file is written at most until its loudness and its peaks are as they should be.
_TRIES = 4


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
    loudness: Loudness
    length: float
    stretches: tuple[Stretch, ...]
    starts: tuple[tuple[float, float], ...]
    chapters: tuple[Chapter, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class CueTrack:
    """What was written: the file, its loudness as decoded again, seconds, and its chapters."""

    path: Path
    loudness: Loudness
    length: float
    chapters: tuple[Chapter, ...]
    warnings: tuple[str, ...] = ()


def write_cue_track(
    material: Material,
    track: Track,
    path: Path,
    plan: CuePlan,
    speaker: Speaker | None,
    *,
    form: AudioFormat | None = None,
    report: Report | None = None,
) -> CueTrack:
    """Render, bring to −16 LUFS with true peaks under −1 dBTP, label and write.

    Args:
        speaker: the voice; None: clicks only.
        report: told how far it is; may raise to stop, then nothing is written.

    Raises:
        Fault: an unknown section, nothing to be heard, more than 40 minutes, or the file cannot
            be written.
    """
    made = cue_sound(material, track, plan, speaker, form=form, report=report)
    save_atomic(path, made.data)
    return CueTrack(path, made.loudness, made.length, made.chapters, made.warnings)


def cue_sound(
    material: Material,
    track: Track,
    plan: CuePlan,
    speaker: Speaker | None,
    *,
    form: AudioFormat | None = None,
    report: Report | None = None,
) -> CueSound:
    """The same without a file; arguments and faults as `write_cue_track`."""
    form = form or format_of("mp3")
    told = report or (lambda fraction, text: None)
    stretches = plan_stretches(material, plan)
    refuse_endless(planned_length(material, plan))
    passages = [passage(s, material.sheet, track.sample_rate, speaker) for s in stretches]
    sound, starts = _rendered(track, passages, told)
    chapters = plan_chapters(material, stretches, starts, len(sound) / track.sample_rate)
    label = Label(
        title=title_of(material, plan),
        album=material.routine.title,
        comment="cue track",
        chapters=chapters,
        cover=cover(material, words_of(plan)),
    )
    wish = "turn the cues on, or choose another section"
    refuse_nothing(sound, track.sample_rate, "the cue track", wish)
    rate = carried_rate(form, track.sample_rate)
    sound = resampled(sound, track.sample_rate, rate)
    data, found = levelled(sound, rate, form, label, told)
    warnings = (*unsaid(material, stretches, speaker), *_beside_target(found))
    length = len(sound) / rate
    return CueSound(data, found, length, tuple(stretches), tuple(starts), chapters, warnings)


def unsaid(
    material: Material, stretches: Sequence[Stretch], speaker: Speaker | None
) -> tuple[str, ...]:
    """A sentence for each reason why something wished is not said."""
    if speaker is None:
        return ()
    words = unsaid_words(
        cue for one in stretches for cue in speech_of(one, material.sheet, speaker).unsaid
    )
    return (*speaker.faults, *([words] if words else []))


def _beside_target(found: Loudness) -> tuple[str, ...]:
    if abs(found.integrated - TARGET) <= _FAR:
        return ()
    level = f"{found.integrated:.0f} LUFS".replace("-", "−")
    return (f"The cue track is {level} loud: its music is too quiet or too uneven for more.",)


def title_of(material: Material, plan: CuePlan) -> str:
    """The title that the file carries."""
    return f"{material.routine.title} – {words_of(plan)}"


def _rendered(
    track: Track, passages: Sequence[Passage], report: Report
) -> tuple[Samples, list[tuple[float, float]]]:
    """The passes one after another, and where each and its music begin, in seconds."""
    from rehearse.playback.render import render

    pieces: list[Samples] = []
    starts: list[tuple[float, float]] = []
    begin = 0.0
    for k, one in enumerate(passages):
        report(0.5 * k / len(passages), f"rendering pass {k + 1} of {len(passages)}")
        rendered = render(track, [one])
        wanted = round((rendered.starts[0] + _heard(one)) * track.sample_rate)
        piece = rendered.samples[:wanted]
        if len(piece) < wanted:
            piece = np.pad(piece, ((0, wanted - len(piece)), (0, 0)))
        starts.append((begin, begin + rendered.starts[0]))
        pieces.append(piece)
        begin += len(piece) / track.sample_rate
    return np.concatenate(pieces) if len(pieces) > 1 else pieces[0], starts


def _heard(one: Passage) -> float:
    """Seconds from the start of a pass's music to the end of its rest."""
    return (one.end - one.start) / one.tempo + one.rest


def levelled(
    sound: Samples, rate: int, form: AudioFormat, label: Label, report: Report
) -> tuple[bytes, Loudness]:
    """The encoded bytes and what decoding them shows, within the limits.

    Raises:
        Fault: no gain keeps it under the ceiling.
    """
    target, ceiling = TARGET, CEILING - (_ROOM if form.lossy else 0.0)
    bit_rate = BIT_RATE if form.lossy else 0
    kept: tuple[bytes, Loudness] | None = None
    done = 0.5
    for _ in range(_TRIES):
        # A second try is rare: each takes three quarters of the bar that is left.
        begun, part = done, 0.75 * (1.0 - done)
        report(begun, "setting the loudness")
        loud = mastered(sound, rate, target=target, ceiling=ceiling)
        told = between(report, begun + 0.2 * part, begun + 0.8 * part)
        data = encode(loud, rate, form, bit_rate=bit_rate, quick=True, label=label, report=told)
        report(begun + 0.8 * part, "checking the cue track")
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
        raise Fault("the cue track stays too loud", do="write it as flac or wav")
    return kept
