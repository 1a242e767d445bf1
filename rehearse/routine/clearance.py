"""Arms that go round the trunk and the head, not through them.

The trunk is an upright ellipse in the frame of the chest, the head a ball, both a little smaller
than they are drawn: hands may lie on the body.
"""

from __future__ import annotations

import numpy as np

from rehearse.routine.bones import FOREARM, HAND, HEAD, NECK, SHOULDER, UPPER_ARM, Limb, direction
from rehearse.routine.rotation import Array

#: Half width and half depth of the trunk at the waist and at the chest, radius of head and neck.
_WAIST, _CHEST, _DEPTH, _HEAD = 0.078, 0.105, 0.046, 0.042
_LOW, _HIGH = -0.09, 0.215
#: Parts of forearm and hand that are looked at, and of the upper arm.
_PARTS = np.linspace(0.0, 1.0, 6)[:, None]
_UPPER = np.array([[0.55], [0.8]])

#: What an arm may be led over: (upper, lower) as [lift, swing].
DETOURS = tuple(
    (direction(*upper), direction(*lower))
    for upper, lower in (
        ((72, 50), (80, 55)),
        ((75, 5), (80, 15)),
        ((60, -25), (70, -10)),
        ((95, 60), (110, 75)),
        ((115, 25), (125, 40)),
        ((150, 10), (160, 20)),
        ((88, -18), (92, -8)),
        ((48, 12), (55, 35)),
        ((110, -15), (120, 0)),
    )
)


def depth(
    arm: Limb, shrug: float = 0.0, tip: tuple[float, float, float] = (0.0, 0.0, 0.0)
) -> float:
    """How deep, in body heights, an arm is in trunk or head; 0 or less where it is clear.

    Args:
        arm: in the frame of the chest. shrug: of the shoulders. tip: nod, tilt and look of the
            head in degrees.
    """
    bones = np.array([[arm.upper, arm.lower, arm.end]])
    return float(depths(bones, np.array([shrug]), np.array([tip[:2]]))[0])


def depths(bones: Array, shrugs: Array, tips: Array) -> Array:
    """The same of many arms at once, shape (n,).

    Args:
        bones: directions of upper arm, forearm and hand, shape (n, 3, 3). shrugs: shape (n,).
        tips: nod and tilt of the head in degrees, shape (n, 2).
    """
    shoulder = np.zeros((len(bones), 1, 3)) + SHOULDER
    shoulder[:, 0, 1] += 0.022 * shrugs
    upper, lower, end = UPPER_ARM * bones[:, :1], FOREARM * bones[:, 1:2], bones[:, 2:]
    elbow = shoulder + upper
    points = np.concatenate(
        [shoulder + _UPPER * upper, elbow + _PARTS * lower, elbow + lower + HAND * 0.7 * end],
        axis=1,
    )
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    wide = _WAIST + np.clip((y - 0.03) / 0.12, 0.0, 1.0) * (_CHEST - _WAIST)
    inside = (1 - np.sqrt((x / wide) ** 2 + (z / _DEPTH) ** 2)) * _DEPTH
    inside = np.minimum(inside, np.minimum(y - _LOW, _HIGH - y))
    nod, tilt = np.radians(tips.T)
    head = np.stack([np.sin(tilt), np.cos(nod), np.sin(nod)], axis=1) * HEAD[1] + NECK
    away = np.sqrt(((points - head[:, None]) ** 2).sum(axis=2))
    return np.asarray(np.maximum(inside.max(axis=1), _HEAD - away.min(axis=1)))
