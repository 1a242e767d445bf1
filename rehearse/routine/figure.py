"""The jointed figure: how one pose is mirrored, told from another, and becomes the next.

See `routine.skeleton` for the conventions of bones, sides and angles.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from rehearse.routine import bones
from rehearse.routine.bones import Figure, Limb, Vector, mirrored
from rehearse.routine.rotation import Array, across, cross, rotate_toward
from rehearse.routine.skeleton import joints, orientation

__all__ = ["Figure", "Limb", "between", "distance", "joints", "mirrored"]

_ANGLES = ("lean", "hips", "bend", "side", "twist", "nod", "tilt", "look")
_AMOUNTS = ("shrug", "lats", "hollow")


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
    mixed: dict[str, Any] = {
        name: _mix(getattr(a, name), getattr(b, name), s) for name in _ANGLES + _AMOUNTS
    }
    limbs: dict[str, Any] = {
        name: _limb_between(getattr(a, name), getattr(b, name), s, leg=name.endswith("leg"))
        for name in ("left_arm", "right_arm", "left_leg", "right_leg")
    }
    figure = Figure(turn=(a.turn + s * turn) % 360, **mixed, **limbs)
    return _stepping(a, b, figure, t, abs(turn))


def distance(a: Figure, b: Figure) -> float:
    """Root mean square distance of the joints of two figures, in body heights."""
    p, q = joints(a), joints(b)
    return math.sqrt(sum(float(np.sum((p[k] - q[k]) ** 2)) for k in p) / len(p))


def _limb_between(a: Limb, b: Limb, s: float, *, leg: bool) -> Limb:
    (start, fold_a), (goal, fold_b) = loosened(a, leg=leg), loosened(b, leg=leg)
    mixed = _mix_array(fold_a, fold_b, s)
    return jointed(rotate_toward(start, goal, s).tolist(), mixed.tolist())


def loosened(limb: Limb, *, leg: bool = False) -> tuple[Array, Array]:
    """A limb as the frame of its upper bone and seven numbers that can be mixed: see `jointed`."""
    frame = orientation(limb, leg)
    along, up, aside = (float(v) for v in frame.T @ np.asarray(limb.lower))
    # Hand and foot ride on the lower bone and change their angle to it on the way.
    end = _seat(frame[:, 2], np.asarray(limb.lower)).T @ np.asarray(limb.end)
    return frame, np.array([math.atan2(up, along), aside, *end, limb.grip, limb.roll])


def jointed(frame: Sequence[Sequence[float]], numbers: Sequence[float]) -> Limb:
    """A limb of the frame of its upper bone, by rows, and seven numbers.

    Args:
        numbers: fold, radians of the lower bone in the plane of the hinge; aside, how far it
            leaves that plane; three of the direction of hand or foot on the lower bone; grip
            and roll.

    In plain numbers, as for one limb NumPy takes four times as long.
    """
    (a, b, c), (d, e, f), (g, h, i) = frame
    fold, aside, p, q, r, grip, roll = numbers
    level = math.sqrt(1 - aside**2)
    along, up = level * math.cos(fold), level * math.sin(fold)
    x, y, z = (
        a * along + b * up + c * aside,
        d * along + e * up + f * aside,
        g * along + h * up + i * aside,
    )
    u, v, w = bones.across((c, f, i), (x, y, z))
    s, t, o = v * z - w * y, w * x - u * z, u * y - v * x
    size = math.sqrt(p * p + q * q + r * r)
    end = (
        (x * p + s * q + u * r) / size,
        (y * p + t * q + v * r) / size,
        (z * p + o * q + w * r) / size,
    )
    return Limb((a, d, g), (x, y, z), end, grip, roll)


def bones_of(frames: Array, numbers: Array) -> Array:
    """Directions of upper bone, lower bone and end of many limbs, shape (n, 3, 3).

    Args:
        frames: of their upper bones, shape (n, 3, 3). numbers: as in `jointed`, shape (n, 7).
    """
    fold, aside = numbers[:, 0], numbers[:, 1]
    level = np.sqrt(1 - aside**2)
    result = np.empty_like(frames)
    result[:, 0] = frames[:, :, 0]
    bent = np.stack([level * np.cos(fold), level * np.sin(fold), aside], axis=1)
    result[:, 1] = lower = np.einsum("nij,nj->ni", frames, bent)
    seats = _seats(frames[:, :, 2], lower)
    end = numbers[:, 2:5] / np.sqrt((numbers[:, 2:5] ** 2).sum(axis=1))[:, None]
    result[:, 2] = np.einsum("nji,nj->ni", seats, end)
    return result


def _seats(hinges: Array, lower: Array) -> Array:
    """As `_seat` for many bones, each frame's columns as rows, shape (n, 3, 3)."""
    side = hinges - (hinges * lower).sum(axis=1)[:, None] * lower
    square = (side**2).sum(axis=1)
    for k in np.flatnonzero(square < 1e-9):
        side[k] = across(hinges[k], lower[k])
        square[k] = 1.0
    side /= np.sqrt(square)[:, None]
    seats = np.empty((len(lower), 3, 3))
    seats[:, 0], seats[:, 2] = lower, side
    (a, b, c), (x, y, z) = side.T, lower.T
    seats[:, 1, 0], seats[:, 1, 1], seats[:, 1, 2] = b * z - c * y, c * x - a * z, a * y - b * x
    return seats


def _seat(hinge: Array, lower: Array) -> Array:
    """Frame of a lower bone, its columns along it, across and along the hinge."""
    side = across(hinge, lower)
    return np.column_stack([lower, cross(side, lower), side])


def _stepping(a: Figure, b: Figure, figure: Figure, t: float, turn: float) -> Figure:
    legs: dict[str, Any] = {}
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


def _mix(a: float, b: float, s: float) -> float:
    return a + (b - a) * s


def _mix_array(a: Array, b: Array, s: float) -> Array:
    return np.asarray(a + (b - a) * s)
