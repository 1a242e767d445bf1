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
from rehearse.routine.model import Placed, Routine, Section
from rehearse.routine.pairing import Pair, pair
from rehearse.routine.wording import changes, moved_by

Kind = Literal["moved", "added", "removed", "changed", "swapped", "heading", "section"]

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
    return (
        *_headings(old, new),
        *_poses(pairs, beatmap, new_map or beatmap),
        *_sections(old, new),
        *_own_poses(old, new),
    )


def _poses(pairs: Sequence[Pair], old_map: BeatMap, new_map: BeatMap) -> Iterator[Difference]:
    swapped = _swaps(pairs)
    for one, other in swapped:
        yield Difference(
            "swapped",
            f"{one.pose} and {other.pose} changed places ({one.hit} and {other.hit})",
            (one.id, other.id),
        )
    done = {placed.id for both in swapped for placed in both}
    moved = [(a, b) for a, b in pairs if a and b and a.hit != b.hit and a.id not in done]
    yield from _moves(moved, old_map, new_map)
    for old, new in pairs:
        if new is not None and old is None:
            yield Difference("added", f"{new.pose} added at {new.hit}", (new.id,))
        elif old is not None and new is None:
            yield Difference("removed", f"{old.pose} taken out at {old.hit}", (old.id,))
        elif old is not None and new is not None:
            if old.id in done:
                # Poses that changed places took each other's lengths, which belong to the place.
                old = replace(old, hold=new.hold, transition=new.transition)
            if words := changes(old, new):
                yield Difference(
                    "changed", f"{old.pose} at {new.hit}: {', '.join(words)}", (new.id,)
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
            text = f"{len(poses)} poses from {first.pose} at {first.hit} on moved {by}"
            yield Difference("moved", text, tuple(b.id for _, b in poses))
            continue
        for old, new in poses:
            yield Difference("moved", f"{old.pose} moved from {old.hit} to {new.hit}", (new.id,))


def _headings(old: Routine, new: Routine) -> Iterator[Difference]:
    names = {
        "title": "title",
        "track": "song",
        "show": "show",
        "division": "division",
        "show_date": "date of the show",
        "rules": "rule set",
    }
    for field, name in names.items():
        before, after = getattr(old, field), getattr(new, field)
        if before != after:
            yield Difference(
                "heading", f"{name} is now {after or 'empty'}, was {before or 'empty'}"
            )
    if old.stage != new.stage:
        if new.stage is None:
            yield Difference("heading", "the whole song is used on stage")
        else:
            was = f", was {old.stage.length:.1f} s" if old.stage else ""
            yield Difference(
                "heading",
                f"stage part is {new.stage.start:.1f}–{new.stage.end:.1f} s of the song, "
                f"{new.stage.length:.1f} s long{was}",
            )


def _sections(old: Routine, new: Routine) -> Iterator[Difference]:
    before = {s.id: s for s in old.sections}
    by_name = {s.name: s for s in old.sections if s.id not in {n.id for n in new.sections}}
    seen: set[str] = set()
    for section in new.sections:
        was = before.get(section.id) or by_name.get(section.name)
        if was is None:
            text = f"section {section.name} added, {section.start} to {section.end}"
            yield Difference("section", text, (section.id,))
            continue
        seen.add(was.id)
        if words := _section_changes(was, section):
            yield Difference("section", f"section {was.name} {words}", (section.id,))
    for section in old.sections:
        if section.id not in seen:
            yield Difference("section", f"section {section.name} taken out", (section.id,))


def _section_changes(old: Section, new: Section) -> str:
    words = []
    if old.name != new.name:
        words.append(f"is now called {new.name}")
    if (old.start, old.end) != (new.start, new.end):
        words.append(f"now from {new.start} to {new.end}, was {old.start} to {old.end}")
    return ", ".join(words)


def _own_poses(old: Routine, new: Routine) -> Iterator[Difference]:
    before, after = ({o.name: o for o in r.own_poses} for r in (old, new))
    for name in sorted(before.keys() | after.keys()):
        if name not in before:
            yield Difference("heading", f"own pose {name} added")
        elif name not in after:
            yield Difference("heading", f"own pose {name} taken out")
        elif before[name] != after[name]:
            yield Difference("heading", f"own pose {name} changed")
