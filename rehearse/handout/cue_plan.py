"""What a cue track holds and how long it is, before anything of it is made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rehearse.cueing.count_in import count_in
from rehearse.cueing.cue_state import TimedSection
from rehearse.cueing.speech import SpeechChoice
from rehearse.files.user_error import UserError
from rehearse.handout.encode import Chapter
from rehearse.handout.handout_source import HandoutSource
from rehearse.music.position import Length
from rehearse.practice.scope import WAY_IN, Scope
from rehearse.session.segment_builder import SegmentSpec
from rehearse.words import _, section_text, shown

#: Seconds of the longest cue track: it is made in memory, and takes 1.2 MB a second there.
LONGEST = 2400.0
#: Sections that are named in a title; more are counted.
_NAMED = 3
_TAIL = 0.5  # s kept after the last music, so that the last sound rings out


@dataclass(frozen=True)
class CuePlan:
    """What a cue track holds.

    Args:
        sections: names in the order wanted; empty: the whole routine.
        tempos: one pass each over all of it (or over each section), 0.4–1.05.
        rest: seconds of silence between passes.
        choice: what is said, counted and clicked.
        transitions: numbers of poses, the way into each after the sections.
    """

    sections: tuple[str, ...] = ()
    tempos: tuple[float, ...] = (1.0,)
    rest: float = 2.0
    choice: SpeechChoice = field(default_factory=SpeechChoice)
    transitions: tuple[int, ...] = ()


def plan_stretches(source: HandoutSource, plan: CuePlan) -> list[SegmentSpec]:
    """The passes in order; with several tempos each is announced before its count-in.

    Raises:
        UserError: the routine has no section of a name or no pose of a number.
    """
    if not plan.tempos:
        raise UserError(_("the cue track has no pass"), do=_("give at least one tempo"))
    spans = [find_section(source, name) for name in plan.sections]
    whole = [(source.routine.title, source.sheet.start, source.sheet.end)]
    ways = [find_transition(source, number) for number in plan.transitions]
    named = [(s.section.name, s.start, s.end) for s in spans]
    named = named + [(s.name, s.start, s.end) for s in ways] or whole
    passes = [(name, start, end, t) for name, start, end in named for t in plan.tempos]
    return [
        SegmentSpec(
            key=name,
            start=start,
            end=end,
            tempo=tempo,
            choice=plan.choice,
            rest=plan.rest if k + 1 < len(passes) else _TAIL,
            say=_("{tempo} percent", tempo=round(tempo * 100)) if len(set(plan.tempos)) > 1 else "",
        )
        for k, (name, start, end, tempo) in enumerate(passes)
    ]


def planned_length(source: HandoutSource, plan: CuePlan) -> float:
    """Seconds of the cue track, give or take what is said before its count-ins.

    Raises:
        UserError: as `plan_stretches`.
    """
    seconds = 0.0
    for one in plan_stretches(source, plan):
        counted = count_in(source.beatmap, one.start, one.tempo, one.choice.counts)
        lead = -counted[0].at if counted else 0.0
        seconds += lead + (one.end - one.start) / one.tempo + one.rest
    return seconds


def refuse_endless(seconds: float) -> None:
    """Refuse a cue track too long to be made.

    Raises:
        UserError: it would last more than 40 minutes.
    """
    if seconds > LONGEST:
        minutes = _(
            "{seconds:.0f} minutes, and {longest:.0f} are the most",
            seconds=seconds / 60,
            longest=LONGEST / 60,
        )
        do = _("choose fewer passes, or a section")
        raise UserError(_("the cue track would last {minutes}", minutes=minutes), do=do)


def find_section(source: HandoutSource, name: str) -> TimedSection:
    """The section called `name`, in capitals or not.

    Raises:
        UserError: there is none.
    """
    for timed in source.sheet.sections:
        names = (timed.section.name, section_text(timed.section.name))
        if name.casefold() in map(str.casefold, names):
            return timed
    known = ", ".join(section_text(t.section.name) for t in source.sheet.sections)
    do = _("choose one of: {known}", known=known) if known else _("make one on the Routine page")
    raise UserError(_("the routine has no section {name!r}", name=name), do=do)


def find_transition(source: HandoutSource, number: int) -> Scope:
    """The way into pose `number` (from 1 on) and its hold, with what leads out of the one before.

    Raises:
        UserError: there is no such pose.
    """
    cues = source.sheet.cues
    if not 1 <= number <= len(cues):
        do = (
            _("choose a number from 1 to {number}", number=len(cues))
            if cues
            else _("add a pose on the Routine page")
        )
        raise UserError(_("the routine has no pose {number}", number=number), do=do)
    cue = cues[number - 1]
    first = cues[number - 2].hit if number > 1 else source.sheet.start
    start = max(first, source.beatmap.shift(cue.start, Length(-WAY_IN)))
    origin = cues[number - 2].name if number > 1 else shown("walk-on")
    name = f"{origin} → {cue.name}"
    return Scope("transition", cue.placed.id, name, start, min(cue.end, source.sheet.end))


def plan_chapters(
    source: HandoutSource,
    stretches: Sequence[SegmentSpec],
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
        marks.append((begin, section_text(stretch.key) + tempo))
        for timed in source.sheet.sections:
            if stretch.start <= timed.start < stretch.end and timed.section.name != stretch.key:
                at = music + (timed.start - stretch.start) / stretch.tempo
                first = timed.start - stretch.start < 0.01
                marks = marks[:-1] if first else marks
                marks.append((begin if first else at, section_text(timed.section.name) + tempo))
    ends = [start for start, _unused in marks[1:]] + [length]
    return tuple(Chapter(s, e, t) for (s, t), e in zip(marks, ends, strict=True) if e - s > 0.01)


def words_of(plan: CuePlan) -> str:
    """What the track holds, in words."""
    parts = [
        *plan.sections,
        *(_("way into pose {number}", number=number) for number in plan.transitions),
    ]
    many = len(parts) > _NAMED
    what = _("{number} parts", number=len(parts)) if many else ", ".join(parts)
    if many and not plan.transitions:
        what = _("{number} sections", number=len(parts))
    what = what or _("whole routine")
    tempos = list(dict.fromkeys(f"{round(t * 100)} %" for t in plan.tempos))
    passes = _(", {number} passes", number=len(plan.tempos)) if len(plan.tempos) > 1 else ""
    if len(tempos) == 1:
        return f"{what}{passes}" if plan.tempos[0] == 1.0 else f"{what}{passes}, {tempos[0]}"
    return _(
        "{what}{passes}, {first} to {last}",
        what=what,
        passes=passes,
        first=tempos[0],
        last=tempos[-1],
    )
