"""Puts a pose between others so that nobody is asked to be in two poses at once.

Hits never move. Where two would overlap, the transition begins no earlier than half-way between
their hits, and the hold ends where it begins.
"""

from __future__ import annotations

import math
from dataclasses import replace

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, Position
from rehearse.routine.edits.pose_edits import change, place
from rehearse.routine.model import Placed, Routine, new_id

#: Less than this is no overlap, in seconds.
_SLACK = 0.01


def place_fitting(
    routine: Routine, beatmap: BeatMap, pose: str, hit: Position, *, pose_id: str = ""
) -> Routine:
    """Put `pose` at `hit`, with the usual hold and transition as far as there is room.

    Args:
        pose_id: id of the new pose; empty: a random one.

    Raises:
        KeyError: the music has no such count.
    """
    name = pose_id or new_id()
    return fit(place(routine, beatmap, pose, hit, pose_id=name), beatmap, name)


def fit(
    routine: Routine, beatmap: BeatMap, name: str, *, before: bool = True, after: bool = True
) -> Routine:
    """Shorten holds and transitions around a pose until it fits between its neighbours.

    Args:
        before, after: whether to look at the pose before it, and at the one after it.
    """
    index = [p.id for p in routine.poses].index(name)
    if before and index > 0:
        routine = _after(routine, beatmap, routine.poses[index - 1], name)
    if after and index + 1 < len(routine.poses):
        routine = _before(routine, beatmap, routine.poses[index + 1], name)
    return routine


def _after(routine: Routine, beatmap: BeatMap, before: Placed, name: str) -> Routine:
    """Make room between the pose before and the new one."""
    _, last_hit, last_end = before.times(beatmap)
    start, hit, _ = routine.placed(name).times(beatmap)
    if last_end <= start + _SLACK or hit - last_hit <= _SLACK:
        return routine
    start = max(start, (last_hit + hit) / 2)
    way = length_within(beatmap, start, hit, routine.placed(name).transition)
    routine = change(routine, beatmap, name, transition=way)
    start = routine.placed(name).times(beatmap)[0]
    if last_end <= start + _SLACK:
        return routine
    hold = length_within(beatmap, last_hit, start, before.hold)
    return change(routine, beatmap, before.id, hold=hold)


def _before(routine: Routine, beatmap: BeatMap, after: Placed, name: str) -> Routine:
    """Make room between the new pose and the one after it."""
    next_start, next_hit, _ = after.times(beatmap)
    _, hit, end = routine.placed(name).times(beatmap)
    if end <= next_start + _SLACK or next_hit - hit <= _SLACK:
        return routine
    if next_start < (hit + next_hit) / 2:
        way = length_within(beatmap, (hit + next_hit) / 2, next_hit, after.transition)
        routine = change(routine, beatmap, after.id, transition=way)
        next_start = routine.placed(after.id).times(beatmap)[0]
    hold = length_within(beatmap, hit, next_start, routine.placed(name).hold)
    return change(routine, beatmap, name, hold=hold)


def length_within(beatmap: BeatMap, start: float, end: float, usual: Length) -> Length:
    """The stretch as written, in quarters of a count where there is a beat, never past `end`."""
    counts = beatmap.counts_between(start, end)
    if usual.in_counts and counts is not None:
        return replace(usual, value=math.floor(counts * 4 + 1e-6) / 4)
    return Length(math.floor((end - start) * 1000 + 1e-6) / 1000, in_counts=False)
