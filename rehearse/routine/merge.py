"""Two copies edited apart, brought together pose by pose and piece by piece.

Three states are compared: mine, theirs, and the one both come from – kept as a version when a
copy is made, else found among the earlier saves. Only what they changed is offered; what both
changed, to different things, is a conflict and is taken only by itself. Compared is what can be
changed by itself: where a pose is hit, how long it is held, its note; not the pose as a whole.
Where no common state is known, nothing that only one side has is given up unasked.

Ids stay with a pose through every edit; copies written by hand have other ones, so what is left
is paired by name and place.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Literal

from rehearse.files.door import read_file
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import MAX_BYTES, parse_yaml
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Position, Seconds
from rehearse.routine.change_text import changes
from rehearse.routine.folder import OpenedFolder, read_save
from rehearse.routine.follow import on_music_of
from rehearse.routine.merge_items import MergeItem, item_in, merge_items, put_item, retold
from rehearse.routine.model import Move, OwnMove, OwnPose, Placed, Routine, new_id
from rehearse.routine.photos import import_photo, import_photos
from rehearse.routine.poses import plain
from rehearse.routine.remap import SAME, remap
from rehearse.routine.rules import import_rules
from rehearse.routine.versions import ROUTINE, list_versions
from rehearse.words import _, place_text, shown

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
        lost = [p for p in lost if not any(p is a for a, _unused in near)]
        found = [p for p in found if not any(p is b for _unused, b in near)]
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
    for _unused, i, j in distances:
        if i not in pairs and j not in pairs.values():
            pairs[i] = j
    return [(lost[i], found[j]) for i, j in pairs.items()]


By = Literal["theirs", "both", "unknown"]

_POSE_PARTS = tuple((f.name,) for f in fields(Placed) if f.name != "id")
_SECTION_PARTS = (("name",), ("start", "end"))
_PARTS = {
    "section": _SECTION_PARTS,
    "own pose": tuple((f.name,) for f in fields(OwnPose) if f.name != "name"),
    "own move": tuple((f.name,) for f in fields(OwnMove) if f.name != "name"),
}

Part = tuple[str, ...]


@dataclass(frozen=True)
class Offer:
    """One change of the other copy, to a pose or to another piece.

    Args:
        mine, theirs: the pose in each copy, None where it lacks it; `theirs` already lies on my
            beat map. Both None: it is no pose.
        by: "theirs": only they changed it since the state both come from; "both": I did too,
            otherwise; "unknown": no such state is known.
        text: what taking it over does, in words.
        item: the heading, section or own pose it is; None: a pose.
        parts: fields that are taken over; empty: all of it, or that it is not there.
    """

    mine: Placed | None
    theirs: Placed | None
    by: By
    text: str
    item: MergeItem | None = None
    parts: Part = ()

    @property
    def wanted(self) -> bool:
        """Whether it is theirs to propose and takes nothing from me."""
        if self.by == "unknown":
            return self.mine is None if self.item is None else self.item.old is None
        return self.by == "theirs"

    @property
    def label(self) -> str:
        """What it is about, in a few words."""
        if self.item is not None:
            return self.item.label
        placed = self.theirs or self.mine
        return f"{place_text(placed.hit)} {shown(placed.pose)}" if placed else ""


def offers(
    mine: Routine, beatmap: BeatMap, theirs: OpenedFolder, common: Routine | None = None
) -> tuple[Offer, ...]:
    """Everything they changed that is otherwise in mine: poses in the order of the music, then
    headings, sections and own poses.

    Args:
        mine, beatmap: my routine and its map.
        theirs: the other copy; on a corrected map of the same song its poses keep their places.
        common: the state both descend from (`common_save`), or None.
    """
    other = on_my_map(theirs, mine, beatmap)
    states = _States(mine, other, beatmap, common)
    found: list[Offer] = []
    for ours, yours in pair(mine, other, beatmap):
        found += states.pose(ours, yours)
    for item in merge_items(mine, other):
        if item.name != "track":  # the same song may be called otherwise there
            found += states.item(item)
    return tuple(found)


class _States:
    """Mine, theirs and the state both come from."""

    def __init__(
        self, mine: Routine, theirs: Routine, beatmap: BeatMap, common: Routine | None
    ) -> None:
        self.beatmap, self.common = beatmap, common
        self._base: dict[str, Placed] = {}
        for side in (theirs, mine):
            for base, placed in pair(common, side, beatmap) if common else ():
                if base is not None and placed is not None:
                    self._base[placed.id] = base

    def pose(self, mine: Placed | None, theirs: Placed | None) -> Iterator[Offer]:
        placed = mine or theirs
        base = self._base.get(placed.id) if placed else None
        if base is None and theirs is not None:
            base = self._base.get(theirs.id)
        if mine is None or theirs is None:
            by = self._one_sided(base, mine, theirs, _POSE_PARTS)
            if by is not None:
                yield Offer(mine, theirs, by, _one_sided(mine, theirs))
            return
        for by, parts in self._changed(base, mine, theirs, _POSE_PARTS):
            yield Offer(mine, theirs, by, _text(mine, _with(mine, theirs, parts)), parts=parts)

    def item(self, item: MergeItem) -> Iterator[Offer]:
        base = item_in(self.common, item) if self.common else None
        if item.kind == "heading":
            if self.common is None or item.new != base:
                by: By | None = "unknown" if self.common is None else "theirs"
                if self.common is not None and item.old != base:
                    by = "both"
                yield Offer(None, None, by or "unknown", item.text, item)
            return
        groups = _PARTS[item.kind]
        if item.old is None or item.new is None:
            by = self._one_sided(base, item.old, item.new, groups)
            if by is not None:
                yield Offer(None, None, by, item.text, item)
            return
        for by, parts in self._changed(base, item.old, item.new, groups):
            told = retold(item, _with(item.old, item.new, parts))
            yield Offer(None, None, by, told.text, item, parts)

    def _one_sided(self, base: Any, mine: Any, theirs: Any, groups: Sequence[Part]) -> By | None:
        """Who added it, or took it out; None: I did, and they left it as it was."""
        if self.common is None:
            return "unknown"
        if base is None:
            return "theirs" if mine is None else None
        if mine is None:  # I took it out
            return None if self._is_same(base, theirs, groups) else "both"
        return "theirs" if self._is_same(base, mine, groups) else "both"

    def _changed(
        self, base: Any, mine: Any, theirs: Any, groups: Sequence[Part]
    ) -> Iterator[tuple[By, Part]]:
        """What they changed, apart from what both did; fields that go together stay together."""
        other = [g for g in groups if not self._is_same(mine, theirs, [g])]
        if base is None:
            if other:  # both added it, or nothing is known
                by: By = "unknown" if self.common is None else "both"
                yield by, tuple(name for group in other for name in group)
            return
        theirs_too = [g for g in other if not self._is_same(base, theirs, [g])]
        clean = [g for g in theirs_too if self._is_same(base, mine, [g])]
        both = [g for g in theirs_too if g not in clean]
        if clean:
            yield "theirs", tuple(name for group in clean for name in group)
        if both:
            yield "both", tuple(name for group in both for name in group)

    def _is_same(self, one: Any, other: Any, groups: Sequence[Part]) -> bool:
        names = [name for group in groups for name in group]
        return all(self._is_equal(getattr(one, n), getattr(other, n)) for n in names)

    def _is_equal(self, one: Any, other: Any) -> bool:
        if isinstance(one, Count | Seconds) and isinstance(other, Count | Seconds):
            # Rewritten for another map a place may be told otherwise and be the same.
            times = [self._time(place) for place in (one, other)]
            return one == other or (None not in times and abs(times[0] - times[1]) <= SAME)  # type: ignore[operator]
        if isinstance(one, tuple) and isinstance(other, tuple) and len(one) == len(other):
            return all(self._is_equal(a, b) for a, b in zip(one, other, strict=True))
        if isinstance(one, Move) and isinstance(other, Move):
            # Which move it is, not what it is called inside: a copy by hand has ids of its own.
            return replace(one, id=other.id) == other
        return bool(one == other)

    def _time(self, place: Position) -> float | None:
        try:
            return self.beatmap.time_of(place)
        except KeyError:
            return None


def _with(mine: Any, theirs: Any, parts: Part) -> Any:
    return replace(mine, **{name: getattr(theirs, name) for name in parts})


def apply_offers(
    routine: Routine, beatmap: BeatMap, chosen: Sequence[Offer], theirs: OpenedFolder
) -> Routine:
    """`routine` with the chosen changes of the other copy; all else stays as it is.

    A pose keeps my id, so that its history stays; own poses that come along are added. An own
    pose that the routine still shows is not taken out.
    """
    poses = {p.id: p for p in routine.poses}
    for offer in chosen:
        if offer.theirs is not None and offer.mine is not None:
            now = poses.get(offer.mine.id, offer.mine)
            poses[offer.mine.id] = _with(now, offer.theirs, offer.parts)
        elif offer.theirs is not None:
            poses[offer.theirs.id] = offer.theirs
        elif offer.mine is not None:
            poses.pop(offer.mine.id, None)
    known = {own.name for own in routine.own_poses}
    used = {placed.pose for placed in poses.values()}
    own = [o for o in theirs.routine.own_poses if o.name not in known and o.name in used]
    taken = replace(
        routine,
        poses=tuple(sorted(poses.values(), key=lambda p: beatmap.time_of(p.hit))),
        own_poses=tuple(sorted([*routine.own_poses, *own], key=lambda o: o.name)),
    )
    for offer in chosen:
        if offer.item is not None:
            taken = _put(taken, beatmap, offer.item, offer.parts)
    return _own_ids(_with_own_moves(taken, theirs.routine))


def _with_own_moves(routine: Routine, theirs: Routine) -> Routine:
    """Own moves of theirs that are done now come along."""
    known = {plain(own.name) for own in routine.own_moves}
    used = {m.move for moves in (routine.exit, *(p.moves for p in routine.poses)) for m in moves}
    own = [o for o in theirs.own_moves if o.name in used and plain(o.name) not in known]
    if not own:
        return routine
    return replace(
        routine, own_moves=tuple(sorted([*routine.own_moves, *own], key=lambda o: o.name))
    )


def _own_ids(routine: Routine) -> Routine:
    """No two moves share an id: one taken over may have stood elsewhere in mine."""
    seen: set[str] = set()

    def own(moves: tuple[Move, ...]) -> tuple[Move, ...]:
        kept = tuple(replace(m, id=new_id()) if m.id in seen else m for m in moves)
        seen.update(m.id for m in kept)
        return kept

    poses = tuple(replace(p, moves=own(p.moves)) if p.moves else p for p in routine.poses)
    return replace(routine, poses=poses, exit=own(routine.exit))


def _put(routine: Routine, beatmap: BeatMap, item: MergeItem, parts: Part) -> Routine:
    now = item_in(routine, item)
    if parts and now is not None:
        item = replace(item, old=now, new=_with(now, item.new, parts))
    return put_item(routine, beatmap, item)


def import_files(
    routine: Routine, folder: Path, theirs: OpenedFolder, mine: Routine | None = None
) -> Routine:
    """Copy from the other folder what `routine` now needs of it: pictures and its rule set.

    Args:
        routine: with what was taken over. folder: mine. mine: the routine before.

    Returns:
        `routine`; a photo that came along and is called as another one of mine has another name.

    Raises:
        UserError: the folder cannot be written.
    """
    before = {*mine.pictures} if mine else set()

    def brought(picture: str, name: str) -> str:
        came = mine is not None and (picture, name) not in before
        return import_photo(picture, theirs.folder, folder) if came else picture

    own = tuple(replace(o, picture=brought(o.picture, o.name)) for o in routine.own_poses)
    own_moves = tuple(
        replace(o, pictures=tuple(brought(picture, o.name) for picture in o.pictures))
        for o in routine.own_moves
    )
    routine = replace(routine, own_poses=own, own_moves=own_moves)
    import_photos((picture for picture, _unused in routine.pictures), theirs.folder, folder)
    import_rules(routine.rules, theirs.folder, folder)
    return routine


def on_my_map(theirs: OpenedFolder, mine: Routine, beatmap: BeatMap) -> Routine:
    """Their routine with its counts written for my map of the song, or of my cut of it.

    Raises:
        UserError: theirs is made to another song.
    """
    if theirs.beatmap.track_hash != beatmap.track_hash:
        followed = on_music_of(mine, beatmap, theirs.routine, theirs.beatmap)
        if followed is not None:
            return followed
        raise UserError(
            _("this copy is made to another song"),
            where=theirs.folder,
            do=_("choose a copy of yours"),
        )
    return remap(theirs.routine, theirs.beatmap, beatmap)


def common_save(
    mine: Path, theirs: Path, beatmap: BeatMap, routine: Routine | None = None
) -> Routine | None:
    """The newest save that both folders hold, read against `beatmap`; None when there is none.

    Args:
        routine: mine as it is now; a save on another cut of its song follows onto its music.
    """
    return find_save(mine, set(_saves(theirs)).__contains__, beatmap, routine)


def find_save(
    folder: Path, wanted: Callable[[bytes], bool], beatmap: BeatMap, routine: Routine | None
) -> Routine | None:
    """The newest save that is `wanted`, read against `beatmap`; None when there is none.

    Args:
        wanted: tells it by the bytes of its file. routine: as it is now; a save on another cut of
            its song follows onto its music.
    """
    for data in filter(wanted, _saves(folder)):
        with contextlib.suppress(UserError):
            save, its_map = read_save(parse_yaml(data, folder / ROUTINE), folder, beatmap)
            if its_map is beatmap:
                return save
            return on_music_of(routine, beatmap, save, its_map) if routine else None
    return None


def _saves(folder: Path) -> Iterator[bytes]:
    """The present routine and its earlier saves, newest first; one that cannot be read is none."""
    for path in (folder / ROUTINE, *(version.path for version in list_versions(folder))):
        with contextlib.suppress(UserError):
            yield read_file(path, MAX_BYTES)


def _text(mine: Placed | None, theirs: Placed | None) -> str:
    if mine is None or theirs is None:
        return _one_sided(mine, theirs)
    words = list(changes(mine, theirs))
    if mine.hit != theirs.hit:
        words.insert(0, _("moved from {hit} to {hit2}", hit=mine.hit, hit2=theirs.hit))
    return (
        f"{mine.pose} {', '.join(words)}" if len(words) == 1 else f"{mine.pose}: {', '.join(words)}"
    )


def _one_sided(mine: Placed | None, theirs: Placed | None) -> str:
    if theirs is not None:
        return _("{pose} added at {hit}", pose=shown(theirs.pose), hit=theirs.hit)
    return (
        _("{pose} taken out at {hit}", pose=shown(mine.pose), hit=mine.hit)
        if mine is not None
        else ""
    )
