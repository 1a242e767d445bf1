"""Edits of what stands above the poses: title, show, rules, stage part, own poses and moves."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from rehearse.files.mapping_reader import iso_date
from rehearse.files.user_error import UserError, halves
from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Move, OwnMove, OwnPose, Routine, StagePart
from rehearse.routine.poses import plain
from rehearse.words import _

_TEXTS = {
    *("title", "track", "show", "division", "show_date", "rules"),
    *("figure", "dress", "skin"),
}


def describe(routine: Routine, **texts: Any) -> Routine:
    """Change title, track, show, division, show_date, rules, figure, dress or skin.

    Raises:
        UserError: the date is none.
        TypeError: no such text.
    """
    if unknown := set(texts) - _TEXTS:
        raise TypeError(f"a routine has no {', '.join(sorted(unknown))}")
    if date := texts.get("show_date"):
        try:
            texts["show_date"] = iso_date(date)
        except ValueError as error:
            what, do = halves(error)
            raise UserError(what, do=do) from error
    return replace(routine, **texts)


def set_stage(routine: Routine, beatmap: BeatMap, stage: StagePart | None) -> Routine:
    """Choose the part of the track used on stage; None: all of it. Times to the millisecond.

    Raises:
        UserError: it has no length or leaves the track.
    """
    if stage is None:
        return replace(routine, stage=None)
    values = (stage.start, stage.end, stage.fade_in, stage.fade_out)
    new = StagePart(*(round(max(0.0, value), 3) for value in values))
    if not new.start < new.end <= beatmap.duration + 0.001:
        raise UserError(
            _("the stage part must lie inside the music"),
            do=_("choose a start before its end, in it"),
        )
    return replace(routine, stage=new)


def add_own(routine: Routine, own: OwnPose) -> Routine:
    """Add an own pose, or replace the one of that name.

    Raises:
        UserError: it has no name.
    """
    if not plain(own.name):
        raise UserError(_("the pose has no name"), do=_("write what you call it"))
    own = replace(own, name=own.name.strip())
    rest = [o for o in routine.own_poses if plain(o.name) != plain(own.name)]
    return replace(routine, own_poses=tuple(sorted([*rest, own], key=lambda o: o.name)))


def change_own(routine: Routine, own: str, /, **changes: Any) -> Routine:
    """Change an own pose; under a new name it keeps its places in the routine.

    Raises:
        KeyError: there is none of that name.
        UserError: the new name is empty, or another own pose or one in the routine has it.
    """
    old = next((o for o in routine.own_poses if o.name == own), None)
    if old is None:
        raise KeyError(own)
    new = replace(old, **changes)
    new = replace(new, name=new.name.strip())
    others = {o.name for o in routine.own_poses} | {p.pose for p in routine.poses}
    if plain(new.name) in {plain(name) for name in others - {own}}:
        raise UserError(
            _("there is already a pose called {name}", name=new.name), do=_("choose another name")
        )
    poses = tuple(replace(p, pose=new.name) if p.pose == own else p for p in routine.poses)
    rest = tuple(o for o in routine.own_poses if o.name != own)
    return add_own(replace(routine, own_poses=rest, poses=poses), new)


def remove_own(routine: Routine, name: str) -> Routine:
    """Take an own pose out.

    Raises:
        UserError: the routine still shows it.
    """
    if any(p.pose == name for p in routine.poses):
        raise UserError(
            _("{name} is still in the routine", name=name), do=_("delete it from the routine first")
        )
    return replace(routine, own_poses=tuple(o for o in routine.own_poses if o.name != name))


def add_own_move(routine: Routine, own: OwnMove) -> Routine:
    """Add an own move, or replace the one of that name.

    Raises:
        UserError: it has no name.
    """
    if not plain(own.name):
        raise UserError(_("the move has no name"), do=_("write what you call it"))
    own = replace(own, name=own.name.strip())
    rest = [o for o in routine.own_moves if plain(o.name) != plain(own.name)]
    return replace(routine, own_moves=tuple(sorted([*rest, own], key=lambda o: o.name)))


def change_own_move(routine: Routine, own: str, /, **changes: Any) -> Routine:
    """Change an own move; under a new name it keeps its places in the routine.

    Raises:
        KeyError: there is none of that name.
        UserError: the new name is empty, or another own move has it.
    """
    old = next((o for o in routine.own_moves if o.name == own), None)
    if old is None:
        raise KeyError(own)
    new = replace(old, **changes)
    new = replace(new, name=new.name.strip())
    others = {plain(o.name) for o in routine.own_moves if o.name != own}
    if plain(new.name) in others:
        raise UserError(
            _("there is already a move called {name}", name=new.name), do=_("choose another name")
        )

    def renamed(moves: tuple[Move, ...]) -> tuple[Move, ...]:
        return tuple(replace(m, move=new.name) if m.move == own else m for m in moves)

    poses = tuple(replace(p, moves=renamed(p.moves)) for p in routine.poses)
    rest = tuple(o for o in routine.own_moves if o.name != own)
    changed = replace(routine, own_moves=rest, poses=poses, exit=renamed(routine.exit))
    return add_own_move(changed, new)


def remove_own_move(routine: Routine, name: str) -> Routine:
    """Take an own move out.

    Raises:
        UserError: the routine still has it.
    """
    if any(m.move == name for m in (*routine.exit, *(m for p in routine.poses for m in p.moves))):
        raise UserError(
            _("{name} is still in the routine", name=name), do=_("delete it from the routine first")
        )
    return replace(routine, own_moves=tuple(o for o in routine.own_moves if o.name != name))
