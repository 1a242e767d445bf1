"""The skeleton: a body as the directions of its bones, and where that puts its joints.

Conventions: the world is x to the viewer's right, y up, z toward the viewer; a standing figure
is 1 high and stands on y = 0. Bones are unit vectors (out, up, forward) of their own side: `out`
is the athlete's left for a left limb and right for a right one, so that mirroring only swaps
limbs. Arms live in the frame of the chest, legs in the upright frame the figure is turned by.
Angles are degrees; `turn` counts to the athlete's right: 0 faces the viewer, 90 shows the left
side, 180 the back, 270 the right side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from rehearse.routine.rotation import Array, Vector, across, own, tipped, turned

DOWN: Vector = (0.0, -1.0, 0.0)
AHEAD: Vector = (0.0, 0.0, 1.0)

# Segment lengths as parts of the body height. Heroic proportions of eight heads, as in figure
# drawing; the ratios of arm and leg segments follow Drillis & Contini (1966), from memory.
UPPER_ARM, FOREARM, HAND = 0.172, 0.148, 0.062
THIGH, SHIN, FOOT = 0.245, 0.240, 0.105
HIP = (0.058, -0.008, 0.0)
WAIST = (0.0, 0.085, 0.004)
SHOULDER = (0.132, 0.210, -0.004)
NECK = (0.0, 0.242, -0.006)
HEAD = (0.0, 0.088, 0.014)
SOLE, KNEECAP = 0.020, 0.036


@dataclass(frozen=True)
class Limb:
    """An arm or a leg: directions of its two bones and of its hand or foot.

    Args:
        upper, lower: unit vectors (out, up, forward) of upper arm and forearm, or thigh and shin.
        end: unit vector of the hand, or of the foot from heel to toes.
        grip: hand only: 0 open, 1 a fist.
    """

    upper: Vector = DOWN
    lower: Vector = DOWN
    end: Vector = DOWN
    grip: float = 1.0

    @property
    def bend(self) -> float:
        """Degrees by which elbow or knee is bent: 0 straight."""
        cosine = sum(a * b for a, b in zip(self.upper, self.lower, strict=True))
        return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


@dataclass(frozen=True)
class Figure:
    """One pose of the whole body.

    Args:
        turn: degrees the body is turned to the athlete's right.
        lean, hips: pelvis tipped forward, and sideways to the athlete's left.
        bend, side, twist: chest against pelvis: forward, to the left, turned to the right.
        nod, tilt, look: head against chest: forward, to the left, turned to the right.
        left_arm, right_arm, left_leg, right_leg: the limbs.
        shrug: shoulders raised, −1..1. lats: spread of the back, 0..1.
        hollow: belly drawn in, 0..1.
    """

    turn: float = 0.0
    lean: float = 0.0
    hips: float = 0.0
    bend: float = 0.0
    side: float = 0.0
    twist: float = 0.0
    nod: float = 0.0
    tilt: float = 0.0
    look: float = 0.0
    shrug: float = 0.0
    lats: float = 0.3
    hollow: float = 0.0
    left_arm: Limb = field(default_factory=Limb)
    right_arm: Limb = field(default_factory=Limb)
    left_leg: Limb = field(default_factory=lambda: Limb(end=AHEAD))
    right_leg: Limb = field(default_factory=lambda: Limb(end=AHEAD))


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
    def of(figure: Figure) -> Frames:
        """Place every joint, then lower the body until it stands on the floor."""
        upright = turned(figure.turn)
        pelvis = upright @ tipped(figure.lean, figure.hips, 0)
        chest = pelvis @ tipped(figure.bend, figure.side, figure.twist)
        head = chest @ tipped(figure.nod, figure.tilt, figure.look)
        waist = pelvis @ np.asarray(WAIST)
        points = {"pelvis": np.zeros(3), "waist": waist, "neck": waist + chest @ np.asarray(NECK)}
        points["head"] = points["neck"] + head @ np.asarray(HEAD)
        for side, sign in (("left", 1.0), ("right", -1.0)):
            raised = (SHOULDER[0], SHOULDER[1] + 0.022 * figure.shrug, SHOULDER[2])
            shoulder = waist + chest @ own(raised, sign)
            arm: Limb = getattr(figure, f"{side}_arm")
            bones = ((arm.upper, UPPER_ARM), (arm.lower, FOREARM), (arm.end, HAND))
            _chain(points, side, ("shoulder", "elbow", "wrist", "hand"), shoulder, chest, bones)
            leg: Limb = getattr(figure, f"{side}_leg")
            bones = ((leg.upper, THIGH), (leg.lower, SHIN), (leg.end, FOOT))
            hip = pelvis @ own(HIP, sign)
            _chain(points, side, ("hip", "knee", "ankle", "toes"), hip, upright, bones)
        floor = _lowest(points)
        for name, point in points.items():
            points[name] = point - np.array([0.0, floor, 0.0])
        return Frames(upright, pelvis, chest, head, points)


def _chain(
    points: dict[str, Array],
    side: str,
    names: tuple[str, str, str, str],
    root: Array,
    frame: Array,
    bones: tuple[tuple[Vector, float], ...],
) -> None:
    sign = 1.0 if side == "left" else -1.0
    points[f"{side} {names[0]}"] = place = root
    for name, (bone, length) in zip(names[1:], bones, strict=True):
        place = place + length * (frame @ own(bone, sign))
        points[f"{side} {name}"] = place


def _lowest(points: dict[str, Array]) -> float:
    heights = []
    for side in ("left", "right"):
        ankle, toes = points[f"{side} ankle"], points[f"{side} toes"]
        # The heel lies behind and under the ankle, in line with the foot.
        heel = ankle - 0.25 * (toes - ankle)
        heights += [float(toes[1]) - SOLE, float(heel[1]) - SOLE, float(ankle[1]) - SOLE]
        heights.append(float(points[f"{side} knee"][1]) - KNEECAP)
    return min(heights)


def orientation(limb: Limb, leg: bool) -> Array:
    """Frame of a limb on its own side: the upper bone, the way it folds, the axis of its hinge."""
    upper = np.asarray(limb.upper)
    # A straight limb still has a side to bend to: knees fold back, elbows forward and up.
    hint = np.array([0.0, 0.0, -1.0]) if leg else np.array([-0.1, 0.5 + 0.5 * upper[1], 1.0])
    toward = np.asarray(limb.lower) + 0.12 * hint
    fold = across(toward, upper)
    return np.column_stack([upper, fold, np.cross(upper, fold)])


def bones(limb: Limb, frame: Array, sign: float, *, leg: bool) -> tuple[Array, Array]:
    """Frames of the two bones in the world: columns fold, along, hinge."""
    local = orientation(limb, leg)
    mirror = np.diag([sign, 1.0, 1.0])
    upper, fold, hinge = (frame @ mirror @ local[:, k] for k in range(3))
    lower = frame @ mirror @ np.asarray(limb.lower)
    fold_low = across(fold - 0.001 * upper, lower)
    return np.column_stack([fold, upper, hinge]), np.column_stack([fold_low, lower, hinge])
