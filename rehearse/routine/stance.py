"""A body on the stage as numbers that can be mixed, and back to a figure.

Conventions: the world is x to the viewer's right, z toward the judges, y up, all in body heights
from the middle of the stage; `Feet` are ankles and directions of the feet in that world. A body is
a vector of `SIZE` numbers: turn (degrees to the athlete's right, not wrapped), place x and z and
height of the pelvis, the angles and amounts of `NAMES`, for each arm a unit quaternion of its upper
bone and the seven numbers of `figure.jointed`, for each leg the way its knee points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from rehearse.routine.bones import AHEAD, FOOT, HIP, SHIN, THIGH, Figure, Limb, reach
from rehearse.routine.figure import bones_of, jointed, loosened
from rehearse.routine.movekeys import RANGES
from rehearse.routine.rotation import (
    Array,
    matrices,
    own,
    quaternion,
    rows_of,
    spun,
    tipped,
    turned,
    vector_of,
)
from rehearse.routine.skeleton import joints

NAMES = tuple(RANGES)
TURN, X, Z, HEIGHT = range(4)
FIRST = 4
ARM = {"left": FIRST + len(NAMES), "right": FIRST + len(NAMES) + 11}
KNEE = {"left": ARM["right"] + 11, "right": ARM["right"] + 14}
SIZE = KNEE["right"] + 3
SIDES = (("left", 1.0), ("right", -1.0))
#: A leg is never quite straight, and a knee bends this far: fractions of the leg's length.
LONGEST = 0.99995 * (THIGH + SHIN)
#: The least slack of a leg, in body heights.
_TAUT = 1e-6
#: How far from its hip a foot stands at most, seen from above, in body heights.
_STRIDE = 0.43
#: How far a foot turns in or out against the hips before it swivels on its ball, in degrees.
SWIVEL = 68.0
#: Where the ball of the foot is, from ankle to toes.
BALL = 0.8
_HIPS = np.array([own(HIP, sign) for _, sign in SIDES])


@dataclass(frozen=True)
class Foot:
    """Ankle, shape (3,), direction heel to toes, unit vector (3,), and heading of a foot.

    Args:
        heading: degrees to the athlete's right it turns; of a foot whose instep lies on the
            floor, those of its shin.
    """

    ankle: Array
    toes: Array
    heading: float

    @property
    def ball(self) -> Array:
        """The ball of the foot, shape (3,): what carries it while it swivels."""
        return np.asarray(self.ankle + BALL * FOOT * self.toes)

    def swivelled(self, degrees: float) -> Foot:
        """Turned to the right about its ball."""
        turn, ball = turned(degrees), self.ball
        ankle = ball + turn @ (self.ankle - ball)
        return Foot(ankle, turn @ self.toes, self.heading + degrees)


Feet = dict[str, Foot]


def taken_apart(figure: Figure, turn: float, place: tuple[float, float]) -> tuple[Array, Feet]:
    """Vector and feet of a figure whose picture's middle stands on `place` (x, z).

    Args:
        turn: its turn, which may count whole turns besides.
    """
    v = np.zeros(SIZE)
    points = joints(figure)
    middle = (points["left ankle"][0] + points["right ankle"][0]) / 2
    x, z = place[0] - 0.4 * float(middle), place[1]
    v[: FIRST + len(NAMES)] = [
        *(turn, x, z, points["pelvis"][1]),
        *(getattr(figure, name) for name in NAMES),
    ]
    feet: Feet = {}
    upright = turned(figure.turn)
    for side, sign in SIDES:
        put_arm(v, side, getattr(figure, f"{side}_arm"))
        leg: Limb = getattr(figure, f"{side}_leg")
        ankle = points[f"{side} ankle"] + [x, 0.0, z]
        feet[side] = Foot(ankle, upright @ own(leg.end, sign), turn - sign * _outward(leg))
        knee = points[f"{side} knee"] - points[f"{side} hip"]
        v[KNEE[side] : KNEE[side] + 3] = _pole(knee, leg, upright, sign)
    return v, feet


def put_arm(v: Array, side: str, arm: Limb) -> None:
    """Write an arm into a vector."""
    frame, numbers = loosened(arm)
    k = ARM[side]
    v[k : k + 4], v[k + 4 : k + 11] = quaternion(frame), numbers


def put_together(v: Array, feet: Feet, slacks: tuple[float, float]) -> Figure:
    """The figure of a vector that stands on these feet; hips go down where a leg is too short.

    Args:
        slacks: of the left and the right leg: how much shorter than straight, in body heights, it
            is where it begins to give way.
    """
    turn = float(v[TURN])
    hips = dict(zip(("left", "right"), _hips(v), strict=True))
    height = float(v[HEIGHT])
    for (side, _), slack in zip(SIDES, slacks, strict=True):
        height = min(height, _lowered(float(v[HEIGHT]), hips[side], feet[side], slack))
    limbs: dict[str, Any] = {}
    for side, sign in SIDES:
        foot, (x, y, z) = feet[side], hips[side]
        a, b, c = foot.ankle.tolist()
        out, up, ahead = spun((a - x, b - y - height, c - z), -turn)
        knee = v[KNEE[side] : KNEE[side] + 3].tolist()
        pole = spun((sign * knee[0], knee[1], knee[2]), (foot.heading - turn) / 2)
        upper, lower = reach(
            (0.0, 0.0, 0.0), (sign * out, up, ahead), (sign * pole[0], *pole[1:]), THIGH, SHIN
        )
        toes = spun(vector_of(foot.toes), -turn)
        limbs[f"{side}_leg"] = Limb(upper, lower, (sign * toes[0], *toes[1:]), 0.0)
        limbs[f"{side}_arm"] = arm_of(v, side)
    amounts = dict(zip(NAMES, v[FIRST : FIRST + len(NAMES)].tolist(), strict=True))
    return Figure(turn=turn % 360, **amounts, **limbs)


def arm_of(v: Array, side: str) -> Limb:
    """The arm of a vector."""
    w, x, y, z, *numbers = v[ARM[side] : ARM[side] + 11].tolist()
    size = math.sqrt(w * w + x * x + y * y + z * z)
    return jointed(rows_of(w / size, x / size, y / size, z / size), numbers)


def arms_of(numbers: Array) -> Array:
    """Bones of arms, shape (n, 3, 3) as in `figure.bones_of`, of their part of vectors (n, 11)."""
    q = numbers[:, :4]
    return bones_of(matrices(q / np.sqrt((q * q).sum(axis=1))[:, None]), numbers[:, 4:])


def _hips(v: Array) -> list[list[float]]:
    """Where the left and the right hip are, the height counted from the pelvis."""
    pelvis = turned(float(v[TURN])) @ tipped(float(v[FIRST]), float(v[FIRST + 1]), 0)
    hips: list[list[float]] = (_HIPS @ pelvis.T + [v[X], 0.0, v[Z]]).tolist()
    return hips


def within_reach(v: Array, feet: Feet) -> None:
    """Carry the hips, in place, over feet that the legs would not reach."""
    for side, sign in SIDES:
        x, _, z = spun((sign * HIP[0], HIP[1], HIP[2]), float(v[TURN]))
        ankle = feet[side].ankle
        aside, ahead = float(ankle[0] - v[X]) - x, float(ankle[2] - v[Z]) - z
        far = math.hypot(aside, ahead)
        if far > _STRIDE:
            part = 1.0 - _STRIDE / far
            v[X] += part * aside
            v[Z] += part * ahead


def middle_of(v: Array, feet: Feet) -> float:
    """Where on the stage the middle of the body's picture is (x); see `anatomy`."""
    ankles = feet["left"].ankle[0] + feet["right"].ankle[0]
    return float(0.6 * v[X] + 0.2 * ankles)


