"""A key figure put on a body: what changes against the body as it was when the move began."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np

from rehearse.routine.bones import Figure, mirrored
from rehearse.routine.model import Level
from rehearse.routine.movekeys import RANGES, Key
from rehearse.routine.pose import LEGS_OF
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rotation import Array, own, turned
from rehearse.routine.stance import (
    ARM,
    FIRST,
    HEIGHT,
    KNEE,
    NAMES,
    SIDES,
    TURN,
    Feet,
    Foot,
    X,
    Z,
    middle_of,
    put_arm,
    taken_apart,
)

Body = tuple[Array, Feet]

#: Hips at or under these heights kneel or stand in a lunge; a move sinks no deeper than the last.
_KNEELING, _LUNGE, _DEEPEST = 0.31, 0.43, 0.30
#: Radians an elbow bends at most (150 degrees: American Academy of Orthopaedic Surgeons, from
#: memory).
_ELBOW = 2.6
#: A straight trunk, and hips as high as straight legs carry them.
_STRAIGHT = [0.3 if name == "lats" else 0.0 for name in NAMES]
_TALL = 0.532


@lru_cache(maxsize=1)
def standing() -> Figure:
    """A body at ease."""
    return load_catalogue().find(LEGS_OF[Level.STANDING]).figure


def level_of(height: float) -> Level:
    """How high a body is whose pelvis is so high."""
    if height < _KNEELING:
        return Level.KNEELING
    return Level.LUNGE if height < _LUNGE else Level.STANDING


def changed(start: Body, key: Key, turn: float, way: tuple[float, float]) -> Body:
    """The body at a key figure.

    Args:
        start: the body when the move began. key: of its own side.
        turn: degrees to the right. way: how far it goes over the stage (x, z), in body heights.
    """
    v, feet = start[0].copy(), dict(start[1])
    level = level_of(float(v[HEIGHT]))
    if key.level and key.level != level:
        v, feet = _carried(start, Level(key.level), key)
        level = Level(key.level)
    if key.upright:
        v[FIRST : FIRST + len(NAMES)] = _STRAIGHT
        v[HEIGHT] = _TALL if level is Level.STANDING else v[HEIGHT]
    for name, change in key.amounts:
        k = FIRST + NAMES.index(name)
        low, high = RANGES[name]
        v[k] = min(max(high, v[k]), max(min(low, v[k]), v[k] + change))
    for side, arm in (("left", key.left_arm), ("right", key.right_arm)):
        if arm is not None:
            put_arm(v, side, arm)
        k = ARM[side] + 4
        if key.fold:
            folded = abs(v[k]) + math.radians(key.fold)
            v[k] = math.copysign(min(max(folded, 0.0), max(_ELBOW, abs(v[k]))), v[k])
    if level is not Level.KNEELING and key.sink:
        v[HEIGHT] = max(min(_DEEPEST, v[HEIGHT]), v[HEIGHT] - key.sink)
    _moved(v, feet, key, turn, way)
    return v, feet


def _carried(start: Body, level: Level, key: Key) -> Body:
    """The body on the legs of a level, in its place."""
    v, feet = start
    figure = load_catalogue().find(LEGS_OF[level]).figure
    if key.other:
        figure = mirrored(figure)
    turn = float(v[TURN])
    legs, stand = taken_apart(
        replace(figure, turn=turn % 360), turn, (middle_of(v, feet), float(v[Z]))
    )
    result = v.copy()
    result[[X, Z, HEIGHT]] = legs[[X, Z, HEIGHT]]
    for side, _ in SIDES:
        k = KNEE[side]
        result[k : k + 3] = legs[k : k + 3]
    return result, stand


def _moved(v: Array, feet: Feet, key: Key, turn: float, way: tuple[float, float]) -> None:
    """Set feet, turn the whole body and carry it over the stage, in place."""
    heading, round_ = turned(float(v[TURN])), turned(turn)
    centre = np.array([v[X], 0.0, v[Z]])
    travel = heading @ np.array([key.travel[0], 0.0, key.travel[1]]) + [way[0], 0.0, way[1]]
    for side, sign in SIDES:
        foot, change = feet[side], getattr(key, f"{side}_foot")
        ankle = foot.ankle + (heading @ own(change, sign) if change else 0.0)
        ankle = centre + round_ @ (ankle - centre) + travel
        feet[side] = Foot(ankle, round_ @ foot.toes, foot.heading + turn)
    v[[X, Z]] += travel[[0, 2]]
    v[TURN] += turn
