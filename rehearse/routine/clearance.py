"""Arms that go round the trunk and the head, not through them.

The trunk is an upright ellipse in the frame of the chest, the head a ball, both a little smaller
than they are drawn: hands may lie on the body.
"""

from __future__ import annotations

import math

import numpy as np

from rehearse.routine.bones import FOREARM, HAND, HEAD, NECK, SHOULDER, UPPER_ARM, Limb, direction

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
    upper, lower, end = (np.asarray(b) for b in (arm.upper, arm.lower, arm.end))
    shoulder = np.array([SHOULDER[0], SHOULDER[1] + 0.022 * shrug, SHOULDER[2]])
    elbow = shoulder + UPPER_ARM * upper
    wrist = elbow + FOREARM * lower
    hand = wrist + HAND * 0.7 * end
    points = np.concatenate(
        [shoulder + _UPPER * (elbow - shoulder), elbow + _PARTS * (wrist - elbow), hand[None]]
    )
    x, y, z = points.T
    part = np.clip((y - 0.03) / 0.12, 0.0, 1.0)
    wide = _WAIST + part * (_CHEST - _WAIST)
    inside = (1 - np.sqrt((x / wide) ** 2 + (z / _DEPTH) ** 2)) * _DEPTH
    inside = np.minimum(inside, np.minimum(y - _LOW, _HIGH - y))
    nod, tilt = math.radians(tip[0]), math.radians(tip[1])
    head = np.array([math.sin(tilt) * HEAD[1], HEAD[1] * math.cos(nod), HEAD[1] * math.sin(nod)])
    away = np.linalg.norm(points - np.asarray(NECK) - head, axis=1)
    return float(max(inside.max(), _HEAD - away.min()))
