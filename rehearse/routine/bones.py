"""A body as the directions of its bones: plain numbers, read from the pose file.

Conventions: bones are unit vectors (out, up, forward) of their own side: `out` is the athlete's
left for a left limb and right for a right one, so that mirroring only swaps limbs. Arms live in
the frame of the chest, legs in the upright frame the figure is turned by. Angles are degrees;
`turn` counts to the athlete's right: 0 faces the viewer, 90 shows the left side, 180 the back,
270 the right side. Nothing here needs NumPy: the window opens before that is loaded.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

Vector = tuple[float, float, float]

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
        grip: hand only: 0 open, 0.5 gripping, 1 a fist.
        roll: hand only: degrees the palm is turned about the forearm: 0 faces the inside of the
            elbow, 90 the body where the arm hangs.
    """

    upper: Vector = DOWN
    lower: Vector = DOWN
    end: Vector = DOWN
    grip: float = 1.0
    roll: float = 0.0

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


def mirrored(figure: Figure) -> Figure:
    """The same pose of the other side: left and right swapped, turned the other way."""
    opposite = {name: -getattr(figure, name) for name in ("hips", "side", "twist", "tilt", "look")}
    return replace(
        figure,
        turn=-figure.turn % 360,
        left_arm=figure.right_arm,
        right_arm=figure.left_arm,
        left_leg=figure.right_leg,
        right_leg=figure.left_leg,
        **opposite,
    )


def direction(lift: float, swing: float) -> Vector:
    """The bone direction lifted `lift` degrees from hanging, swung `swing` degrees forward.

    (0, any) hangs, (90, 0) points sideways out, (90, 90) ahead, (90, 180) across the body,
    (90, −90) behind, (180, any) up.
    """
    a, b = math.radians(lift), math.radians(swing)
    return (math.sin(a) * math.cos(b), -math.cos(a), math.sin(a) * math.sin(b))


def reach(
    root: Vector, target: Vector, toward: Vector, upper: float, lower: float
) -> tuple[Vector, Vector]:
    """Directions of two bones that lead from `root` to `target`, their joint toward `toward`.

    A target out of reach is pointed at with the limb straight (two-bone inverse kinematics by
    the law of cosines).
    """
    line = _sum(target, root, -1.0)
    span = min(max(math.hypot(*line), abs(upper - lower) + 1e-6), upper + lower - 1e-6)
    axis = _unit(line)
    normal = across(toward, axis)
    cosine = (upper**2 + span**2 - lower**2) / (2 * upper * span)
    height = math.sqrt(max(0.0, 1 - cosine**2))
    joint = _sum(_scaled(axis, upper * cosine), normal, upper * height)
    return _unit(joint), _unit(_sum(_scaled(axis, span), joint, -1.0))


def _scaled(vector: Vector, factor: float) -> Vector:
    return (vector[0] * factor, vector[1] * factor, vector[2] * factor)


def _sum(a: Vector, b: Vector, factor: float) -> Vector:
    """`a` and `factor` times `b`."""
    return (a[0] + factor * b[0], a[1] + factor * b[1], a[2] + factor * b[2])


def _unit(vector: Vector) -> Vector:
    return _scaled(vector, 1.0 / math.hypot(*vector))


def across(vector: Vector, axis: Vector) -> Vector:
    """Unit vector of the part of `vector` at right angles to the unit vector `axis`."""
    along = sum(v * a for v, a in zip(vector, axis, strict=True))
    rest = _sum(vector, axis, -along)
    if sum(v * v for v in rest) < 1e-9:
        x, y, z = axis
        rest = (y - z, z - x, x - y)  # any direction will do: across the axis and (1, 1, 1)
    return _unit(rest)
