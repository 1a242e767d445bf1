"""Changes of one pose in the words a coach would use."""

from __future__ import annotations

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length
from rehearse.routine.model import Placed


def changes(old: Placed, new: Placed) -> tuple[str, ...]:
    """What changed in one pose but its place, each a clause after the pose's name."""
    words = []
    if old.pose != new.pose:
        words.append(f"is now {new.pose}")
    if old.hold != new.hold:
        words.append(_longer("held", old.hold, new.hold))
    if old.transition != new.transition:
        words.append(_longer("transition", old.transition, new.transition))
    if old.facing != new.facing:
        words.append(f"faces {new.facing or 'as usual'}")
    if old.level != new.level:
        words.append(f"is {new.level or 'at its usual level'}")
    if old.note != new.note:
        words.append(f"note: {new.note}" if new.note else "note taken out")
    if old.say != new.say:
        words.append(f"spoken as “{new.say}”" if new.say else "spoken as usual")
    return tuple(words)


def _longer(what: str, old: Length, new: Length) -> str:
    if old.in_counts != new.in_counts:
        return f"{what} {new} instead of {old}"
    by = Length(abs(new.value - old.value), new.in_counts)
    return f"{what} {by} {'longer' if new.value > old.value else 'shorter'} ({old} → {new})"


def moved_by(old: Placed, new: Placed, old_map: BeatMap, new_map: BeatMap) -> str:
    """How far a pose moved: "4 counts later", in seconds where free time is between."""
    before, after = old_map.time_of(old.hit), new_map.time_of(new.hit)
    seconds = after - before
    counts = None
    if isinstance(old.hit, Count) and isinstance(new.hit, Count):
        counts = new_map.counts_between(min(before, after), max(before, after))
    amount = (
        Length(round(counts * 4) / 4)
        if counts is not None
        else Length(round(abs(seconds), 2), in_counts=False)
    )
    return f"{amount} {'later' if seconds > 0 else 'earlier'}"
