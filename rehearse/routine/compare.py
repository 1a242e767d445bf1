"""Two routines compared in the words a coach would use.

Poses are the same when their ids are; what is left is paired by name and place, so that copies
written by hand can be compared too.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rehearse.music.beatmap import BeatMap
from rehearse.routine.change_text import changes, moved_by
from rehearse.routine.merge import Pair, pair
from rehearse.routine.merge_items import merge_items
from rehearse.routine.model import Placed, Routine
from rehearse.words import _, shown

Kind = Literal[
    "moved", "added", "removed", "changed", "swapped", "heading", "section", "own pose", "own move"
]

#: From this many poses on, moves by the same amount are told as one.
_TOGETHER = 3


@dataclass(frozen=True)
class Difference:
    """One difference, told from the first routine to the second.

    Args:
        kind: what sort it is. text: a clause that starts with what it is about.
        ids: ids of the placed poses or the section it concerns, in the routine that has them.
    """

    kind: Kind
    text: str
    ids: tuple[str, ...] = ()


def compare(
    old: Routine, new: Routine, beatmap: BeatMap, new_map: BeatMap | None = None
) -> tuple[Difference, ...]:
    """What changed from `old` to `new`, in words; nothing when they are the same.

    Args:
        beatmap: the map of `old`. new_map: that of `new`; None: the same one.
    """
    pairs = pair(old, new, beatmap, new_map or beatmap)
    told: dict[str, list[Difference]] = {
        "heading": [],
        "section": [],
        "own pose": [],
        "own move": [],
    }
    for item in merge_items(old, new):
        ids = (item.name,) if item.kind == "section" else ()
        told[item.kind].append(Difference(item.kind, item.text, ids))
    return (
        *told["heading"],
        *_poses(pairs, beatmap, new_map or beatmap),
        *told["section"],
        *told["own pose"],
        *told["own move"],
    )


def _poses(pairs: Sequence[Pair], old_map: BeatMap, new_map: BeatMap) -> Iterator[Difference]:
    swapped = _swaps(pairs)
    for one, other in swapped:
        yield Difference(
            "swapped",
            _(
                "{pose} and {pose2} changed places ({hit} and {hit2})",
                pose=shown(one.pose),
                pose2=shown(other.pose),
                hit=one.hit,
                hit2=other.hit,
            ),
            (one.id, other.id),
        )
    done = {placed.id for both in swapped for placed in both}
    moved = [(a, b) for a, b in pairs if a and b and a.hit != b.hit and a.id not in done]
    yield from _moves(moved, old_map, new_map)
    for old, new in pairs:
        if new is not None and old is None:
            yield Difference(
                "added", _("{pose} added at {hit}", pose=shown(new.pose), hit=new.hit), (new.id,)
            )
        elif old is not None and new is None:
            yield Difference(
                "removed",
                _("{pose} taken out at {hit}", pose=shown(old.pose), hit=old.hit),
                (old.id,),
            )
        elif old is not None and new is not None:
            if old.id in done:
                # Poses that changed places took each other's lengths, which belong to the place.
                old = replace(old, hold=new.hold, transition=new.transition, again=new.again)
            if words := changes(old, new):
                yield Difference(
                    "changed",
                    _(
                        "{pose} at {hit}: {words}",
                        pose=shown(old.pose),
                        hit=new.hit,
                        words=", ".join(words),
                    ),
                    (new.id,),
                )


def _swaps(pairs: Sequence[Pair]) -> list[tuple[Placed, Placed]]:
    moved = [(a, b) for a, b in pairs if a and b and a.hit != b.hit]
    places = {a.hit: (a, b) for a, b in moved}
    found: list[tuple[Placed, Placed]] = []
    for old, new in moved:
        other = places.get(new.hit)
        if other is None or other[1].hit != old.hit or other[0].id <= old.id:
            continue
        if (new.hold, new.transition) == (other[0].hold, other[0].transition):
            found.append((old, other[0]))
    return found


def _moves(
    moved: Sequence[tuple[Placed, Placed]], old_map: BeatMap, new_map: BeatMap
) -> Iterator[Difference]:
    def key(both: tuple[Placed, Placed]) -> str:
        return moved_by(both[0], both[1], old_map, new_map)

    for by, group in itertools.groupby(moved, key):
        poses = list(group)
        if by and len(poses) >= _TOGETHER:
            first = poses[0][0]
            text = _(
                "{number} poses from {pose} at {hit} on moved {by}",
                number=len(poses),
                pose=shown(first.pose),
                hit=first.hit,
                by=by,
            )
            yield Difference("moved", text, tuple(b.id for _unused, b in poses))
            continue
        for old, new in poses:
            yield Difference(
                "moved",
                _(
                    "{pose} moved from {hit} to {hit2}",
                    pose=shown(old.pose),
                    hit=old.hit,
                    hit2=new.hit,
                ),
                (new.id,),
            )
