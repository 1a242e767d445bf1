"""Key figures of a move as `resources/moves.yaml` writes them: how the body differs on the way.

Each key is told against the body as it is when the move begins, written for the left side. Nothing
here needs NumPy: the window opens before that is loaded.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from rehearse.routine.bones import Limb
from rehearse.routine.posefile import read_arm

#: How far trunk and head go in a move, and what shoulders, back and belly can do. Degrees are a
#: little inside the ranges of motion that clinics measure (American Academy of Orthopaedic
#: Surgeons, from memory).
RANGES = {
    "lean": (-20.0, 60.0),
    "hips": (-18.0, 18.0),
    "bend": (-28.0, 60.0),
    "side": (-32.0, 32.0),
    "twist": (-50.0, 50.0),
    "nod": (-45.0, 50.0),
    "tilt": (-32.0, 32.0),
    "look": (-75.0, 75.0),
    "shrug": (-1.0, 1.0),
    "lats": (0.0, 1.0),
    "hollow": (0.0, 1.0),
}
_SIDED = ("hips", "side", "twist", "tilt", "look")
_LIMBS = {"arms", "left arm", "right arm", "left foot", "right foot"}
_WORDS = {"at", "sink", "level", "travel", "turn", "go", "fold", "upright"} | _LIMBS | set(RANGES)
_LEVELS = ("", "standing", "lunge", "kneeling")
#: Farther than this, in body heights, no foot and no body goes in one move.
_FAR = 1.0


@dataclass(frozen=True)
class Key:
    """One key figure.

    Args:
        at: part of the move, 0..1, at which the body is there.
        amounts: (name, change) of trunk and head as in `bones.Figure`.
        left_arm, right_arm: where that arm goes; None: as it was.
        fold: degrees by which both elbows bend more.
        sink: body heights by which the hips go down.
        level: the legs become those of that level; empty: as they were.
        left_foot, right_foot: change of place (out, up, ahead) in body heights; None: stays.
        travel: how far the whole body goes (to its left, ahead), in body heights.
        turn: degrees to the right. whole: it turns as far as the pose asks, or right round.
        go: part of the way to the next place, or on to or off the stage.
        upright: amounts and hips count from a straight body instead.
        other: it was written for the other side and mirrored.
    """

    at: float
    amounts: tuple[tuple[str, float], ...] = ()
    left_arm: Limb | None = None
    right_arm: Limb | None = None
    fold: float = 0.0
    sink: float = 0.0
    level: str = ""
    left_foot: tuple[float, float, float] | None = None
    right_foot: tuple[float, float, float] | None = None
    travel: tuple[float, float] = (0.0, 0.0)
    turn: float = 0.0
    whole: bool = False
    go: float = 0.0
    upright: bool = False
    other: bool = False

    def mirrored(self) -> Key:
        """The same of the other side."""
        return replace(
            self,
            amounts=tuple((name, -v if name in _SIDED else v) for name, v in self.amounts),
            left_arm=self.right_arm,
            right_arm=self.left_arm,
            left_foot=self.right_foot,
            right_foot=self.left_foot,
            travel=(-self.travel[0], self.travel[1]),
            turn=-self.turn,
            other=not self.other,
        )


#: Key figures by direction; the first direction is meant where none is written.
Keys = tuple[tuple[str, tuple[Key, ...]], ...]


def read_keys(data: Any, directions: Sequence[str]) -> Keys:
    """The `keys` of a move: a list, or a list for each of its directions.

    Raises:
        KeyError, TypeError, ValueError: they are not written like the others.
    """
    if not isinstance(data, Mapping):
        return (("", _listed(data)),)
    if unknown := set(data) - set(directions):
        raise ValueError(f"has keys for {min(unknown)!r}, which is none of its directions")
    return tuple((str(name), _listed(keys)) for name, keys in data.items())


def _listed(data: Any) -> tuple[Key, ...]:
    if not isinstance(data, list) or not data:
        raise ValueError("has no list of keys")
    keys = tuple(_key(entry) for entry in data)
    ats = [0.0, *(key.at for key in keys)]
    if any(b <= a for a, b in itertools.pairwise(ats)) or ats[-1] > 1:
        raise ValueError("has keys whose 'at' do not rise from above 0 to 1")
    return keys


def _key(entry: Any) -> Key:
    if unknown := set(entry) - _WORDS:
        raise ValueError(f"has the unknown word {min(unknown)!r} in a key")
    if entry.get("level", "") not in _LEVELS:
        raise ValueError(f"has the unknown level {entry['level']!r}")
    both, turn = entry.get("arms"), entry.get("turn", 0)
    arms = [entry.get(f"{side} arm", both) for side in ("left", "right")]
    left_arm, right_arm = (None if arm is None else read_arm(arm) for arm in arms)
    left_foot, right_foot = (_foot(entry.get(f"{side} foot")) for side in ("left", "right"))
    left, ahead = (_within(v, _FAR) for v in entry.get("travel", (0, 0)))
    return Key(
        at=_within(entry["at"], 1.0),
        amounts=tuple((name, _within(entry[name], 90)) for name in RANGES if name in entry),
        left_arm=left_arm,
        right_arm=right_arm,
        fold=_within(entry.get("fold", 0), 90),
        sink=_within(entry.get("sink", 0), 0.5),
        level=entry.get("level", ""),
        left_foot=left_foot,
        right_foot=right_foot,
        travel=(left, ahead),
        turn=0.0 if turn == "whole" else _within(turn, 360),
        whole=turn == "whole",
        go=_within(entry.get("go", 0), 1.0),
        upright=entry.get("upright") is True,
    )


def _foot(data: Any) -> tuple[float, float, float] | None:
    if data is None:
        return None
    out, up, ahead = (_within(v, _FAR) for v in data)
    return (out, up, ahead)


def _within(value: Any, most: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= most:
        raise ValueError(f"has {value!r} where a number up to {most:g} belongs")
    return float(value)
