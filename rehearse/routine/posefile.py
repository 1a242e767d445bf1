"""Reads `poses.yaml`: every pose with its figure, and every fault of the file at once."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from rehearse.files.compiled import load_packaged
from rehearse.files.user_error import UserError, UserErrorList, UserErrors, shortened
from rehearse.files.yamlfile import Document, Key, load_yaml
from rehearse.routine import bones
from rehearse.routine.bones import Figure, Limb, mirrored
from rehearse.routine.model import Facing, Level
from rehearse.routine.pose import LEGS_OF, Pose
from rehearse.words import _

FORMAT = 1
#: Poses of a file, letters of a name, and what no angle or place goes beyond.
_MOST, _LONGEST, _FARTHEST = 2000, 200, 10_000.0
_AMOUNTS = (
    *("lean", "hips", "bend", "side", "twist", "nod", "tilt", "look"),
    *("shrug", "lats", "hollow"),
)
_WORDS = {
    *("name", "kind", "facing", "level", "of", "angle", "synonyms", "say", "legs"),
    *("arms", "left arm", "right arm", "form of"),
    *_AMOUNTS,
}
_MIRROR = {"name", "mirror", "synonyms", "say"}
_OPPOSITE = {"": "", "left": "right", "right": "left"}
KINDS = ("free", "mandatory", "presentation")
#: What a hand can hold of the other arm: how far along its forearm and its hand that is.
_HELD = {"forearm": (0.6, 0.0), "wrist": (1.0, 0.0), "hand": (1.0, 0.5)}


def read_poses(path: Path, *, packaged: bool = False) -> tuple[Pose, ...]:
    """All poses of a pose file, in its order.

    Args:
        packaged: it came with the program.

    Raises:
        UserError: the file cannot be read, or is of a newer format.
        UserErrors: some of its entries are wrong; each with its line.
    """
    document = load_packaged(path) if packaged else load_yaml(path)
    if not isinstance(document.data, dict) or document.data.get("format") != FORMAT:
        raise UserError(
            _("is not a pose file of format 1"),
            where=path.name,
            do=_("take the one that came with the program"),
        )
    reader = _PoseReader(document)
    poses = tuple(reader.poses())
    if reader.errors and packaged:
        return read_poses(path)  # with the lines
    if reader.errors:
        raise UserErrors(reader.errors)
    legs = {
        level: (pose.figure.left_leg, pose.figure.right_leg)
        for level, name in LEGS_OF.items()
        if (pose := reader.known.get(name)) is not None
    }
    return tuple(replace(pose, legs=legs) for pose in poses)


class _PoseReader:
    def __init__(self, document: Document) -> None:
        self.document = document
        self.errors = UserErrorList()
        self.known: dict[str, Pose] = {}

    def poses(self) -> Iterator[Pose]:
        """Every sound pose; the faults of the others are kept."""
        entries = self.document.data.get("poses") or []
        if not isinstance(entries, list) or len(entries) > _MOST:
            raise UserError(
                _("is not a list of at most {most:,} poses", most=_MOST),
                where=self.document.where("poses"),
                do=_("take the file that came with the program"),
            )
        for index, entry in enumerate(entries):
            try:
                pose = self._pose(entry)
                if pose.name in self.known:
                    raise ValueError(f"has the name {pose.name!r} twice")
            except KeyError as error:
                self._note_error(_("lacks {args!r}", args=error.args[0]), index)
            except (AttributeError, TypeError):
                self._note_error(_("is not written like the others"), index)
            except ZeroDivisionError:
                self._note_error(_("has a bone without a length"), index)
            except ValueError as error:
                self._note_error(str(error), index)
            else:
                self.known[pose.name] = pose
                yield pose

    def _note_error(self, what: str, index: Key) -> None:
        where = self.document.where("poses", index)
        self.errors.append(UserError(what, where=where, do=_("mend that pose")))

    def _pose(self, entry: Mapping[str, Any]) -> Pose:
        if "mirror" in entry:
            _only(entry, _MIRROR)
            return self._mirrored(entry)
        _only(entry, _WORDS)
        facing = Facing(_one_of(entry["facing"], tuple(Facing)))
        turn = facing.turned + _number(entry.get("angle", 0))
        return Pose(
            name=_text(entry["name"]),
            facing=facing,
            level=Level(_one_of(entry.get("level", "standing"), tuple(Level))),
            side=_one_of(entry.get("of", ""), tuple(_OPPOSITE)),
            kind=_one_of(entry.get("kind", "free"), KINDS),
            synonyms=tuple(_text(s) for s in entry.get("synonyms", ())),
            say=_text(entry.get("say") or entry["name"]),
            figure=self._figure(entry, turn % 360),
            form_of=self._form_of(entry),
        )

    def _form_of(self, entry: Mapping[str, Any]) -> str:
        name = entry.get("form of", "")
        if name and name not in {_opposite_name(known) for known in self.known} | {*self.known}:
            raise ValueError(f"is a form of {_quoted(name)}, which is not above it")
        return str(name)

    def _mirrored(self, entry: Mapping[str, Any]) -> Pose:
        if entry["mirror"] not in self.known:
            raise ValueError(f"mirrors {_quoted(entry['mirror'])}, which is not above it")
        other = self.known[entry["mirror"]]
        return Pose(
            name=_text(entry["name"]),
            facing=other.facing.other_side,
            level=other.level,
            side=_OPPOSITE[other.side],
            kind=other.kind,
            synonyms=tuple(_text(s) for s in entry.get("synonyms", ())),
            say=_text(entry.get("say") or entry["name"]),
            figure=mirrored(other.figure),
            form_of=_opposite_name(other.form_of),
        )

    def _figure(self, entry: Mapping[str, Any], turn: float) -> Figure:
        amounts: dict[str, Any] = {name: _number(entry[name]) for name in _AMOUNTS if name in entry}
        pelvis = (amounts.get("lean", 0.0), amounts.get("hips", 0.0))
        limbs: dict[str, Any] = _arms(entry, amounts.get("shrug", 0.0)) | self._legs(entry, pelvis)
        return Figure(turn=turn, **amounts, **limbs)

    def _legs(self, entry: Mapping[str, Any], pelvis: tuple[float, float]) -> dict[str, Limb]:
        name, sides = entry["legs"], ("left", "right")
        known = self.document.data["legs"]
        if name not in known and str(name).removeprefix("other ") in known:
            name, sides = name.removeprefix("other "), ("right", "left")
        if name not in known:
            raise ValueError(f"stands on unknown legs: {_quoted(name)}")
        stance, height = known[name], _number(known[name]["hips"])
        return {
            "left_leg": _leg(stance[sides[0]], height, pelvis, 1.0),
            "right_leg": _leg(stance[sides[1]], height, pelvis, -1.0),
        }


def _only(entry: Mapping[str, Any], known: set[str]) -> None:
    for key in entry:
        if key not in known:
            raise ValueError(f"has the unknown word {_quoted(key)}")


def _one_of(value: Any, allowed: Sequence[str]) -> str:
    if value not in allowed:
        raise ValueError(
            f"has {_quoted(value)} where only {', '.join(a or 'nothing' for a in allowed)} fit"
        )
    return str(value)


def _opposite_name(name: str) -> str:
    """The name of the same pose of the other side; a pose without a side keeps its own."""
    first, _unused, last = name.rpartition(" ")
    return f"{first} {_OPPOSITE[last]}" if last in ("left", "right") else name


def _arms(entry: Mapping[str, Any], shrug: float) -> dict[str, Limb]:
    """Both arms; one that holds the other is laid on it once that one is placed."""
    both = entry.get("arms")
    specs = {side: entry.get(f"{side} arm", both) for side in ("left", "right")}
    arms = {side: read_arm(spec, shrug) for side, spec in specs.items() if "holds" not in spec}
    for side, spec in specs.items():
        if "holds" in spec:
            if _OPPOSITE[side] not in arms:
                raise ValueError("has two arms that hold each other")
            arms[side] = _holding(spec, arms[_OPPOSITE[side]], shrug)
    return {f"{side}_arm": arm for side, arm in arms.items()}


def _shoulder(shrug: float) -> bones.Vector:
    x, y, z = bones.SHOULDER
    return (x, y + 0.022 * shrug, z)


def read_arm(spec: Any, shrug: float = 0.0) -> Limb:
    """An arm as the head of `poses.yaml` describes it.

    Raises:
        KeyError, TypeError, ValueError: it is not written like that.
    """
    if "upper" in spec:
        upper, lower = (
            bones.direction(*_angles(spec["upper"])),
            bones.direction(*_angles(spec["lower"])),
        )
    else:
        upper, lower = bones.reach(
            _shoulder(shrug),
            *(_triple(spec["hand"]), _triple(spec["elbow"])),
            *(bones.UPPER_ARM, bones.FOREARM),
        )
    end = bones.direction(*_angles(spec["palm"])) if "palm" in spec else lower
    return Limb(upper, lower, end, _number(spec.get("grip", 1.0)), _roll(spec, lower))


def _holding(spec: Mapping[str, Any], other: Limb, shrug: float) -> Limb:
    """An arm whose hand lies on the other arm, its wrist a hand's length short of it."""
    along, beyond = _HELD[_one_of(spec["holds"], tuple(_HELD))]
    root = _shoulder(shrug)
    parts = (1.0, other.upper, bones.UPPER_ARM), (along, other.lower, bones.FOREARM)
    out, up, ahead = root
    for part, bone, length in (*parts, (beyond, other.end, bones.HAND)):
        out, up, ahead = (
            place + part * length * step for place, step in zip((out, up, ahead), bone, strict=True)
        )
    goal = (-out, up, ahead)
    x, y, z = (g - r for g, r in zip(goal, root, strict=True))
    far = math.hypot(x, y, z)
    if far < bones.HAND:
        raise ValueError("holds an arm within its own shoulder")
    short = 1.0 - 0.8 * bones.HAND / far
    wrist = (root[0] + short * x, root[1] + short * y, root[2] + short * z)
    elbow = _triple(spec["elbow"])
    upper, lower = bones.reach(root, wrist, elbow, bones.UPPER_ARM, bones.FOREARM)
    end = (x / far, y / far, z / far)
    return Limb(upper, lower, end, _number(spec.get("grip", 0.5)), _roll(spec, lower))


