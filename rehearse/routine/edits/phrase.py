"""Edits of several poses as one: copy them elsewhere, mirror them, show them once more, move them.

A phrase keeps the counts from its first hit to each of its others, so that what was worked out
for one eight can be danced in another. Where no beat joins two hits, seconds are kept.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, Position
from rehearse.routine.accent_pins import is_pinned, nearest_places
from rehearse.routine.edits.fitting import fit
from rehearse.routine.edits.move_edits import OTHER, mirrored_move
from rehearse.routine.edits.order import make_room, shift_after
from rehearse.routine.edits.pose_edits import hit_at, move_by, move_to, moved, ordered
from rehearse.routine.edits.section_edits import add_section
from rehearse.routine.model import Place, Placed, Routine, Section, new_id
from rehearse.routine.poses import Catalogue
from rehearse.routine.snapping import Snap, snap
from rehearse.words import MIRRORED_END, _, ngettext, shown

#: Hits nearer than this are the same, and less than this is no overlap, in seconds.
_SAME = 0.02
_SWAPPED = {"left": "right", "right": "left"}
_SWAPPED |= {shown(word): shown(other) for word, other in _SWAPPED.items()}


@dataclass(frozen=True)
class Phrase:
    """Poses taken up to be put elsewhere.

    Args:
        poses: as they were. offsets: from the first hit to each of theirs.
        section: name of the section they are, or empty; `before`, `after`: from its start to the
            first hit and from there to its end.
    """

    poses: tuple[Placed, ...]
    offsets: tuple[Length, ...]
    section: str = ""
    before: Length = field(default_factory=lambda: Length(0.0))
    after: Length = field(default_factory=lambda: Length(0.0))


def copy(
    routine: Routine, beatmap: BeatMap, pose_ids: Iterable[str], section: Section | None = None
) -> Phrase:
    """Take poses up, with the section they make when it is given; `routine` stays as it is."""
    chosen = set(pose_ids)
    poses = tuple(p for p in routine.poses if p.id in chosen)
    first = beatmap.time_of(poses[0].hit)
    offsets = tuple(_from(beatmap, first, beatmap.time_of(p.hit)) for p in poses)
    if section is None:
        return Phrase(poses, offsets)
    start, end = beatmap.time_of(section.start), beatmap.time_of(section.end)
    before, after = _from(beatmap, start, first), _from(beatmap, first, end)
    return Phrase(poses, offsets, section.name, before, after)


def mirrored(phrase: Phrase, catalogue: Catalogue) -> Phrase:
    """The phrase as a mirror shows it: the other side's poses, left facings to the right."""
    poses = tuple(_mirrored(placed, catalogue) for placed in phrase.poses)
    section = phrase.section + MIRRORED_END if phrase.section else ""
    return replace(phrase, poses=poses, section=section)


def _mirrored(placed: Placed, catalogue: Catalogue) -> Placed:
    pose = catalogue.find(placed.pose)
    facing = (placed.facing or pose.facing).other_side
    name = placed.pose
    try:
        other = catalogue.find(_swapped(pose.name))
        name = other.name
    except KeyError:  # an own pose of one side
        other = pose
    own = None if facing is other.facing else facing
    return replace(
        placed,
        pose=name,
        facing=own,
        say=_swapped(placed.say),
        turn=OTHER[placed.turn],
        place=Place(_swapped(placed.place)) if placed.place else None,
        moves=tuple(mirrored_move(move) for move in placed.moves),
    )


def _swapped(text: str) -> str:
    return re.sub(rf"\b({'|'.join(_SWAPPED)})\b", lambda found: _SWAPPED[found[0]], text)


def in_the_way(
    routine: Routine, beatmap: BeatMap, phrase: Phrase, at: Position
) -> tuple[Placed, ...]:
    """Poses hit where the phrase would be, from its first hit to a count after its last."""
    first = beatmap.time_of(at)
    last = beatmap.shift(first, phrase.offsets[-1])
    end = beatmap.shift(last, Length(1.0))
    return tuple(p for p in routine.poses if first - _SAME <= beatmap.time_of(p.hit) < end - _SAME)


def paste(
    routine: Routine,
    beatmap: BeatMap,
    phrase: Phrase,
    at: Position,
    *,
    pose_ids: Sequence[str] = (),
    instead: bool = False,
) -> Routine:
    """Put a phrase with its first hit at `at`; no other hit moves.

    Holds and transitions of the neighbours before and after it make room.

    Args:
        pose_ids: ids of the new poses; empty: random ones.
        instead: take out what is hit there.

    Raises:
        UserError: other poses are hit there, or it would go on past the end of the music.
    """
    there = in_the_way(routine, beatmap, phrase, at)
    if there and not instead:
        many = ngettext("1 pose is", "{number} poses are", len(there), number=len(there))
        raise UserError(
            _("{many} hit there", many=many), do=_("choose another place, or delete them")
        )
    first = beatmap.time_of(at)
    if beatmap.shift(first, phrase.offsets[-1]) > beatmap.duration - _SAME:
        raise UserError(
            _("the copy would go on past the end of the music"), do=_("choose an earlier place")
        )
    ids = tuple(pose_ids) or tuple(new_id() for _unused in phrase.poses)
    new = tuple(
        _put(beatmap, placed, name, moved(beatmap, at, offset) if k else at)
        for k, (placed, name, offset) in enumerate(
            zip(phrase.poses, ids, phrase.offsets, strict=True)
        )
    )
    gone = {p.id for p in there}
    kept = tuple(p for p in routine.poses if p.id not in gone)
    put = ordered(routine, beatmap, (*kept, *new))
    put = fit(put, beatmap, ids[0], after=False)
    put = fit(put, beatmap, ids[-1], before=False)
    return _with_section(put, beatmap, phrase, first) if phrase.section else put


