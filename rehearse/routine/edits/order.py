"""Edits that concern more than one pose: swap, insert, take out, shift what follows.

Inserting and taking out move what follows only as far as the next pinned pose, whose hit stays;
`pins=False` is the other way, everything moves.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length, Position
from rehearse.routine.accent_pins import is_pinned
from rehearse.routine.edits.fitting import fit
from rehearse.routine.edits.pose_edits import hit_at, moved, ordered, place
from rehearse.routine.model import Placed, Routine, Section, new_id
from rehearse.routine.snapping import Snap, snap
from rehearse.words import _, shown

#: Hits nearer than this are the same, in seconds.
_SAME = 0.02
#: Between two hits there is at least this much, in counts and in seconds.
_LEAST = {True: 1.0, False: 0.5}


def swap(routine: Routine, beatmap: BeatMap, pose_id: str, other_id: str) -> Routine:
    """Let two poses change places: each takes the other's hit, hold, transition and pin.

    The places fit the music, so the lengths stay with them; notes go with their pose.
    """
    one, other = routine.placed(pose_id), routine.placed(other_id)
    return _on_places(routine, beatmap, (one, other), (other, one))


def swap_with_next(routine: Routine, beatmap: BeatMap, pose_ids: Iterable[str]) -> Routine:
    """Let the poses in the order of the music change places with the one after the last of them.

    Each takes the next place on, that one the first; with one pose it is `swap`.

    Raises:
        UserError: no pose comes after them.
    """
    chosen = set(pose_ids)
    places = [p for p in routine.poses if p.id in chosen]
    index = routine.poses.index(places[-1]) + 1
    if index == len(routine.poses):
        raise UserError(
            _("there is no pose after this one to swap with"), do=_("choose an earlier one")
        )
    after = routine.poses[index]
    return _on_places(routine, beatmap, (after, *places), (*places, after))


def _on_places(
    routine: Routine, beatmap: BeatMap, poses: Sequence[Placed], places: Sequence[Placed]
) -> Routine:
    new = {
        pose.id: replace(
            pose,
            hit=there.hit,
            hold=there.hold,
            transition=there.transition,
            pinned=there.pinned,
            again=there.again,
        )
        for pose, there in zip(poses, places, strict=True)
    }
    return ordered(routine, beatmap, tuple(new.get(p.id, p) for p in routine.poses))


def insert(
    routine: Routine,
    beatmap: BeatMap,
    pose: str,
    hit: Position,
    *,
    pose_id: str = "",
    pins: bool = True,
    **lengths: Length | None,
) -> Routine:
    """Put a pose at `hit`, as `place` does, and shift what was hit there or later by its need.

    Args:
        pins: shift only what lies before the next pinned pose; where that leaves less room than
            is needed, the poses share it and are held shorter.

    Raises:
        UserError: what is pinned leaves no room at all.
    """
    name = pose_id or new_id()
    added = place(routine, beatmap, pose, hit, pose_id=name, **lengths).placed(name)
    need = _sum(beatmap, added)
    make = make_room if pins else shift_after
    pushed = make(routine, beatmap, hit, need)
    return fit(ordered(pushed, beatmap, (*pushed.poses, added)), beatmap, name)


def make_room(routine: Routine, beatmap: BeatMap, start: Position, need: Length) -> Routine:
    """Shift what is hit at or after `start`, before the next pinned pose, by up to `need`.

    Where the pinned pose leaves less room, the last one before it is held shorter.

    Raises:
        UserError: the pinned pose leaves no room at all.
    """
    wall = next_pinned(routine, beatmap, start)
    if wall is None:
        return shift_after(routine, beatmap, start, need)
    since, top = beatmap.time_of(start), beatmap.time_of(wall.hit)
    group = [p for p in routine.poses if since - _SAME <= beatmap.time_of(p.hit) < top - _SAME]
    by = _room(beatmap, since, group[-1] if group else None, wall, need)
    if not group:
        return routine
    pushed = shift_after(routine, beatmap, start, by, until=wall)
    return fit(pushed, beatmap, group[-1].id)


def _room(
    beatmap: BeatMap, since: float, last: Placed | None, wall: Placed, need: Length
) -> Length:
    """How far what lies between `since` and a pinned pose may move, at most by `need`.

    As far as nothing is held shorter; where that is too little, half-way to the pinned hit.
    """
    counted = need.in_counts
    one = beatmap.shift(since, Length(1.0)) - since if counted else 1.0

    def between(start: float, end: float) -> float:
        counts = beatmap.counts_between(start, end) if counted and start < end else None
        return (end - start) / one if counts is None else counts

    begin, top, _unused = wall.times(beatmap)
    hit, end = (since, since) if last is None else last.times(beatmap)[1:]
    rest, free = between(hit, top), between(end, begin)
    # Whole and half counts are what a dancer moves by.
    steps = 2.0 if counted else 1000.0
    free, half = (math.floor(value * steps + 1e-6) / steps for value in (free, rest / 2))
    by = min(need.value, max(free, half))
    if min(by, rest - by) < _LEAST[counted] - 1e-6:
        raise UserError(
            _("{pose} is pinned at {hit} and leaves no room", pose=shown(wall.pose), hit=wall.hit),
            do=_("choose a place farther from it"),
        )
    return Length(by, counted)


def next_pinned(routine: Routine, beatmap: BeatMap, start: Position) -> Placed | None:
    """The first pinned pose hit at or after `start`."""
    since = beatmap.time_of(start) - _SAME
    later = (p for p in routine.poses if beatmap.time_of(p.hit) >= since)
    return next((p for p in later if is_pinned(p, beatmap)), None)


def take_out(
    routine: Routine, beatmap: BeatMap, pose_id: str, *, close_up: bool = False, pins: bool = True
) -> Routine:
    """Take one pose out; see `take_out_all`."""
    routine.placed(pose_id)
    return take_out_all(routine, beatmap, (pose_id,), close_up=close_up, pins=pins)


def take_out_all(
    routine: Routine,
    beatmap: BeatMap,
    pose_ids: Iterable[str],
    *,
    close_up: bool = False,
    pins: bool = True,
) -> Routine:
    """Take poses out.

    Args:
        close_up: let what follows move up, so that the next pose gets the hit of the first one.
        pins: move up only what lies before the next pinned pose.
    """
    gone = set(pose_ids)
    rest = replace(routine, poses=tuple(p for p in routine.poses if p.id not in gone))
    if not close_up:
        return rest
    for first, after in reversed(_runs(routine, gone)):
        gap = _between(beatmap, first.hit, after.hit)
        wall = next_pinned(rest, beatmap, first.hit) if pins else None
        if wall is None or wall.id != after.id:
            back = Length(-gap.value, gap.in_counts)
            rest = shift_after(rest, beatmap, first.hit, back, until=wall)
    return rest


def _runs(routine: Routine, gone: set[str]) -> list[tuple[Placed, Placed]]:
    """The first pose of each run of those that go, and the one that follows the run."""
    runs: list[tuple[Placed, Placed]] = []
    first: Placed | None = None
    for placed in routine.poses:
        if placed.id in gone:
            first = first or placed
        elif first is not None:
            runs.append((first, placed))
            first = None
    return runs


def shift_after(
    routine: Routine, beatmap: BeatMap, start: Position, by: Length, *, until: Placed | None = None
) -> Routine:
    """Shift every pose hit at or after `start`, and the sections' bounds after it, by `by`.

    Args:
        until: this pose, its transition and what follows stay.
    """
    since = beatmap.time_of(start)
    last = beatmap.time_of(until.hit) if until else math.inf
    edge = max(since, until.times(beatmap)[0]) if until else math.inf

    def bound(position: Position) -> Position:
        time = beatmap.time_of(position)
        if not since < time < edge:
            return position
        new = moved(beatmap, position, by)
        if beatmap.time_of(new) <= since:
            return start  # what lay in music that is closed up ends where it was closed
        return new if beatmap.time_of(new) < edge else snap(beatmap, edge, Snap.QUARTERS)

    poses = tuple(
        hit_at(beatmap, p, moved(beatmap, p.hit, by))
        if since - _SAME <= beatmap.time_of(p.hit) < last - _SAME
        else p
        for p in routine.poses
    )
    sections = [replace(s, start=bound(s.start), end=bound(s.end)) for s in routine.sections]
    whole = [s for s in sections if _has_length(beatmap, s)]
    whole.sort(key=lambda s: beatmap.time_of(s.start))
    return ordered(replace(routine, sections=tuple(whole)), beatmap, poses)


def _has_length(beatmap: BeatMap, section: Section) -> bool:
    return beatmap.time_of(section.start) < beatmap.time_of(section.end)


def _sum(beatmap: BeatMap, placed: Placed) -> Length:
    if placed.hold.in_counts and placed.transition.in_counts:
        return Length(placed.hold.value + placed.transition.value)
    start, _unused, end = placed.times(beatmap)
    return Length(end - start, in_counts=False)


def _between(beatmap: BeatMap, start: Position, end: Position) -> Length:
    first, last = beatmap.time_of(start), beatmap.time_of(end)
    counts = beatmap.counts_between(first, last)
    if counts is not None and isinstance(start, Count) and isinstance(end, Count):
        return Length(round(counts * 4) / 4)
    return Length(last - first, in_counts=False)
