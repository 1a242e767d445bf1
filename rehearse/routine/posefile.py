"""Reads `poses.yaml`: every pose with its figure, and every fault of the file at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from rehearse.files.fault import Fault, Faults
from rehearse.files.yamlfile import Document, Key, load_yaml
from rehearse.routine import figure as body
from rehearse.routine.figure import AHEAD, Figure, Limb, Vector
from rehearse.routine.model import Facing, Level
from rehearse.routine.poses import QUARTER_TURNS, Pose

FORMAT = 1
_ANGLES = {
    "lean": "lean",
    "hips": "hips",
    "bend": "bend",
    "side_bend": "side",
    "twist": "twist",
    "nod": "nod",
    "tilt": "tilt",
    "look": "look",
    "shrug": "shrug",
    "lats": "lats",
    "hollow": "hollow",
}
_WORDS = {"name", "kind", "facing", "level", "side", "angle", "synonyms", "say", "legs"}
_ARMS = {"arms", "left arm", "right arm"}
_MIRROR = {"name", "mirror", "synonyms", "say"}
_OPPOSITE = {"": "", "left": "right", "right": "left"}
_OTHER_SIDE = {Facing.LEFT: Facing.RIGHT, Facing.RIGHT: Facing.LEFT}


def read_poses(path: Path) -> tuple[Pose, ...]:
    """All poses of a pose file, in its order.

    Raises:
        Fault: the file cannot be read, or is of a newer format.
        Faults: some of its entries are wrong; each with its line.
    """
    document = load_yaml(path)
    if not isinstance(document.data, dict) or document.data.get("format") != FORMAT:
        raise Fault("is not a pose file of format 1", where=path.name, do="install again")
    reader = _Reader(document)
    poses = tuple(reader.poses())
    if reader.faults:
        raise Faults(reader.faults)
    return poses


class _Reader:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.faults: list[Fault] = []
        self.known: dict[str, Pose] = {}

    def poses(self) -> Iterator[Pose]:
        for index, entry in enumerate(self.document.data.get("poses") or ()):
            try:
                pose = self._pose(entry)
            except (KeyError, TypeError, ValueError) as error:
                what = error.args[0] if error.args else error
                self._fault(f"has no usable {what}", "poses", index)
                continue
            if pose.name in self.known:
                self._fault(f"has {pose.name!r} twice", "poses", index)
                continue
            self.known[pose.name] = pose
            yield pose

    def _fault(self, what: str, *keys: Key) -> None:
        self.faults.append(Fault(what, where=self.document.where(*keys), do="mend that entry"))

    def _pose(self, entry: Mapping[str, Any]) -> Pose:
        if "mirror" in entry:
            _only(entry, _MIRROR)
            return self._mirrored(entry)
        _only(entry, _WORDS | _ARMS | set(_ANGLES))
        facing = Facing(entry["facing"])
        turn = QUARTER_TURNS.index(facing) * 90 + float(entry.get("angle", 0))
        side = entry.get("side", "")
        if side not in _OPPOSITE:
            raise ValueError("side")
        return Pose(
            name=str(entry["name"]),
            facing=facing,
            level=Level(entry.get("level", "standing")),
            side=side,
            kind="mandatory" if entry.get("kind") == "mandatory" else "free",
            synonyms=tuple(str(s) for s in entry.get("synonyms", ())),
            say=str(entry.get("say") or entry["name"]),
            figure=self._figure(entry, turn % 360),
        )

    def _mirrored(self, entry: Mapping[str, Any]) -> Pose:
        other = self.known[entry["mirror"]]
        return Pose(
            name=str(entry["name"]),
            facing=_OTHER_SIDE.get(other.facing, other.facing),
            level=other.level,
            side=_OPPOSITE[other.side],
            kind=other.kind,
            synonyms=tuple(str(s) for s in entry.get("synonyms", ())),
            say=str(entry.get("say") or entry["name"]),
            figure=body.mirrored(other.figure),
        )

    def _figure(self, entry: Mapping[str, Any], turn: float) -> Figure:
        amounts = {name: float(entry[key]) for key, name in _ANGLES.items() if key in entry}
        both = entry.get("arms")
        stance = self.document.data["legs"][entry["legs"]]
        pelvis = body._tipped(amounts.get("lean", 0.0), amounts.get("hips", 0.0), 0.0)
        limbs = {
            "left_arm": _arm(entry.get("left arm") or both, amounts.get("shrug", 0.0)),
            "right_arm": _arm(entry.get("right arm") or both, amounts.get("shrug", 0.0)),
            "left_leg": _leg(stance["left"], float(stance["hips"]), pelvis, 1.0),
            "right_leg": _leg(stance["right"], float(stance["hips"]), pelvis, -1.0),
        }
        return Figure(turn=turn, **amounts, **limbs)


def _only(entry: Mapping[str, Any], known: set[str]) -> None:
    for key in entry:
        if key not in known:
            raise ValueError(f"{key} (an unknown word)")


def _arm(spec: Mapping[str, Any], shrug: float) -> Limb:
    if "upper" in spec:
        upper, lower = body.direction(*spec["upper"]), body.direction(*spec["lower"])
    else:
        x, y, z = body.SHOULDER
        root = (x, y + 0.022 * shrug, z)
        upper, lower = body.reach(
            root, _triple(spec["hand"]), _triple(spec["elbow"]), body.UPPER_ARM, body.FOREARM
        )
    end = body.direction(*spec["palm"]) if "palm" in spec else lower
    return Limb(upper, lower, end, float(spec.get("grip", 1.0)))


def _leg(spec: Mapping[str, Any], height: float, pelvis: body.Array, sign: float) -> Limb:
    hip = pelvis @ body.own(body.HIP, sign)
    root = (sign * float(hip[0]), float(hip[1]) + height, float(hip[2]))
    upper, lower = body.reach(
        root, _triple(spec["foot"]), _triple(spec["knee"]), body.THIGH, body.SHIN
    )
    end = body.direction(*spec["toes"]) if "toes" in spec else AHEAD
    return Limb(upper, lower, end, 0.0)


def _triple(values: Any) -> Vector:
    x, y, z = (float(v) for v in values)
    if not np.isfinite((x, y, z)).all():
        raise ValueError("place")
    return (x, y, z)
