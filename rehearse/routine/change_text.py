"""Changes of one pose in the words a coach would use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length, Position
from rehearse.routine.accent_pins import is_pinned
from rehearse.routine.model import Move, Placed, Routine

#: An edit that left all others where they were.
NONE_MOVED = "No other pose moved."


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
    if old.pinned != new.pinned:
        words.append(_PINS[new.pinned])
    if old.turn != new.turn:
        words.append(f"turns into it to the {new.turn}" if new.turn else "turns the shorter way")
    if old.place != new.place:
        words.append(f"stage place: {new.place}" if new.place else "stays where the last pose was")
    if _told_apart(old.moves, new.moves):
        words.append(_moves_words("moves into it", old.moves, new.moves))
    if old.again != new.again:
        told = ", ".join(str(position) for position in new.again)
        words.append(f"hit again at {told}" if told else "is not hit again")
    return tuple(words)


def told_moves(moves: Sequence[Move]) -> str:
    """Moves as a coach would say them: "gather 4 counts, reach up right 2 counts"."""
    return ", ".join(
        " ".join(str(p) for p in (m.move, m.side, m.direction, m.length) if p) for m in moves
    )


def _told_apart(old: Sequence[Move], new: Sequence[Move]) -> bool:
    """Whether moves differ in more than what they are called inside."""
    return [replace(m, id="") for m in old] != [replace(m, id="") for m in new]


def _moves_words(what: str, old: Sequence[Move], new: Sequence[Move]) -> str:
    if not new:
        return f"{what} taken out, were {told_moves(old)}"
    if told_moves(old) == told_moves(new):
        return f"{what}: notes changed"
    return f"{what}: {told_moves(new)}" + (f", were {told_moves(old)}" if old else "")


_PINS = {True: "is pinned", False: "is not pinned", None: "is pinned where an accent is"}


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


def moves_told(old: Routine, new: Routine, beatmap: BeatMap, since: Position | None) -> str:
    """How many other poses an edit moved by how much, and what it did to them, as one sentence.

    Args:
        old, new: before and after the edit. since: where it was made; the first pinned pose from
            there on that kept its place is named; None: none is.
    """
    after = {p.id: p for p in new.poses}
    both = [(p, after[p.id]) for p in old.poses if p.id in after]
    moved = [(a, b) for a, b in both if a.hit != b.hit]
    told = [_moved_words(moved, beatmap)]
    changed = [(a, b) for a, b in both if a.hold != b.hold]
    if shorter := sum(_held(b, beatmap) < _held(a, beatmap) - 0.01 for a, b in changed):
        told.append("1 is held shorter" if shorter == 1 else f"{shorter} are held shorter")
    place = beatmap.time_of(since) if since else beatmap.duration
    kept = (a for a, b in both if a.hit == b.hit and beatmap.time_of(a.hit) >= place)
    if wall := next((p for p in kept if is_pinned(p, beatmap)), None):
        told.append(f"{wall.pose} stays pinned at {wall.hit}")
    if late := sum(_past_end(b, new, beatmap) and not _past_end(a, old, beatmap) for a, b in moved):
        told.append("1 now lies past the end" if late == 1 else f"{late} now lie past the end")
    return ", ".join(told) + "."


def _moved_words(moved: list[tuple[Placed, Placed]], beatmap: BeatMap) -> str:
    if not moved:
        return NONE_MOVED.rstrip(".")
    who = "1 pose" if len(moved) == 1 else f"{len(moved)} poses"
    amounts = {moved_by(a, b, beatmap, beatmap) for a, b in moved}
    return f"{who} moved {amounts.pop()}" if len(amounts) == 1 else f"{who} moved"


def _held(placed: Placed, beatmap: BeatMap) -> float:
    _, hit, end = placed.times(beatmap)
    return end - hit


def _past_end(placed: Placed, routine: Routine, beatmap: BeatMap) -> bool:
    end = routine.stage.end if routine.stage else beatmap.duration
    return beatmap.time_of(placed.hit) >= end - 0.02
