"""Edits that concern more than one pose: swap, duplicate, insert, take out, shift what follows."""

from __future__ import annotations

from dataclasses import replace

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length, Position
from rehearse.routine.edits.poses import moved, ordered, place
from rehearse.routine.model import Placed, Routine, Section, new_id
from rehearse.routine.snapping import Snap, snap


def swap(routine: Routine, beatmap: BeatMap, pose_id: str, other_id: str) -> Routine:
    """Let two poses change places: each takes the other's hit, hold and transition.

    The places fit the music, so the lengths stay with them; notes go with their pose.
    """
    one, other = routine.placed(pose_id), routine.placed(other_id)
    places = {
        pose_id: replace(one, hit=other.hit, hold=other.hold, transition=other.transition),
        other_id: replace(other, hit=one.hit, hold=one.hold, transition=one.transition),
    }
    return ordered(routine, beatmap, tuple(places.get(p.id, p) for p in routine.poses))


def duplicate(routine: Routine, beatmap: BeatMap, pose_id: str, new: str = "") -> Routine:
    """Show the pose once more, as soon as its hold is over and the transition made again.

    Args:
        new: the id of the second one; empty: a random one.
    """
    placed = routine.placed(pose_id)
    hold_end = placed.times(beatmap)[2]
    hit = snap(beatmap, beatmap.shift(hold_end, placed.transition), Snap.QUARTERS)
    copy = replace(placed, id=new or new_id(), hit=hit)
    return ordered(routine, beatmap, (*routine.poses, copy))


def insert(
    routine: Routine,
    beatmap: BeatMap,
    pose: str,
    hit: Position,
    *,
    pose_id: str = "",
    **lengths: Length | None,
) -> Routine:
    """Put a pose at `hit`, as `place` does, and shift what was hit there or later by its need."""
    name = pose_id or new_id()
    added = place(routine, beatmap, pose, hit, pose_id=name, **lengths).placed(name)
    room = _sum(beatmap, added)
    pushed = shift_after(routine, beatmap, hit, room)
    return ordered(pushed, beatmap, (*pushed.poses, added))


def take_out(
    routine: Routine, beatmap: BeatMap, pose_id: str, *, close_up: bool = False
) -> Routine:
    """Take a pose out.

    Args:
        close_up: let what follows move up, so that the next pose gets its hit.
    """
    placed = routine.placed(pose_id)
    index = routine.poses.index(placed)
    rest = replace(routine, poses=tuple(p for p in routine.poses if p.id != pose_id))
    if not close_up or index + 1 == len(routine.poses):
        return rest
    gap = _between(beatmap, placed.hit, routine.poses[index + 1].hit)
    return shift_after(rest, beatmap, placed.hit, Length(-gap.value, gap.in_counts))


def shift_after(routine: Routine, beatmap: BeatMap, start: Position, by: Length) -> Routine:
    """Shift every pose hit at or after `start`, and the sections' bounds after it, by `by`."""
    since = beatmap.time_of(start)

    def bound(position: Position) -> Position:
        if beatmap.time_of(position) <= since:
            return position
        new = moved(beatmap, position, by)
        # What lay in music that is closed up ends where it was closed.
        return new if beatmap.time_of(new) > since else start

    poses = tuple(
        replace(p, hit=moved(beatmap, p.hit, by)) if beatmap.time_of(p.hit) >= since else p
        for p in routine.poses
    )
    sections = [replace(s, start=bound(s.start), end=bound(s.end)) for s in routine.sections]
    kept = [s for s in sections if _has_length(beatmap, s)]
    kept.sort(key=lambda s: beatmap.time_of(s.start))
    return ordered(replace(routine, sections=tuple(kept)), beatmap, poses)


def _has_length(beatmap: BeatMap, section: Section) -> bool:
    return beatmap.time_of(section.start) < beatmap.time_of(section.end)


def _sum(beatmap: BeatMap, placed: Placed) -> Length:
    if placed.hold.in_counts and placed.transition.in_counts:
        return Length(placed.hold.value + placed.transition.value)
    start, _, end = placed.times(beatmap)
    return Length(end - start, in_counts=False)


def _between(beatmap: BeatMap, start: Position, end: Position) -> Length:
    first, last = beatmap.time_of(start), beatmap.time_of(end)
    counts = beatmap.counts_between(first, last)
    if counts is not None and isinstance(start, Count) and isinstance(end, Count):
        return Length(round(counts * 4) / 4)
    return Length(last - first, in_counts=False)
