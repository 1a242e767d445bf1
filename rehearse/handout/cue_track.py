"""The cue track for the phone: music, speech, counts and clicks in one file with chapters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from rehearse.cueing.clicks import count_in
from rehearse.cueing.cues import TimedSection
from rehearse.cueing.speech import SpeechChoice
from rehearse.cueing.voice import Speaker
from rehearse.files.atomic import save_atomic
from rehearse.files.fault import Fault
from rehearse.handout.again import decoded, refuse_nothing
from rehearse.handout.cover import cover
from rehearse.handout.encode import (
    AudioFormat,
    Chapter,
    Label,
    carried_rate,
    encode,
    format_of,
    resampled,
)
from rehearse.handout.loudness import (
    CEILING,
    MEASURABLE,
    TARGET,
    Loudness,
    Report,
    mastered,
    measure,
)
from rehearse.handout.material import Material
from rehearse.music.track import Samples, Track
from rehearse.playback.passage import Passage
from rehearse.session.passages import Stretch, passage

#: Bits a second of a cue track where the format is lossy: speech and music for a phone.
BIT_RATE = 192_000
#: Decoding may lift a lossy file's peaks by this many dB; more is met by writing it again.
_ROOM = 0.4
#: Sections that are named in a title; more are counted.
_NAMED = 3
#: LU beside the target that are let be, and that are told: encoding and limiting cost loudness.
_NEAR, _FAR = 0.5, 1.0
#: Times the file is written at most until its loudness and its peaks are as they should be.
_TRIES = 4
#: Seconds of the longest cue track: it is made in memory, and takes 1.2 MB a second there.
LONGEST = 2400.0
_TAIL = 0.5  # s kept after the last music, so that the last sound rings out


@dataclass(frozen=True)
class CuePlan:
    """What a cue track holds.

    Args:
        sections: names in the order wanted; empty: the whole routine.
        tempos: one pass each over all of it (or over each section), 0.4–1.05.
        rest: seconds of silence between passes.
        choice: what is said, counted and clicked.
    """

    sections: tuple[str, ...] = ()
    tempos: tuple[float, ...] = (1.0,)
    rest: float = 2.0
    choice: SpeechChoice = field(default_factory=SpeechChoice)


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
    form = form or format_of("mp3")
    told = report or (lambda fraction, text: None)
    stretches = plan_stretches(material, plan)
    _refuse_endless(planned_length(material, plan))
    passages = [passage(s, material.sheet, track.sample_rate, speaker) for s in stretches]
    sound, starts = _rendered(track, passages, told)
    chapters = plan_chapters(material, stretches, starts, len(sound) / track.sample_rate)
    label = Label(
        title=_title(material, plan),
        album=material.routine.title,
        comment="cue track",
        chapters=chapters,
        cover=cover(material, words_of(plan)),
    )
    wish = "turn the cues on, or choose another section"
    refuse_nothing(sound, track.sample_rate, "the cue track", wish)
    rate = carried_rate(form, track.sample_rate)
    sound = resampled(sound, track.sample_rate, rate)
    data, found = _levelled(sound, rate, form, label, told)
    save_atomic(path, data)
    warnings = (*(speaker.faults if speaker else ()), *_beside_target(found))
    return CueTrack(path, found, len(sound) / rate, chapters, warnings)


def _refuse_endless(seconds: float) -> None:
    if seconds > LONGEST:
        minutes = f"{seconds / 60:.0f} minutes, and {LONGEST / 60:.0f} are the most"
        do = "choose fewer passes, or a section"
        raise Fault(f"the cue track would last {minutes}", do=do)


def _beside_target(found: Loudness) -> tuple[str, ...]:
    if abs(found.integrated - TARGET) <= _FAR:
        return ()
    level = f"{found.integrated:.0f} LUFS".replace("-", "−")
    return (f"The cue track is {level} loud: its music is too quiet or too uneven for more.",)


def plan_stretches(material: Material, plan: CuePlan) -> list[Stretch]:
    """The passes in order; with several tempos each is announced before its count-in.

    Raises:
        Fault: the routine has no section of a name.
    """
    if not plan.tempos:
        raise Fault("the cue track has no pass", do="give at least one tempo")
    spans = [find_section(material, name) for name in plan.sections]
    whole = [(material.routine.title, material.sheet.start, material.sheet.end)]
    named = [(s.section.name, s.start, s.end) for s in spans] or whole
    passes = [(name, start, end, t) for name, start, end in named for t in plan.tempos]
    return [
        Stretch(
            key=name,
            start=start,
            end=end,
            tempo=tempo,
            choice=plan.choice,
            rest=plan.rest if k + 1 < len(passes) else _TAIL,
            say=f"{round(tempo * 100)} percent" if len(plan.tempos) > 1 else "",
        )
        for k, (name, start, end, tempo) in enumerate(passes)
    ]


def planned_length(material: Material, plan: CuePlan) -> float:
    """Seconds of the cue track, give or take what is said before its count-ins.

    Raises:
        Fault: as `plan_stretches`.
    """
    seconds = 0.0
    for one in plan_stretches(material, plan):
        counted = count_in(material.beatmap, one.start, one.tempo, one.choice.counts)
        lead = -counted[0].at if counted else 0.0
        seconds += lead + (one.end - one.start) / one.tempo + one.rest
    return seconds


def find_section(material: Material, name: str) -> TimedSection:
    """The section called `name`, in capitals or not.

    Raises:
        Fault: there is none.
    """
    for timed in material.sheet.sections:
        if timed.section.name.casefold() == name.casefold():
            return timed
    known = ", ".join(t.section.name for t in material.sheet.sections)
    do = f"choose one of: {known}" if known else "make one on the Routine page"
    raise Fault(f"the routine has no section {name!r}", do=do)


def plan_chapters(
    material: Material,
    stretches: Sequence[Stretch],
    starts: Sequence[tuple[float, float]],
    length: float,
) -> tuple[Chapter, ...]:
    """A chapter for every section within every pass, each pass's count-in with its first.

    Args:
        starts: for each stretch the second of the file at which its pass begins (with its
            count-in), and the second at which its music does.
        length: seconds of the file.
    """
    marks: list[tuple[float, str]] = []
    several = len({s.tempo for s in stretches}) > 1
    for stretch, (begin, music) in zip(stretches, starts, strict=True):
        tempo = f", {round(stretch.tempo * 100)} %" if several else ""
        marks.append((begin, stretch.key + tempo))
        for timed in material.sheet.sections:
            if stretch.start <= timed.start < stretch.end and timed.section.name != stretch.key:
                at = music + (timed.start - stretch.start) / stretch.tempo
                first = timed.start - stretch.start < 0.01
                marks = marks[:-1] if first else marks
                marks.append((begin if first else at, timed.section.name + tempo))
    ends = [start for start, _ in marks[1:]] + [length]
    return tuple(Chapter(s, e, t) for (s, t), e in zip(marks, ends, strict=True) if e - s > 0.01)


def words_of(plan: CuePlan) -> str:
    """What the track holds, in words."""
    many = len(plan.sections) > _NAMED
    what = f"{len(plan.sections)} sections" if many else ", ".join(plan.sections)
    what = what or "whole routine"
    tempos = [f"{round(t * 100)} %" for t in plan.tempos]
    if len(tempos) == 1:
        return what if plan.tempos[0] == 1.0 else f"{what}, {tempos[0]}"
    return f"{what}, {len(tempos)} passes, {tempos[0]} to {tempos[-1]}"


def _title(material: Material, plan: CuePlan) -> str:
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


def _levelled(
    sound: Samples, rate: int, form: AudioFormat, label: Label, report: Report
) -> tuple[bytes, Loudness]:
    """The encoded bytes and what decoding them shows, within the limits."""
    target, ceiling = TARGET, CEILING - (_ROOM if form.lossy else 0.0)
    bit_rate = BIT_RATE if form.lossy else 0
    kept: tuple[bytes, Loudness] | None = None
    for attempt in range(_TRIES):
        report(0.55 + 0.1 * attempt, "writing the cue track")
        loud = mastered(sound, rate, target=target, ceiling=ceiling)
        data = encode(loud, rate, form, bit_rate=bit_rate, quick=True, label=label)
        report(0.6 + 0.1 * attempt, "checking the cue track")
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
