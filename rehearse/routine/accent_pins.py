"""Hits and accents: which hit is on one, which keeps its place for it, which comes next.

One rule for all that puts a pose on an accent: `snapping.place_of_accent` says where it is
written, `is_on` whether a hit is there.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Position
from rehearse.routine.model import Placed, Routine
from rehearse.routine.snapping import ON_THE_COUNT, place_of_accent

#: Two hits nearer than this are the same, in seconds.
_SAME = 0.02
#: No pose is put on an accent nearer to another hit than this, in seconds: a way and a glimpse of
#: a hold (common practice, no source).
_APART = 1.0 - _SAME


def is_on(beatmap: BeatMap, time: float) -> bool:
    """Whether a hit at `time` is on an accent, as far as one can be written."""
    return any(
        abs(beatmap.marked[k].time - time) <= ON_THE_COUNT + 1e-6 for k in _near(beatmap, time)
    )


def is_pinned(placed: Placed, beatmap: BeatMap) -> bool:
    """Whether a pose keeps its place when others are put in or taken out.

    One on an accent does unless it is written otherwise: the music's hit is why it stands there.
    """
    if placed.pinned is not None:
        return placed.pinned
    return is_on(beatmap, beatmap.time_of(placed.hit))


def places(routine: Routine, beatmap: BeatMap) -> tuple[tuple[float, Position], ...]:
    """Where hits on the accents heard on stage are written: seconds and position, by time."""
    start, end = 0.0, beatmap.duration
    if routine.stage is not None:
        start, end = routine.stage.start, routine.stage.end
    found: list[tuple[float, Position]] = []
    for accent in beatmap.marked:
        position = place_of_accent(beatmap, accent.time)
        time = beatmap.time_of(position)
        if start <= time < end and (not found or time - found[-1][0] > _SAME):
            found.append((time, position))
    return tuple(found)


def next_place(
    routine: Routine, beatmap: BeatMap, time: float, steps: int, taken: Iterable[float] = ()
) -> tuple[float, Position] | None:
    """The place of the accent so many accents after `time` (before it when negative); None: none.

    Args:
        taken: times of hits; accents they are on are passed over.
    """
    held = tuple(taken)
    known = [p for p in places(routine, beatmap) if all(abs(p[0] - t) > ON_THE_COUNT for t in held)]
    later = [p for p in known if p[0] > time + _SAME]
    earlier = [p for p in known if p[0] < time - _SAME]
    if steps > 0:
        return later[steps - 1] if steps <= len(later) else None
    return earlier[steps] if 0 < -steps <= len(earlier) else None


def nearest_places(
    routine: Routine, beatmap: BeatMap, pose_ids: Iterable[str]
) -> dict[str, Position]:
    """For each of these poses that is not on an accent, the place of its nearest one.

    None goes past another pose, nor so near to one that there is no time for both; of two that
    want the same accent the nearer one gets it. A pose for which there is none is left out.
    """
    known, hits = places(routine, beatmap), {p.id: beatmap.time_of(p.hit) for p in routine.poses}
    wanted = []
    for pose_id in pose_ids:
        hit = hits[pose_id]
        if known and not is_on(beatmap, hit):
            time, position = min(known, key=lambda p: abs(p[0] - hit))
            wanted.append((abs(time - hit), pose_id, time, position))
    found: dict[str, Position] = {}
    for _, pose_id, time, position in sorted(wanted, key=lambda w: w[:2]):
        low, high = sorted((hits[pose_id], time))
        others = [t for i, t in hits.items() if i != pose_id]
        if all(t <= time - _APART or t >= time + _APART for t in others) and not any(
            low < t < high for t in others
        ):
            hits[pose_id], found[pose_id] = time, position
    return found


def _near(beatmap: BeatMap, time: float) -> range:
    first = bisect_left(beatmap.marked, time - ON_THE_COUNT - 1e-6, key=lambda a: a.time)
    return range(first, min(first + 2, len(beatmap.marked)))
