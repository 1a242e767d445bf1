"""A phrase danced in other counts: twice as slow, twice as fast, eight counts in six."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import replace

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, Position
from rehearse.routine.edits.fitting import fit
from rehearse.routine.edits.phrase import copy
from rehearse.routine.edits.pose_edits import moved, ordered, tidy
from rehearse.routine.model import Placed, Routine
from rehearse.words import _, shown

#: The shortest a hit, a hold, a transition or a move of a phrase becomes, in counts.
_LEAST = 0.25
_SAME = 0.02


def counts_of(routine: Routine, beatmap: BeatMap, pose_ids: Iterable[str]) -> float:
    """Counts from the first hit of these poses to the end of their last hold.

    Raises:
        UserError: free time lies between, where nothing can be counted.
    """
    poses = _poses(routine, pose_ids)
    start, end = beatmap.time_of(poses[0].hit), poses[-1].times(beatmap)[2]
    counts = beatmap.counts_between(start, end)
    if counts is None:
        raise UserError(
            _("music without counts lies between these poses"),
            do=_("choose poses that are on counts"),
        )
    return round(counts * 4) / 4


def stretch(routine: Routine, beatmap: BeatMap, pose_ids: Iterable[str], counts: float) -> Routine:
    """Dance a phrase in `counts` counts; its first hit stays, no other pose moves.

    Hits, holds, what is hit again, and the transitions and moves between the poses are longer or
    shorter by one factor, in quarters of a count. Lengths in seconds stay in seconds.

    Args:
        pose_ids: of poses that follow each other. counts: see `counts_of`.

    Raises:
        UserError: there is no room, or less than a quarter of a count would be left between hits.
    """
    poses = _poses(routine, pose_ids)
    now = counts_of(routine, beatmap, (p.id for p in poses))
    if not 0 < counts <= 512 or not now:
        raise UserError(
            _("a phrase cannot be danced in {counts:g} counts", counts=counts),
            do=_("write 1 to 512 counts"),
        )
    factor = counts / now
    offsets = copy(routine, beatmap, (p.id for p in poses)).offsets
    hits = [round(offset.value * factor * 4) / 4 for offset in offsets]
    if any(b - a < _LEAST for a, b in itertools.pairwise(hits)):
        raise UserError(_("two poses would be hit on one count"), do=_("choose more counts"))
    new = {
        old.id: _stretched(
            beatmap, old, moved(beatmap, poses[0].hit, Length(hit)), factor, first=not k
        )
        for k, (old, hit) in enumerate(zip(poses, hits, strict=True))
    }
    _check_room(routine, beatmap, poses, new[poses[-1].id])
    put = ordered(routine, beatmap, tuple(new.get(p.id, p) for p in routine.poses))
    return fit(put, beatmap, poses[-1].id, before=False)


def _poses(routine: Routine, pose_ids: Iterable[str]) -> tuple[Placed, ...]:
    chosen = set(pose_ids)
    places = [k for k, p in enumerate(routine.poses) if p.id in chosen]
    if not places:
        raise UserError(_("no pose is chosen"), do=_("choose the poses of the phrase"))
    if places[-1] - places[0] >= len(places):
        raise UserError(_("other poses lie between the chosen ones"), do=_("choose poses in a row"))
    return routine.poses[places[0] : places[-1] + 1]


def _stretched(
    beatmap: BeatMap, old: Placed, hit: Position, factor: float, *, first: bool
) -> Placed:
    """One pose of the phrase; the way into the first one lies before it and stays."""
    was = beatmap.time_of(old.hit)
    again = []
    for position in old.again:
        counts = beatmap.counts_between(was, beatmap.time_of(position))
        if counts is not None:
            again.append(moved(beatmap, hit, Length(max(_LEAST, round(counts * factor * 4) / 4))))
    new = replace(old, hit=hit, hold=_scaled(old.hold, factor), again=tuple(dict.fromkeys(again)))
    if first:
        return new
    moves = tuple(replace(m, length=_scaled(m.length, factor)) for m in old.moves)
    return replace(new, transition=_scaled(old.transition, factor), moves=moves)


def _scaled(length: Length, factor: float) -> Length:
    scaled = tidy(Length(length.value * factor, length.in_counts))
    if length.value > 0 and length.in_counts:
        return Length(max(_LEAST, scaled.value))
    return scaled


def _check_room(
    routine: Routine, beatmap: BeatMap, poses: tuple[Placed, ...], last: Placed
) -> None:
    index = routine.poses.index(poses[-1]) + 1
    end = last.times(beatmap)[2]
    if index < len(routine.poses):
        after = routine.poses[index]
        if (
            beatmap.shift(beatmap.time_of(last.hit), Length(1.0))
            > beatmap.time_of(after.hit) + _SAME
        ):
            raise UserError(
                _("{pose}, hit at {hit}, leaves no room", pose=shown(after.pose), hit=after.hit),
                do=_("choose fewer counts, or move it first"),
            )
    if end > beatmap.duration + _SAME:
        raise UserError(_("it would go on past the end of the music"), do=_("choose fewer counts"))
