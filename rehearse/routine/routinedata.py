"""A routine as the plain data of `routine.yaml`, in the order it is written."""

from __future__ import annotations

from typing import Any

from rehearse.music.position import Seconds
from rehearse.routine.cutfile import cut_data
from rehearse.routine.model import (
    FIGURES,
    FORMAT,
    SKINS,
    Move,
    OwnMove,
    OwnPose,
    Placed,
    Routine,
    Section,
)

_STAGE = ("start", "end", "fade_in", "fade_out")


def routine_data(routine: Routine, beats: str = "") -> dict[str, Any]:
    """Plain data of `routine`; what is empty is left out.

    Args:
        routine: any routine.
        beats: `versions.fingerprint` of the map its counts mean, when known.
    """
    data: dict[str, Any] = {"format": FORMAT, "title": routine.title}
    if routine.track:
        data["track"] = routine.track
    if routine.id:
        data["id"] = routine.id
    for name in ("show", "division", "show_date", "rules"):
        if value := getattr(routine, name):
            data[name] = value
    if beats:
        data["beats"] = beats
    if routine.stage:
        data["stage"] = {name: str(Seconds(getattr(routine.stage, name))) for name in _STAGE}
    if routine.cut:
        data["cut"] = cut_data(routine.cut)
    for name, meant in (("figure", FIGURES[0]), ("dress", ""), ("skin", SKINS[0])):
        if (value := getattr(routine, name)) != meant:
            data[name] = value
    data["poses"] = [_placed_data(p) for p in routine.poses]
    if routine.exit:
        data["exit"] = [_move_data(m) for m in routine.exit]
    if routine.sections:
        data["sections"] = [_section_data(s) for s in routine.sections]
    if routine.aside:
        poses = [_placed_data(p) for p in routine.aside.poses]
        sections = [_section_data(s) for s in routine.aside.sections]
        kept = {"poses": poses, "sections": sections}
        data["set_aside"] = {name: items for name, items in kept.items() if items}
    if routine.own_poses:
        data["own_poses"] = [_own_data(o) for o in routine.own_poses]
    if routine.own_moves:
        data["own_moves"] = [_own_move_data(o) for o in routine.own_moves]
    return data


def _section_data(section: Section) -> dict[str, str]:
    ends = {"start": str(section.start), "end": str(section.end)}
    return {"id": section.id, "name": section.name, **ends}


def _placed_data(placed: Placed) -> dict[str, Any]:
    data: dict[str, Any] = {
        "id": placed.id,
        "pose": placed.pose,
        "hit": str(placed.hit),
        "hold": str(placed.hold),
        "transition": str(placed.transition),
    }
    for name in ("facing", "level", "turn", "place", "note", "say"):
        if value := getattr(placed, name):
            data[name] = str(value)
    if placed.pinned is not None:
        data["pinned"] = placed.pinned
    if placed.moves:
        data["moves"] = [_move_data(m) for m in placed.moves]
    if placed.again:
        data["again"] = [str(position) for position in placed.again]
    return data


def _move_data(move: Move) -> dict[str, str]:
    data = {"id": move.id, "move": move.move, "length": str(move.length)}
    for name in ("side", "direction", "note"):
        if value := getattr(move, name):
            data[name] = str(value)
    return data


def _own_data(own: OwnPose) -> dict[str, str]:
    data = {"name": own.name, "facing": str(own.facing), "level": str(own.level)}
    for name in ("picture", "say"):
        if value := getattr(own, name):
            data[name] = value
    return data


def _own_move_data(own: OwnMove) -> dict[str, Any]:
    data: dict[str, Any] = {"name": own.name}
    if own.pictures:
        data["pictures"] = list(own.pictures)
    if own.say:
        data["say"] = own.say
    return data
