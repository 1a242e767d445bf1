"""Reads `poses.yaml`: every pose with its figure, and every fault of the file at once."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from rehearse.files.fault import Fault, FaultList, Faults
from rehearse.files.yamlfile import Document, Key, load_yaml
from rehearse.routine import bones
from rehearse.routine.bones import Figure, Limb, mirrored
from rehearse.routine.model import Facing, Level
from rehearse.routine.pose import LEGS_OF, Pose

FORMAT = 1
_AMOUNTS = (
    *("lean", "hips", "bend", "side", "twist", "nod", "tilt", "look"),
    *("shrug", "lats", "hollow"),
)
_WORDS = {
    *("name", "kind", "facing", "level", "of", "angle", "synonyms", "say", "legs"),
    *("arms", "left arm", "right arm"),
    *_AMOUNTS,
}
_MIRROR = {"name", "mirror", "synonyms", "say"}
_OPPOSITE = {"": "", "left": "right", "right": "left"}


def read_poses(path: Path) -> tuple[Pose, ...]:
    """All poses of a pose file, in its order.

    Raises:
        Fault: the file cannot be read, or is of a newer format.
        Faults: some of its entries are wrong; each with its line.
    """
    document = load_yaml(path)
    if not isinstance(document.data, dict) or document.data.get("format") != FORMAT:
        raise Fault(
            "is not a pose file of format 1",
            where=path.name,
            do="take the one that came with the program",
        )
    reader = _Reader(document)
    poses = tuple(reader.poses())
    if reader.faults:
        raise Faults(reader.faults)
    legs = {
        level: (pose.figure.left_leg, pose.figure.right_leg)
        for level, name in LEGS_OF.items()
        if (pose := reader.known.get(name)) is not None
    }
    return tuple(replace(pose, legs=legs) for pose in poses)


class _Reader:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.faults = FaultList()
        self.known: dict[str, Pose] = {}

    def poses(self) -> Iterator[Pose]:
        """Every sound pose; the faults of the others are kept."""
        for index, entry in enumerate(self.document.data.get("poses") or ()):
            try:
                pose = self._pose(entry)
                if pose.name in self.known:
                    raise ValueError(f"has the name {pose.name!r} twice")
            except KeyError as error:
                self._fault(f"lacks {error.args[0]!r}", index)
            except (AttributeError, TypeError):
                self._fault("is not written like the others", index)
            except ValueError as error:
                self._fault(str(error), index)
            else:
                self.known[pose.name] = pose
                yield pose

    def _fault(self, what: str, index: Key) -> None:
        where = self.document.where("poses", index)
        self.faults.append(Fault(what, where=where, do="mend that pose"))

    def _pose(self, entry: Mapping[str, Any]) -> Pose:
        if "mirror" in entry:
            _only(entry, _MIRROR)
            return self._mirrored(entry)
        _only(entry, _WORDS)
        facing = Facing(_one_of(entry["facing"], tuple(Facing)))
        turn = facing.turned + float(entry.get("angle", 0))
        return Pose(
            name=str(entry["name"]),
            facing=facing,
            level=Level(_one_of(entry.get("level", "standing"), tuple(Level))),
            side=_one_of(entry.get("of", ""), tuple(_OPPOSITE)),
            kind=_one_of(entry.get("kind", "free"), ("free", "mandatory")),
            synonyms=tuple(str(s) for s in entry.get("synonyms", ())),
            say=str(entry.get("say") or entry["name"]),
            figure=self._figure(entry, turn % 360),
        )

    def _mirrored(self, entry: Mapping[str, Any]) -> Pose:
        if entry["mirror"] not in self.known:
            raise ValueError(f"mirrors {entry['mirror']!r}, which is not above it")
        other = self.known[entry["mirror"]]
        return Pose(
            name=str(entry["name"]),
            facing=other.facing.other_side,
            level=other.level,
            side=_OPPOSITE[other.side],
            kind=other.kind,
            synonyms=tuple(str(s) for s in entry.get("synonyms", ())),
            say=str(entry.get("say") or entry["name"]),
            figure=mirrored(other.figure),
        )

    def _figure(self, entry: Mapping[str, Any], turn: float) -> Figure:
        amounts: dict[str, Any] = {name: float(entry[name]) for name in _AMOUNTS if name in entry}
        both = entry.get("arms")
        if entry["legs"] not in self.document.data["legs"]:
            raise ValueError(f"stands on the unknown legs {entry['legs']!r}")
        stance = self.document.data["legs"][entry["legs"]]
        pelvis = (amounts.get("lean", 0.0), amounts.get("hips", 0.0))
        limbs: dict[str, Any] = {
            "left_arm": _arm(entry.get("left arm", both), amounts.get("shrug", 0.0)),
            "right_arm": _arm(entry.get("right arm", both), amounts.get("shrug", 0.0)),
            "left_leg": _leg(stance["left"], float(stance["hips"]), pelvis, 1.0),
            "right_leg": _leg(stance["right"], float(stance["hips"]), pelvis, -1.0),
        }
        return Figure(turn=turn, **amounts, **limbs)


def _only(entry: Mapping[str, Any], known: set[str]) -> None:
    for key in entry:
        if key not in known:
            raise ValueError(f"has the unknown word {key!r}")


def _one_of(value: Any, allowed: Sequence[str]) -> str:
    if value not in allowed:
        raise ValueError(
            f"has {value!r} where only {', '.join(a or 'nothing' for a in allowed)} fit"
        )
    return str(value)


def _arm(spec: Any, shrug: float) -> Limb:
    if "upper" in spec:
        upper, lower = bones.direction(*spec["upper"]), bones.direction(*spec["lower"])
    else:
        x, y, z = bones.SHOULDER
        root = (x, y + 0.022 * shrug, z)
        upper, lower = bones.reach(
            root, _triple(spec["hand"]), _triple(spec["elbow"]), bones.UPPER_ARM, bones.FOREARM
        )
    end = bones.direction(*spec["palm"]) if "palm" in spec else lower
    return Limb(upper, lower, end, float(spec.get("grip", 1.0)))


def _leg(spec: Mapping[str, Any], height: float, pelvis: tuple[float, float], sign: float) -> Limb:
    """A leg from its hip, which the pelvis tips forward and to the left, to its foot."""
    out, up, ahead = bones.HIP
    forward, left = (math.radians(angle) for angle in pelvis)
    x = math.cos(left) * sign * out + math.sin(left) * up
    y = math.cos(left) * up - math.sin(left) * sign * out
    rise, depth = math.cos(forward), math.sin(forward)
    root = (sign * x, rise * y - depth * ahead + height, depth * y + rise * ahead)
    upper, lower = bones.reach(
        root, _triple(spec["foot"]), _triple(spec["knee"]), bones.THIGH, bones.SHIN
    )
    end = bones.direction(*spec["toes"]) if "toes" in spec else bones.AHEAD
    return Limb(upper, lower, end, 0.0)


def _triple(values: Any) -> bones.Vector:
    if len(values) != 3 or not all(math.isfinite(float(v)) for v in values):
        raise ValueError(f"has {values!r} where a place [out, up, ahead] belongs")
    return (float(values[0]), float(values[1]), float(values[2]))
