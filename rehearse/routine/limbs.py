"""Arms and legs of a figure as muscles.

Conventions: places on a limb are (toward the fold, along the bone, along the hinge), in body
heights; the hinge of a leg points outward.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from rehearse.routine.bones import Limb
from rehearse.routine.masses import THIN, Mass, Place
from rehearse.routine.rotation import Array
from rehearse.routine.skeleton import Frames, bones


def arm_masses(arm: Limb, frames: Frames, side: str, sign: float) -> Iterator[Mass]:
    """Shoulder, upper arm, forearm and hand; the biceps rises as the elbow bends."""
    p = frames.points
    upper, lower = bones(arm, frames.chest, sign, leg=False)
    a = Place(p[f"{side} shoulder"], upper)
    f = Place(p[f"{side} elbow"], lower)
    c = Place(p[f"{side} shoulder"], frames.chest, sign)
    flex = min(1.0, arm.bend / 110)
    # Here `out` runs to the side the arm folds to, `up` along the bone.
    yield Mass((a(0, 0.03, 0, 0.034), a(0, 0.10, 0, 0.033), a(0, 0.165, 0, 0.026)), bias=0.020)
    yield Mass(
        (
            a(0.014 + 0.030 * flex, 0.102, 0, 0.028 + 0.012 * flex),
            a(0.010 + 0.008 * flex, 0.060, 0, 0.025),
            a(0.008, 0.150, 0, 0.018),
        ),
        gap=THIN,
        bias=0.030,
    )
    yield Mass(
        (a(-0.022, 0.074, 0, 0.034), a(-0.019, 0.108, 0, 0.029), a(-0.005, 0.160, 0, 0.019)),
        gap=THIN,
        bias=0.026,
    )
    yield Mass(
        (c(0.0, 0.004, 0, 0.046), a(0.0, 0.030, 0, 0.040), a(-0.004, 0.066, 0, 0.016)),
        gap=0.004,
        bias=0.040,
    )
    yield Mass(
        (
            f(0, 0.0, 0, 0.027),
            f(0.003, 0.036, 0, 0.037),
            f(0.001, 0.080, 0, 0.027),
            f(0, 0.146, 0, 0.0165),
        ),
        gap=0.004,
        bias=0.036,
    )
    yield Mass(
        (
            f(0.014, 0.008, 0.004, 0.022),
            f(0.014, 0.042, 0.004, 0.025),
            f(0.004, 0.11, 0.002, 0.012),
        ),
        gap=THIN,
        bias=0.040,
    )
    yield _hand(arm, p[f"{side} wrist"], p[f"{side} hand"])


def _hand(arm: Limb, wrist: Array, hand: Array) -> Mass:
    along = (hand - wrist) / np.linalg.norm(hand - wrist)
    g = arm.grip
    palm, tip = wrist + 0.026 * along, wrist + (0.076 - 0.042 * g) * along
    balls = ((wrist, 0.015), (palm, 0.017 + 0.007 * g), (tip, 0.009 + 0.014 * g))
    return Mass(balls, bias=0.044, gap=0.0035)


#: The muscles of a thigh, each of balls (to the back of the leg, along the bone, to the outside,
#: radius): outer, middle and inner one before, outer and inner one behind.
_THIGH = (
    (
        (-0.020, 0.085, 0.026, 0.040),
        (-0.014, 0.140, 0.026, 0.036),
        (-0.008, 0.208, 0.014, 0.022),
    ),
    (
        (-0.030, 0.070, 0.004, 0.032),
        (-0.028, 0.130, 0.004, 0.030),
        (-0.018, 0.205, 0.002, 0.018),
    ),
    (
        (-0.018, 0.130, -0.016, 0.034),
        (-0.014, 0.190, -0.018, 0.026),
        (-0.010, 0.214, -0.014, 0.022),
    ),
    ((0.020, 0.080, 0.014, 0.038), (0.018, 0.150, 0.014, 0.030), (0.012, 0.228, 0.014, 0.014)),
    (
        (0.020, 0.080, -0.016, 0.036),
        (0.018, 0.150, -0.014, 0.028),
        (0.012, 0.228, -0.014, 0.014),
    ),
)


def leg_masses(leg: Limb, frames: Frames, side: str, sign: float) -> Iterator[Mass]:
    """Thigh, knee, calf and foot."""
    p = frames.points
    upper, lower = bones(leg, frames.upright, sign, leg=True)
    t = Place(p[f"{side} hip"], upper)
    s = Place(p[f"{side} knee"], lower)
    # Here `out` runs to the back of the leg, `up` along the bone, `forward` to the outside.
    yield Mass((t(0.004, 0.0, 0.006, 0.058), t(0.0, 0.11, 0.002, 0.056), t(0, 0.235, 0, 0.034)))
    for balls in _THIGH:
        yield Mass(tuple(t(*ball) for ball in balls), gap=THIN)
    yield Mass((t(-0.016, 0.236, 0, 0.020), s(-0.014, 0.012, 0, 0.020)), gap=THIN, bias=0.006)
    yield Mass(
        (
            s(0, 0.0, 0, 0.031),
            s(0.008, 0.068, 0, 0.040),
            s(0.005, 0.15, 0, 0.024),
            s(0, 0.232, 0, 0.018),
        ),
        gap=0.004,
    )
    for inside in (1, -1):
        yield Mass(
            (
                s(0.020, 0.050, 0.024 * inside, 0.029),
                s(0.020, 0.086, 0.025 * inside, 0.029),
                s(0.010, 0.142, 0.009 * inside, 0.014),
            ),
            gap=THIN,
        )
    ankle, way = p[f"{side} ankle"], p[f"{side} toes"] - p[f"{side} ankle"]
    yield Mass(
        (
            (ankle - 0.16 * way, 0.020),
            (ankle + 0.1 * way, 0.022),
            (ankle + 0.62 * way, 0.020),
            (ankle + 0.95 * way, 0.013),
        ),
        gap=0.004,
    )