def swivelled(v: Array, feet: Feet) -> Feet:
    """The feet turned on their balls as far as the hips have turned past them."""
    result = {}
    for side, foot in feet.items():
        apart = foot.heading - float(v[TURN])
        excess = apart - max(-SWIVEL, min(SWIVEL, apart))
        result[side] = foot.swivelled(-excess) if excess else foot
    return result


def slack_of(v: Array, feet: Feet, side: str) -> float:
    """How much shorter than straight a leg is from hip to ankle, in body heights."""
    hips = dict(zip(("left", "right"), _hips(v), strict=True))
    apart = math.dist(hips[side], feet[side].ankle - [0.0, v[HEIGHT], 0.0])
    return max(_TAUT, LONGEST - apart)


def _lowered(height: float, hip: list[float], foot: Foot, slack: float) -> float:
    """Height of the pelvis at which the leg from this hip (x, own y, z) reaches its foot.

    A knee would snap where its leg comes to be straight, as its bend goes with the root of what
    is left: within the slack the hips come to that height ever more slowly and never quite.
    """
    dx, dz = float(foot.ankle[0] - hip[0]), float(foot.ankle[2] - hip[2])
    aside = dx * dx + dz * dz
    rise = hip[1] - float(foot.ankle[1])
    over = (math.sqrt((height + rise) ** 2 + aside) - LONGEST) / slack
    if over <= -1.0:
        return height
    length = LONGEST - slack * math.exp(-1.0 - over)
    return min(height, math.sqrt(max(0.01, length * length - aside)) - rise)


def _pole(knee: Array, leg: Limb, upright: Array, sign: float) -> Array:
    """Which way a knee points, (out, up, forward) between the headings of hips and foot."""
    upper, lower = np.asarray(leg.upper), np.asarray(leg.lower)
    line = THIGH * upper + SHIN * lower
    line = line / np.linalg.norm(line)
    bend = upper - (upper @ line) * line
    if leg.bend < 3.0:
        bend = np.asarray(AHEAD) - line[2] * line
    half = math.radians(_outward(leg) / 2)
    c, s = math.cos(half), math.sin(half)
    x, y, z = bend / np.linalg.norm(bend)
    return np.array([c * x - s * z, y, s * x + c * z])


def _outward(leg: Limb) -> float:
    """Degrees a foot points out; 0 for one that points back, its instep on the floor."""
    out, _, ahead = leg.end
    return math.degrees(math.atan2(out, ahead)) if ahead > 0 else 0.0
