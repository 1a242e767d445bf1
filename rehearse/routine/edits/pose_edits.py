"""Edits of one pose: where it is hit, how long it stays, what it is."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length, Position, Seconds
from rehearse.routine.model import MOST_POSES, Placed, Routine, new_id
from rehearse.routine.snapping import Snap, snap
from rehearse.words import _

#: Longest hold or transition that can be written: no routine is longer.
_LONGEST = {True: 512.0, False: 300.0}
#: In free time, seconds stand in for a count when a hold is made longer by keys.
COUNT_IN_FREE_TIME = 0.5


def ordered(routine: Routine, beatmap: BeatMap, poses: tuple[Placed, ...]) -> Routine:
    """`routine` with these poses in the order of their hits.

    Raises:
        UserError: there are more than a routine can hold, which could not be opened again.
    """
    if len(poses) > MOST_POSES:
        raise UserError(
            _("a routine holds {most_poses:,} poses at most", most_poses=MOST_POSES),
            do=_("take some out first"),
        )
    return replace(
        routine, poses=tuple(sorted(poses, key=lambda placed: beatmap.time_of(placed.hit)))
    )


def place(
    routine: Routine,
    beatmap: BeatMap,
    pose: str,
    hit: Position,
    *,
    hold: Length | None = None,
    transition: Length | None = None,
    pose_id: str = "",
) -> Routine:
    """Put a pose at `hit`; nothing else moves.

    In free time a hold of 3 s after a transition of 1.5 s is the default (coaching practice),
    on the beat four counts after two.
    """
    counted = isinstance(hit, Count)
    placed = Placed(
        id=pose_id or new_id(),
        pose=pose,
        hit=tidy_position(hit),
        hold=tidy(hold or (Length(4) if counted else Length(3.0, in_counts=False))),
        transition=tidy(transition or (Length(2) if counted else Length(1.5, in_counts=False))),
    )
    beatmap.time_of(hit)  # a count the music lacks is refused before it is in the routine
    return ordered(routine, beatmap, (*routine.poses, placed))


def move_to(routine: Routine, beatmap: BeatMap, pose_id: str, hit: Position) -> Routine:
    """Hit the pose at `hit`; hold and transition stay as long as they are written."""
    return change(routine, beatmap, pose_id, hit=hit)


def move_by(routine: Routine, beatmap: BeatMap, pose_id: str, by: Length) -> Routine:
    """Hit the pose later by `by`, or earlier when that is negative.

    A pose on the counts stays on them; one in free time that reaches the beat goes to the
    nearest quarter of a count; one put between the counts on purpose keeps its distance.
    """
    placed = routine.placed(pose_id)
    return change(routine, beatmap, pose_id, hit=moved(beatmap, placed.hit, by))


def hit_at(beatmap: BeatMap, placed: Placed, hit: Position) -> Placed:
    """The pose hit at `hit`; what is hit once more inside its hold keeps its distance."""
    if not placed.again or hit == placed.hit:
        return replace(placed, hit=hit)
    was, there = beatmap.time_of(placed.hit), beatmap.time_of(hit)
    again = []
    for position in placed.again:
        time = beatmap.time_of(position)
        counts = beatmap.counts_between(was, time)
        by = Length(time - was, in_counts=False) if counts is None else Length(counts)
        found = beatmap.position_at(beatmap.shift(there, by))
        again.append(found if isinstance(found, Count) else Seconds(round(found.value, 3)))
    return replace(placed, hit=hit, again=tuple(again))


def moved(beatmap: BeatMap, position: Position, by: Length) -> Position:
    """`position` later by `by`, inside the track."""
    time = beatmap.time_of(position)
    target = min(max(0.0, beatmap.shift(time, by)), beatmap.duration)
    was_free = isinstance(position, Seconds) and beatmap.beat_at(time) is None
    if was_free and by.in_counts:
        return snap(beatmap, target, Snap.QUARTERS)
    found = beatmap.position_at(target)
    return found if isinstance(found, Count) else Seconds(round(found.value, 3))


def lengthen(routine: Routine, beatmap: BeatMap, pose_id: str, counts: float) -> Routine:
    """Hold the pose `counts` counts longer (shorter when negative), never less than nothing."""
    hold = _longer(routine.placed(pose_id).hold, counts)
    return change(routine, beatmap, pose_id, hold=hold)


def quicken(routine: Routine, beatmap: BeatMap, pose_id: str, counts: float) -> Routine:
    """Make the transition before the pose `counts` counts shorter (longer when negative)."""
    transition = _longer(routine.placed(pose_id).transition, -counts)
    return change(routine, beatmap, pose_id, transition=transition)


def _longer(length: Length, counts: float) -> Length:
    step = counts if length.in_counts else counts * COUNT_IN_FREE_TIME
    return Length(length.value + step, length.in_counts)


def change(routine: Routine, beatmap: BeatMap, pose_id: str, **changes: Any) -> Routine:
    """Change any fields of one pose but its id.

    Another `pose` takes its own facing, level and spoken form with it, unless they are given.

    Raises:
        KeyError: no such pose, or the music has no such count.
        TypeError: a pose has no such field.
    """
    placed = routine.placed(pose_id)
    if changes.get("pose", placed.pose) != placed.pose:
        changes = {"facing": None, "level": None, "say": "", **changes}
    for name in ("hold", "transition"):
        if name in changes:
            changes[name] = tidy(changes[name])
    if "hit" in changes:
        changes["hit"] = tidy_position(changes["hit"])
    if "hit" in changes and "again" not in changes:
        changes["again"] = hit_at(beatmap, placed, changes["hit"]).again
    new = replace(placed, **changes, id=pose_id)
    beatmap.time_of(new.hit)
    poses = tuple(new if p.id == pose_id else p for p in routine.poses)
    if new.hit == placed.hit:  # the order stays: finding two hundred hits takes a millisecond
        return replace(routine, poses=poses)
    return ordered(routine, beatmap, poses)


def tidy(length: Length) -> Length:
    """A length as it can be written: quarters of a count or milliseconds, not negative."""
    value = min(max(0.0, length.value), _LONGEST[length.in_counts])
    rounded = round(value * 4) / 4 if length.in_counts else round(value, 3)
    return Length(rounded, length.in_counts)


def tidy_position(position: Position) -> Position:
    """A position as it can be written: seconds to the microsecond, none before the music."""
    if isinstance(position, Count):
        return position
    return Seconds(round(max(0.0, position.value), 6))
