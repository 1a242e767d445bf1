"""Which pose of one copy of a routine is which of another.

Ids stay with a pose through every edit; copies written by hand have other ones, so what is left
is paired by name and place.
"""

from __future__ import annotations

from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Placed, Routine

#: A pose of the same name further away than this, in seconds, is another showing of it.
_NEAR = 8.0
#: Another pose hit within this many seconds of the place stands there instead.
_SAME_PLACE = 0.3

#: A pose of the old copy and the same one in the new; None where one lacks it, never both.
Pair = tuple[Placed | None, Placed | None]


def pair(
    old: Routine, new: Routine, beatmap: BeatMap, new_map: BeatMap | None = None
) -> tuple[Pair, ...]:
    """All poses of both copies, paired, in the order of the music.

    By id; then the nearest of the same name; then another pose at the same place.

    Args:
        beatmap: the map of `old`. new_map: that of `new`; None: the same one.
    """
    new_time = (new_map or beatmap).time_of
    times = {id(p): beatmap.time_of(p.hit) for p in old.poses}
    times |= {id(p): new_time(p.hit) for p in new.poses}
    by_id = {p.id: p for p in new.poses}
    mine = {p.id for p in old.poses}
    pairs: list[Pair] = [(p, by_id[p.id]) for p in old.poses if p.id in by_id]
    lost = [p for p in old.poses if p.id not in by_id]
    found = [p for p in new.poses if p.id not in mine]
    for reach, same_name in ((_NEAR, True), (_SAME_PLACE, False)):
        near = _nearest(lost, found, times, reach, same_name)
        pairs += near
        lost = [p for p in lost if not any(p is a for a, _ in near)]
        found = [p for p in found if not any(p is b for _, b in near)]
    pairs += [(p, None) for p in lost] + [(None, p) for p in found]
    return tuple(sorted(pairs, key=lambda both: times[id(both[0] or both[1])]))


def _nearest(
    lost: list[Placed],
    found: list[Placed],
    times: dict[int, float],
    reach: float,
    same_name: bool,
) -> list[tuple[Placed, Placed]]:
    distances = sorted(
        (distance, i, j)
        for i, a in enumerate(lost)
        for j, b in enumerate(found)
        if (distance := abs(times[id(a)] - times[id(b)])) <= reach
        and (not same_name or a.pose == b.pose)
    )
    pairs: dict[int, int] = {}
    for _, i, j in distances:
        if i not in pairs and j not in pairs.values():
            pairs[i] = j
    return [(lost[i], found[j]) for i, j in pairs.items()]