def _roll(spec: Mapping[str, Any], lower: bones.Vector) -> float:
    # A hand that hangs turns its palm to the body, one that is raised to the inside of the elbow.
    return _number(spec.get("roll", 90.0 if lower[1] < -0.5 else 0.0))


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
    end = bones.direction(*_angles(spec["toes"])) if "toes" in spec else bones.AHEAD
    return Limb(upper, lower, end, 0.0)


def _triple(values: Any) -> bones.Vector:
    if not isinstance(values, list) or len(values) != 3:
        raise ValueError(f"has {_quoted(values)} where a place [out, up, ahead] belongs")
    return (_number(values[0]), _number(values[1]), _number(values[2]))


def _angles(values: Any) -> tuple[float, float]:
    if not isinstance(values, list) or len(values) != 2:
        raise ValueError(f"has {_quoted(values)} where a direction [lift, swing] belongs")
    return (_number(values[0]), _number(values[1]))


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= _FARTHEST:
        raise ValueError(f"has {_quoted(value)} where a number belongs")
    return float(value)


def _text(value: Any) -> str:
    if not isinstance(value, str | int | float) or len(str(value)) > _LONGEST:
        raise ValueError(f"has {_quoted(value)} where a name of {_LONGEST} letters belongs")
    return str(value)


def _quoted(value: Any) -> str:
    return "nothing" if value is None else shortened(repr(value), 60)