def _put(beatmap: BeatMap, placed: Placed, name: str, hit: Position) -> Placed:
    moves = tuple(replace(move, id=new_id()) for move in placed.moves)
    return replace(hit_at(beatmap, placed, hit), id=name, pinned=None, moves=moves)


def _with_section(routine: Routine, beatmap: BeatMap, phrase: Phrase, first: float) -> Routine:
    known, name, number = {s.name for s in routine.sections}, phrase.section, 1
    while name in known:
        number += 1
        name = f"{phrase.section} {number}"
    back = Length(-phrase.before.value, phrase.before.in_counts)
    start = snap(beatmap, beatmap.shift(first, back), Snap.QUARTERS)
    end = snap(beatmap, beatmap.shift(first, phrase.after), Snap.QUARTERS)
    return add_section(routine, beatmap, name, start, end)


def duplicate(
    routine: Routine,
    beatmap: BeatMap,
    pose_ids: Iterable[str],
    new: Sequence[str] = (),
    *,
    pins: bool = True,
) -> Routine:
    """Show the poses once more, as soon as the last hold is over and the transition made again.

    What follows moves on as far as the copy needs; see `insert` for `pins`.

    Args:
        new: ids of the new poses; empty: random ones.

    Raises:
        UserError: the music ends before, or what is pinned leaves no room.
    """
    phrase = copy(routine, beatmap, pose_ids)
    end = max(p.times(beatmap)[2] for p in phrase.poses)
    at = snap(beatmap, beatmap.shift(end, phrase.poses[0].transition), Snap.QUARTERS)
    index = routine.poses.index(phrase.poses[-1]) + 1
    after = routine.poses[index] if index < len(routine.poses) else None
    if after is not None:
        copied = beatmap.shift(beatmap.time_of(at), phrase.offsets[-1])
        over = beatmap.shift(copied, phrase.poses[-1].hold) - after.times(beatmap)[0]
        if over > _SAME and not (pins and is_pinned(after, beatmap)):
            make = make_room if pins else shift_after
            routine = make(routine, beatmap, after.hit, _at_least(beatmap, after, over))
        after = routine.placed(after.id)
        if beatmap.time_of(after.hit) < beatmap.shift(copied, Length(1.0)) - _SAME:
            raise UserError(
                _(
                    "{pose} is pinned at {hit} and leaves no room",
                    pose=shown(after.pose),
                    hit=after.hit,
                ),
                do=_("copy it to another place"),
            )
    return paste(routine, beatmap, phrase, at, pose_ids=new)


def _at_least(beatmap: BeatMap, placed: Placed, seconds: float) -> Length:
    """Seconds before a pose as half counts, rounded up, or as seconds in free time."""
    index = beatmap.beat_at(beatmap.time_of(placed.hit))
    if index is None:
        return Length(math.ceil(seconds * 100) / 100, in_counts=False)
    return Length(math.ceil(seconds / beatmap.interval(index) * 2 - 1e-6) / 2)


def eight_at(beatmap: BeatMap, time: float) -> Length:
    """An eight there: eight counts, six where a bar has three (see `BeatMap.counts`)."""
    index = beatmap.nearest(time)
    if index < 0:
        return Length(8.0)
    first, last = next(run for run in beatmap.runs if run[0] <= index < run[1])
    return Length(6.0 if max(beatmap.places[first:last]) in (3, 6) else 8.0)


def move_all(routine: Routine, beatmap: BeatMap, pose_ids: Iterable[str], by: Length) -> Routine:
    """Hit poses later by `by` (earlier when negative), all by the same, none beyond the music.

    Raises:
        UserError: one of them would be hit outside the music.
    """
    ids = tuple(pose_ids)
    for pose_id in ids:
        placed = routine.placed(pose_id)
        target = beatmap.shift(beatmap.time_of(placed.hit), by)
        if not -_SAME <= target <= beatmap.duration - _SAME:
            when = _("before the music begins") if by.value < 0 else _("when the music is over")
            raise UserError(
                _("{pose} would be hit {when}", pose=shown(placed.pose), when=when),
                do=_("move by less"),
            )
    for pose_id in ids:
        routine = move_by(routine, beatmap, pose_id, by)
    return routine


def onto_accents(routine: Routine, beatmap: BeatMap, pose_ids: Iterable[str]) -> Routine:
    """Hit each of the poses on the accent nearest to it, as far as there is one for each.

    See `accents.nearest_places`: none goes past another pose. Lengths stay, but where a hold
    would go on into the next hit.
    """
    for pose_id, position in nearest_places(routine, beatmap, pose_ids).items():
        routine = move_to(routine, beatmap, pose_id, position)
        if _is_held_into_a_hit(routine, beatmap, pose_id):
            routine = fit(routine, beatmap, pose_id)
    return routine


def _is_held_into_a_hit(routine: Routine, beatmap: BeatMap, pose_id: str) -> bool:
    index = [p.id for p in routine.poses].index(pose_id)
    near = routine.poses[max(0, index - 1) : index + 2]
    times = [p.times(beatmap) for p in near]
    return any(one[2] > other[1] + _SAME for one, other in itertools.pairwise(times))


def _from(beatmap: BeatMap, start: float, end: float) -> Length:
    counts = beatmap.counts_between(*sorted((start, end)))
    if counts is None:
        return Length(round(end - start, 3), in_counts=False)
    return Length(math.copysign(round(counts * 4) / 4, end - start))
