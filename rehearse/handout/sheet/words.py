"""The words of the sheet: where, how long, facing and level, as a choreographer reads them."""

from __future__ import annotations

import calendar
import datetime
import statistics

from rehearse.cueing.moment import Cue
from rehearse.files.fault import Fault
from rehearse.handout.material import Material
from rehearse.music.position import Length, Seconds
from rehearse.routine.model import Place
from rehearse.routine.rules import load_rules

_SAME = 0.05  # s
#: What every time on paper is measured from.
CLOCK = "Times are those of the stage music."


def place(material: Material, time: float) -> str:
    """A time of the track as its count, in free time on the stage's clock: "3:5&", "0:12.4"."""
    position = material.beatmap.position_at(time, tolerance=0.02)
    if isinstance(position, Seconds):
        return clock(time - material.sheet.start)
    return str(position)


def lasting(length: Length) -> str:
    """How long something lasts, seconds in tenths: "2 counts", "1.8 s"."""
    return str(length) if length.in_counts else f"{length.value:.1f} s"


def clock(seconds: float) -> str:
    """`1:05.3`: minutes, seconds, tenths."""
    tenths = round(seconds * 10)
    sign = "-" if tenths < 0 else ""
    minutes, rest = divmod(abs(tenths), 600)
    return f"{sign}{minutes}:{rest // 10:02d}.{rest % 10}"


def stance(cue: Cue) -> str:
    """Facing and level: "left side, lunge"."""
    return f"{cue.facing.value}, {cue.level.value}"


def how_long(cue: Cue, material: Material) -> tuple[str, str]:
    """One line for the transition, one for the hold, each with the place it starts or ends.

    What lies before the stage music or behind it is not named by its place there.
    """
    sheet = material.sheet
    early, late = cue.start < sheet.start - _SAME, cue.end > sheet.end + _SAME
    begin = "the start" if early else place(material, cue.start)
    end = "the end" if late else place(material, cue.end)
    travel = f"transition {lasting(cue.placed.transition)} from {begin}"
    return travel, f"hold {lasting(cue.placed.hold)} to {end}"


def moves(cue: Cue, material: Material) -> str:
    """The moves into a pose at their counts, then its hits once more: "3:5 gather · 4:1 rise"."""
    told = [f"{place(material, m.start)} {m.text}" for m in cue.moves]
    told += [f"again on {place(material, time)}" for time in cue.again]
    if cue.index + 1 == len(material.sheet.cues):
        told += [f"off: {place(material, m.start)} {m.text}" for m in material.sheet.exit]
    return "  ·  ".join(told)


def stage_place(cue: Cue, material: Material) -> Place | None:
    """Where on the stage a pose is held; None in a routine that never says."""
    until = [c.placed.place for c in material.sheet.cues[: cue.index + 1] if c.placed.place]
    if until:
        return until[-1]
    return Place.CENTRE if any(c.placed.place for c in material.sheet.cues) else None


def facts(material: Material) -> str:
    """Length against the limit, number of poses, tempo: one line."""
    words = [f"{clock(material.length)} on stage"]
    if (limit := limit_of(material)) is not None:
        words.append(f"limit {clock(limit)}")
    poses = len(material.sheet.cues)
    words.append("1 pose" if poses == 1 else f"{poses} poses")
    if (tempo := counts_a_minute(material)) is not None:
        words.append(f"{tempo:.0f} counts a minute")
    return "  ·  ".join(words)


def occasion(material: Material) -> str:
    """Show, division and date, as far as they are known."""
    routine = material.routine
    words = (routine.show, routine.division, day(routine.show_date))
    return "  ·  ".join(w for w in words if w)


def day(date: str) -> str:
    """An ISO 8601 date in words, "22 May 2027"; what is none stays as it is."""
    try:
        found = datetime.date.fromisoformat(date)
    except ValueError:
        return date
    return f"{found.day} {calendar.month_name[found.month]} {found.year}"


def section_of(material: Material, cue: Cue) -> str:
    """The name of the section a pose is hit in; of several the one that began last."""
    inside = [s for s in material.sheet.sections if s.start - 0.001 <= cue.hit < s.end - 0.001]
    return max(inside, key=lambda s: s.start).section.name if inside else ""


def limit_of(material: Material) -> float | None:
    """Seconds the chosen rule set allows; None when it states none or cannot be read."""
    if not material.routine.rules:
        return None
    try:
        return load_rules(material.routine.rules, material.folder).limit
    except Fault:
        return None


def counts_a_minute(material: Material) -> float | None:
    """The median tempo of the stage part; None in music without beats."""
    beatmap = material.beatmap
    inside = [
        beatmap.interval(k)
        for k, time in enumerate(beatmap.beats)
        if material.sheet.start <= time < material.sheet.end
    ]
    return 60 / statistics.median(inside) if inside else None
