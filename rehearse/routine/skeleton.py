"""The skeleton: where the directions of its bones put a body's joints.

Conventions: the world is x to the viewer's right, y up, z toward the viewer; a standing figure
is 1 high and stands on y = 0. See `routine.bones` for the bones themselves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from rehearse.routine.bones import (
    FOOT,
    FOREARM,
    HAND,
    HEAD,
    HIP,
    KNEECAP,
    NECK,
    SHIN,
    SHOULDER,
    SOLE,
    THIGH,
    UPPER_ARM,
    WAIST,
    Figure,
    Limb,
    reach,
)
from rehearse.routine.look import RISE, Look
from rehearse.routine.rotation import Array, across, cross, own, tipped, turned

#: The joints in their order.
JOINTS = (
    *("pelvis", "waist", "neck", "head"),
    *(
        f"{side} {name}"
        for side in ("left", "right")
        for name in ("shoulder", "elbow", "wrist", "hand", "hip", "knee", "ankle", "toes")
    ),
)
_WAIST, _NECK, _HEAD = (np.asarray(v) for v in (WAIST, NECK, HEAD))
_SHOULDERS, _HIPS = (np.array([own(v, 1.0), own(v, -1.0)]) for v in (SHOULDER, HIP))
#: Lengths of the bones of both limbs, of the right one with its outside to the right.
_ARMS, _LEGS = (
    np.array([own((n, n, n), sign) for sign in (1.0, -1.0) for n in lengths])
    for lengths in ((UPPER_ARM, FOREARM, HAND), (THIGH, SHIN, FOOT))
)


def joints(figure: Figure) -> dict[str, Array]:
    """World position, shape (3,), of every joint; the lowest point of the body is on y = 0."""
    frames = Frames.of(figure)
    points = dict(frames.points)
    return points


@dataclass(frozen=True)
class Frames:
    """Frames (3 × 3, columns left, up, forward) and joints of a figure in the world."""

    upright: Array
    pelvis: Array
    chest: Array
    head: Array
    points: dict[str, Array]

    @staticmethod
    def of(figure: Figure, shoulders: float = 1.0) -> Frames:
        """Place every joint, then lower the body until it stands on the floor.

        Args:
            figure: the pose. shoulders: their width, 1 as in `bones.SHOULDER`.
        """
        upright = turned(figure.turn)
        pelvis = upright @ tipped(figure.lean, figure.hips, 0)
        chest = pelvis @ tipped(figure.bend, figure.side, figure.twist)
        head = chest @ tipped(figure.nod, figure.tilt, figure.look)
        waist = pelvis @ _WAIST
        neck = waist + chest @ _NECK
        raised = np.array([[shoulders, 1.0, 1.0]]) * _SHOULDERS
        raised[:, 1] += 0.022 * figure.shrug
        arms = _limbs(figure.left_arm, figure.right_arm, _ARMS, waist + raised @ chest.T, chest)
        legs = _limbs(figure.left_leg, figure.right_leg, _LEGS, _HIPS @ pelvis.T, upright)
        places = np.empty((len(JOINTS), 3))
        places[:4] = (0.0, 0.0, 0.0), waist, neck, neck + head @ _HEAD
        places[4:8], places[8:12] = arms[0], legs[0]
        places[12:16], places[16:] = arms[1], legs[1]
        places[:, 1] -= _lowest(places[:, 1].tolist())
        points = dict(zip(JOINTS, places, strict=True))
        return Frames(upright, pelvis, chest, head, points)


def _limbs(left: Limb, right: Limb, lengths: Array, roots: Array, frame: Array) -> Array:
    """Joints of two limbs, shape (2, 4, 3), from their roots, shape (2, 3), in a frame."""
    own = np.array(
        (left.upper, left.lower, left.end, right.upper, right.lower, right.end), dtype=np.float64
    )
    result = np.empty((2, 4, 3))
    result[:, 0] = roots
    result[:, 1:] = ((lengths * own) @ frame.T).reshape(2, 3, 3)
    return np.asarray(np.cumsum(result, axis=1))


def fitted(figure: Figure, look: Look) -> Figure:
    """The pose as this body takes it: hands in their places from narrower shoulders, heels on.

    A hand before or behind the body stays in its place there, one away from it moves with the
    shoulder.
    """
    limbs: dict[str, Any] = {}
    narrow = SHOULDER[0] * (1.0 - look.build.shoulders)
    for name in ("left_arm", "right_arm") if narrow else ():
        limbs[name] = _narrowed(getattr(figure, name), narrow)
    for name in ("left_leg", "right_leg") if look.heels else ():
        leg = getattr(figure, name)
        out, up, ahead = leg.end
        level = max(1e-6, math.hypot(out, ahead))
        angle = max(math.atan2(up, level) - math.radians(RISE), math.radians(-75))
        c = math.cos(angle) / level
        limbs[name] = replace(leg, end=(out * c, math.sin(angle), ahead * c))
    return replace(figure, **limbs) if limbs else figure


def _narrowed(arm: Limb, narrow: float) -> Limb:
    elbow = tuple(UPPER_ARM * part for part in arm.upper)
    x, y, z = (e + FOREARM * part for e, part in zip(elbow, arm.lower, strict=True))
    # From the shoulder; the middle of the body lies at -SHOULDER[0].
    away = min(1.0, max(0.0, 1.0 + x / SHOULDER[0]))
    if away == 1.0:
        return arm
    goal = (x + narrow * (1.0 - away), y, z)
    upper, lower = reach((0.0, 0.0, 0.0), goal, (elbow[0], elbow[1], elbow[2]), UPPER_ARM, FOREARM)
    return replace(arm, upper=upper, lower=lower)


def heel_of(points: dict[str, Array], side: str) -> Array:
    """The heel, shape (3,): behind and under the ankle, in line with the foot."""
    ankle = points[f"{side} ankle"]
    return np.asarray(ankle - 0.25 * (points[f"{side} toes"] - ankle))


def _lowest(heights: list[float]) -> float:
    """How high the lowest point of a body is whose `JOINTS` are at these heights."""
    lowest = math.inf
    for first in (8, 16):
        knee, ankle, toes = heights[first + 1 : first + 4]
        heel = ankle - 0.25 * (toes - ankle)
        lowest = min(lowest, toes - SOLE, heel - SOLE, ankle - SOLE, knee - KNEECAP)
    return lowest


def orientation(limb: Limb, leg: bool) -> Array:
    """Frame of a limb on its own side: the upper bone, the way it folds, the axis of its hinge."""
    upper = np.asarray(limb.upper)
    # A straight limb still has a side to bend to: knees fold back, elbows forward and up.
    hint = np.array([0.0, 0.0, -1.0]) if leg else np.array([-0.1, 0.5 + 0.5 * upper[1], 1.0])
    toward = np.asarray(limb.lower) + 0.12 * hint
    fold = across(toward, upper)
    return np.column_stack([upper, fold, cross(upper, fold)])


def bones(limb: Limb, frame: Array, sign: float, *, leg: bool) -> tuple[Array, Array]:
    """Frames of the two bones in the world: columns fold, along, hinge."""
    local = orientation(limb, leg)
    mirror = np.diag([sign, 1.0, 1.0])
    upper, fold, hinge = (frame @ mirror @ local[:, k] for k in range(3))
    lower = frame @ mirror @ np.asarray(limb.lower)
    fold_low = across(fold - 0.001 * upper, lower)
    return np.column_stack([fold, upper, hinge]), np.column_stack([fold_low, lower, hinge])
