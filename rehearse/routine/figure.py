"""The jointed figure: a body as directions of its bones, and how it moves between two poses.

Conventions: the world is x to the viewer's right, y up, z toward the viewer; a standing figure
is 1 high and stands on y = 0. Bones are unit vectors (out, up, forward) of their own side: `out`
is the athlete's left for a left limb and right for a right one, so that mirroring only swaps
limbs. Arms live in the frame of the chest, legs in the upright frame the figure is turned by.
Angles are degrees; `turn` counts to the athlete's right: 0 faces the viewer, 90 shows the left
side, 180 the back, 270 the right side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

Vector = tuple[float, float, float]
Array = npt.NDArray[np.float64]

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


_ANGLES = ("lean", "hips", "bend", "side", "twist", "nod", "tilt", "look")
_AMOUNTS = ("shrug", "lats", "hollow")


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
    line = np.subtract(target, root)
    span = min(max(float(np.linalg.norm(line)), abs(upper - lower) + 1e-6), upper + lower - 1e-6)
    axis = _unit(line)
    normal = _across(np.asarray(toward, dtype=np.float64), axis)
    cosine = (upper**2 + span**2 - lower**2) / (2 * upper * span)
    joint = upper * (cosine * axis + math.sqrt(max(0.0, 1 - cosine**2)) * normal)
    return _vector(_unit(joint)), _vector(_unit(span * axis - joint))


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


def between(a: Figure, b: Figure, t: float) -> Figure:
    """The figure at part `t` (0..1) of the way from `a` to `b`, moving as a body would.

    Time runs by the minimum-jerk law of human reaching (Flash & Hogan 1985, from memory); limbs
    turn about their joints, so their lengths never change; the body turns the shorter way, to
    the athlete's right when it turns right round; feet that change place are lifted one after
    the other.
    """
    if t <= 0.0 or a == b:
        return a
    if t >= 1.0:
        return b
    s = t**3 * (10 - 15 * t + 6 * t * t)
    turn = (b.turn - a.turn + 180) % 360 - 180
    turn = 180.0 if turn == -180 else turn
    mixed = {name: _mix(getattr(a, name), getattr(b, name), s) for name in _ANGLES + _AMOUNTS}
    limbs = {
        name: _limb_between(getattr(a, name), getattr(b, name), s, leg=name.endswith("leg"))
        for name in ("left_arm", "right_arm", "left_leg", "right_leg")
    }
    figure = Figure(turn=(a.turn + s * turn) % 360, **mixed, **limbs)
    return _stepping(a, b, figure, t, abs(turn))


def joints(figure: Figure) -> dict[str, Array]:
    """World position, shape (3,), of every joint; the lowest point of the body is on y = 0."""
    frames = Frames.of(figure)
    points = dict(frames.points)
    return points


def distance(a: Figure, b: Figure) -> float:
    """Root mean square distance of the joints of two figures, in body heights."""
    p, q = joints(a), joints(b)
    return math.sqrt(sum(float(np.sum((p[k] - q[k]) ** 2)) for k in p) / len(p))


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
        upright = _turned(figure.turn)
        pelvis = upright @ _tipped(figure.lean, figure.hips, 0)
        chest = pelvis @ _tipped(figure.bend, figure.side, figure.twist)
        head = chest @ _tipped(figure.nod, figure.tilt, figure.look)
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


def own(vector: Vector, sign: float) -> Array:
    """A vector (out, up, forward) of one side as (left, up, forward); `sign` +1 left, −1 right."""
    return np.array([sign * vector[0], vector[1], vector[2]])


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


def _limb_between(a: Limb, b: Limb, s: float, *, leg: bool) -> Limb:
    start, goal = _orientation(a, leg), _orientation(b, leg)
    frame = _rotate_toward(start, goal, s)
    bend = math.radians(_mix(a.bend, b.bend, s))
    lower = math.cos(bend) * frame[:, 0] + math.sin(bend) * frame[:, 1]
    # Hand and foot ride on the lower bone and change their angle to it on the way.
    seat_a, seat_b = _seat(start, a), _seat(goal, b)
    end = _unit(_mix_array(seat_a, seat_b, s))
    seat = np.column_stack([lower, np.cross(frame[:, 2], lower), frame[:, 2]])
    return Limb(_vector(frame[:, 0]), _vector(lower), _vector(seat @ end), _mix(a.grip, b.grip, s))


def _orientation(limb: Limb, leg: bool) -> Array:
    """Columns: the upper bone, the side it bends to, the axis of the hinge."""
    upper = np.asarray(limb.upper)
    # A straight limb still has a side to bend to: knees fold back, elbows forward and up.
    hint = np.array([0.0, 0.0, -1.0]) if leg else np.array([-0.1, 0.5 + 0.5 * upper[1], 1.0])
    toward = np.asarray(limb.lower) + 0.12 * hint
    fold = _across(toward, upper)
    return np.column_stack([upper, fold, np.cross(upper, fold)])


def _seat(frame: Array, limb: Limb) -> Array:
    lower = np.asarray(limb.lower)
    seat = np.column_stack([lower, np.cross(frame[:, 2], lower), frame[:, 2]])
    return np.asarray(np.linalg.solve(seat, np.asarray(limb.end)))


def _stepping(a: Figure, b: Figure, figure: Figure, t: float, turn: float) -> Figure:
    legs = {}
    for name, begin in (("left_leg", 0.0), ("right_leg", 0.35)):
        before, after = getattr(a, name), getattr(b, name)
        moved = math.dist(before.upper, after.upper) + math.dist(before.lower, after.lower)
        amount = min(1.0, moved + turn / 60)
        phase = (t - begin) / 0.65
        if amount < 0.1 or not 0 < phase < 1:
            continue
        rise = 26 * amount * math.sin(math.pi * phase) ** 2
        leg: Limb = getattr(figure, name)
        legs[name] = replace(
            leg, upper=_swung(leg.upper, rise), lower=_swung(leg.lower, -rise * 0.9)
        )
    return replace(figure, **legs)


def _swung(bone: Vector, degrees: float) -> Vector:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    out, up, forward = bone
    return (out, c * up + s * forward, c * forward - s * up)


def _turned(turn: float) -> Array:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return np.array([[c, 0.0, -s], [0.0, 1.0, 0.0], [s, 0.0, c]])


def _tipped(forward: float, left: float, turn: float) -> Array:
    cf, sf = math.cos(math.radians(forward)), math.sin(math.radians(forward))
    cl, sl = math.cos(math.radians(left)), math.sin(math.radians(left))
    pitch = np.array([[1.0, 0.0, 0.0], [0.0, cf, -sf], [0.0, sf, cf]])
    roll = np.array([[cl, sl, 0.0], [-sl, cl, 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(pitch @ roll @ _turned(turn))


def _rotate_toward(a: Array, b: Array, s: float) -> Array:
    """Part `s` of the shortest rotation from frame `a` to frame `b` (slerp of quaternions)."""
    p, q = _quaternion(a), _quaternion(b)
    cosine = float(p @ q)
    if cosine < 0:
        q, cosine = -q, -cosine
    angle = math.acos(min(1.0, cosine))
    if angle < 1e-6:
        return b
    mixed = (math.sin((1 - s) * angle) * p + math.sin(s * angle) * q) / math.sin(angle)
    return _matrix(mixed)


def _quaternion(m: Array) -> Array:
    """Unit quaternion (w, x, y, z) of a rotation, by the largest of its four candidates."""
    xx, yy, zz = float(m[0, 0]), float(m[1, 1]), float(m[2, 2])
    squares = np.array([1 + xx + yy + zz, 1 + xx - yy - zz, 1 - xx + yy - zz, 1 - xx - yy + zz])
    k = int(np.argmax(squares))
    wx, wy, wz = m[2, 1] - m[1, 2], m[0, 2] - m[2, 0], m[1, 0] - m[0, 1]
    xy, xz, yz = m[1, 0] + m[0, 1], m[0, 2] + m[2, 0], m[2, 1] + m[1, 2]
    rows = (
        (squares[0], wx, wy, wz),
        (wx, squares[1], xy, xz),
        (wy, xy, squares[2], yz),
        (wz, xz, yz, squares[3]),
    )
    return _unit(np.array(rows[k], dtype=np.float64))


def _matrix(q: Array) -> Array:
    w, x, y, z = (float(v) for v in q)
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )


def _across(vector: Array, axis: Array) -> Array:
    """Unit vector of the part of `vector` at right angles to the unit vector `axis`."""
    rest = vector - (vector @ axis) * axis
    if float(rest @ rest) < 1e-9:
        rest = np.cross(axis, np.array([0.577, 0.577, 0.577]))
    return _unit(rest)


def _unit(vector: Array) -> Array:
    return np.asarray(vector / np.linalg.norm(vector))


def _vector(array: Array) -> Vector:
    return (float(array[0]), float(array[1]), float(array[2]))


def _mix(a: float, b: float, s: float) -> float:
    return a + (b - a) * s


def _mix_array(a: Array, b: Array, s: float) -> Array:
    return np.asarray(a + (b - a) * s)
