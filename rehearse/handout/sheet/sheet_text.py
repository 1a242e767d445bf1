"""The words of the sheet: where, how long, facing and level, as a choreographer reads them."""

from __future__ import annotations

import datetime
import statistics

from rehearse.cueing.cue_state import Cue
from rehearse.files.user_error import UserError
from rehearse.handout.handout_source import HandoutSource
from rehearse.music.position import Length, Seconds
from rehearse.routine.model import Place
from rehearse.routine.rules import load_rules
from rehearse.words import DECIMAL, _, day_text, ngettext, place_text, section_text, shown

_SAME = 0.05  # s
#: What every time on paper is measured from.
CLOCK = _("Times are those of the stage music.")


def place(source: HandoutSource, time: float) -> str:
    """A time of the track as its count, in free time on the stage's clock: "3:5&", "0:12.4"."""
    position = source.beatmap.position_at(time, tolerance=0.02)
    if isinstance(position, Seconds):
        return clock(time - source.sheet.start)
    return place_text(position)


def lasting(length: Length) -> str:
    """How long something lasts, seconds in tenths: "2 counts", "1.8 s"."""
    return place_text(length) if length.in_counts else _("{value:.1f} s", value=length.value)


def clock(seconds: float) -> str:
    """`1:05.3`: minutes, seconds, tenths."""
    tenths = round(seconds * 10)
    sign = "-" if tenths < 0 else ""
    minutes, rest = divmod(abs(tenths), 600)
    return f"{sign}{minutes}:{rest // 10:02d}{DECIMAL}{rest % 10}"


def stance(cue: Cue) -> str:
    """Facing and level: "left side, lunge"."""
    return f"{shown(cue.facing)}, {shown(cue.level)}"


def how_long(cue: Cue, source: HandoutSource) -> tuple[str, str]:
    """One line for the transition, one for the hold, each with the place it starts or ends.

    What lies before the stage music or behind it is not named by its place there.
    """
    sheet = source.sheet
    early, late = cue.start < sheet.start - _SAME, cue.end > sheet.end + _SAME
    begin = _("the start") if early else place(source, cue.start)
    end = _("the end") if late else place(source, cue.end)
    travel = _(
        "transition {lasting} from {begin}", lasting=lasting(cue.placed.transition), begin=begin
    )
    return travel, _("hold {lasting} to {end}", lasting=lasting(cue.placed.hold), end=end)


def moves(cue: Cue, source: HandoutSource) -> str:
    """The moves into a pose at their counts, then its hits once more: "3:5 gather · 4:1 rise"."""
    told = [f"{place(source, m.start)} {m.text}" for m in cue.moves]
    told += [_("again on {place}", place=place(source, time)) for time in cue.again]
    if cue.index + 1 == len(source.sheet.cues):
        told += [
            _("off: {place} {text}", place=place(source, m.start), text=m.text)
            for m in source.sheet.exit
        ]
    return "  ·  ".join(told)


def stage_place(cue: Cue, source: HandoutSource) -> Place | None:
    """Where on the stage a pose is held; None in a routine that never says."""
    until = [c.placed.place for c in source.sheet.cues[: cue.index + 1] if c.placed.place]
    if until:
        return until[-1]
    return Place.CENTRE if any(c.placed.place for c in source.sheet.cues) else None


def facts(source: HandoutSource) -> str:
    """Length against the limit, number of poses, tempo: one line."""
    words = [_("{clock} on stage", clock=clock(source.length))]
    if (limit := limit_of(source)) is not None:
        words.append(_("limit {clock}", clock=clock(limit)))
    poses = len(source.sheet.cues)
    words.append(ngettext("1 pose", "{number} poses", poses, number=poses))
    if (tempo := counts_a_minute(source)) is not None:
        words.append(_("{tempo:.0f} counts a minute", tempo=tempo))
    return "  ·  ".join(words)


def occasion(source: HandoutSource) -> str:
    """Show, division and date, as far as they are known."""
    routine = source.routine
    words = (routine.show, routine.division, day(routine.show_date))
    return "  ·  ".join(w for w in words if w)


def day(date: str) -> str:
    """An ISO 8601 date in words, "22 May 2027"; what is none stays as it is."""
    try:
        found = datetime.date.fromisoformat(date)
    except ValueError:
        return date
    return day_text(found)


def section_of(source: HandoutSource, cue: Cue) -> str:
    """The name of the section a pose is hit in; of several the one that began last."""
    inside = [s for s in source.sheet.sections if s.start - 0.001 <= cue.hit < s.end - 0.001]
    return section_text(max(inside, key=lambda s: s.start).section.name) if inside else ""


def limit_of(source: HandoutSource) -> float | None:
    """Seconds the chosen rule set allows; None when it states none or cannot be read."""
    if not source.routine.rules:
        return None
    try:
        return load_rules(source.routine.rules, source.folder).limit
    except UserError:
        return None


def counts_a_minute(source: HandoutSource) -> float | None:
    """The median tempo of the stage part; None in music without beats."""
    beatmap = source.beatmap
    inside = [
        beatmap.interval(k)
        for k, time in enumerate(beatmap.beats)
        if source.sheet.start <= time < source.sheet.end
    ]
    return 60 / statistics.median(inside) if inside else None
