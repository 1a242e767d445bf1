"""Arms and hands of a figure as muscles that change with the elbow, and hands with their grip.

Conventions: places on an arm are (toward the inside of the elbow, along the bone, along the
hinge), on a hand (to the thumb, to the fingers, out of the palm), in body heights.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from rehearse.routine.bones import HAND, Limb
from rehearse.routine.look import BodyBuild
from rehearse.routine.muscles import THIN, BallPlacer, Muscle
from rehearse.routine.rotation import Array, across, cross
from rehearse.routine.skeleton import Frames, bones

#: Degrees by which the fingers of a fist are rolled in.
_ROLLED = 155.0


def arm_muscles(
    arm: Limb, frames: Frames, side: str, sign: float, build: BodyBuild
) -> Iterator[Muscle]:
    """Shoulder, upper arm, forearm and hand.

    The biceps rises as the elbow bends; the heads of the triceps part as it is stretched.
    """
    p = frames.points
    upper, lower = bones(arm, frames.chest, sign, leg=False)
    a = BallPlacer(p[f"{side} shoulder"], upper, 1.0, build.arms, build.arms)
    f = BallPlacer(p[f"{side} elbow"], lower, 1.0, build.arms, build.arms)
    c = BallPlacer(p[f"{side} shoulder"], frames.chest, sign, build.shoulders, build.arms)
    flex = min(1.0, arm.bend / 110)
    yield from _upper_arm(a, flex, min(1.0, max(0.0, 1.0 - arm.bend / 45)))
    yield Muscle(
        (c(0.0, 0.004, 0, 0.046), a(0.0, 0.030, 0, 0.040), a(-0.004, 0.066, 0, 0.016)),
        gap=0.004,
        bias=0.040,
    )
    yield from _forearm(f, arm.grip)
    yield from _hand(arm, p[f"{side} wrist"], p[f"{side} hand"], lower, build)


def _upper_arm(a: BallPlacer, flex: float, stretch: float) -> Iterator[Muscle]:
    yield Muscle((a(0, 0.03, 0, 0.034), a(0, 0.10, 0, 0.033), a(0, 0.165, 0, 0.026)), bias=0.020)
    # Bent, the biceps is short and high; stretched, long and flat.
    yield Muscle(
        (
            a(0.014 + 0.033 * flex, 0.100, 0, 0.027 + 0.012 * flex),
            a(0.010 + 0.008 * flex, 0.060 + 0.008 * flex, 0, 0.025),
            a(0.008, 0.150 - 0.008 * flex, 0, 0.018),
        ),
        gap=THIN,
        bias=0.030,
    )
    thick = 0.005 * stretch
    for aside in (1.0, -1.0):
        yield Muscle(
            (
                a(-0.020 - thick, 0.066 + 0.012 * aside, 0.009 * aside, 0.029 + thick),
                a(-0.020 - thick, 0.104, 0.011 * aside, 0.024 + thick),
                a(-0.010, 0.150 - 0.014 * stretch, 0.008 * aside, 0.013),
            ),
            gap=THIN * stretch,
            bias=0.026,
        )


def _forearm(f: BallPlacer, grip: float) -> Iterator[Muscle]:
    swell = 0.003 * grip  # what closes the hand lies in the forearm
    yield Muscle(
        (
            f(0, 0.0, 0, 0.027),
            f(0.003, 0.036, 0, 0.034 + swell),
            f(0.001, 0.080, 0, 0.027),
            f(0, 0.142, 0, 0.0165),
        ),
        gap=0.004,
        bias=0.036,
    )
    yield Muscle(
        (
            f(0.014, 0.008, 0.004, 0.022),
            f(0.014, 0.042, 0.004, 0.022 + swell),
            f(0.004, 0.11, 0.002, 0.012),
        ),
        gap=THIN,
        bias=0.040,
    )


def _hand(arm: Limb, wrist: Array, hand: Array, lower: Array, build: BodyBuild) -> Iterator[Muscle]:
    """Palm, fingers and thumb: open, around something, or closed to a fist."""
    fold, hinge = lower[:, 0], lower[:, 2]
    c, s = math.cos(math.radians(arm.roll)), math.sin(math.radians(arm.roll))
    along = (hand - wrist) / HAND
    inside = across(c * fold + s * hinge, along)
    thumb = cross(inside, along)
    thumb = thumb if float(thumb @ (s * fold - c * hinge)) > 0 else -thumb
    girth = 0.5 + 0.5 * build.arms
    h = BallPlacer(wrist, np.column_stack([thumb, along, inside]), 1.0, girth, girth)
    g = max(0.0, min(1.0, arm.grip))
    yield Muscle(
        (h(0, 0, 0, 0.014), h(0.011, 0.042, 0, 0.0135 + 0.003 * g), h(-0.011, 0.040, 0, 0.013)),
        gap=0.0035,
        bias=0.044,
    )
    roll = math.radians(_ROLLED * g)
    up, deep = math.cos(roll), math.sin(roll)
    reach, thick = 0.046 - 0.020 * g, 0.0065 + 0.0065 * g
    yield Muscle(
        (
            h(0.011, 0.045, 0.004 * g, 0.0095 + 0.004 * g),
            h(-0.011, 0.043, 0.004 * g, 0.0090 + 0.004 * g),
            h(0.006 + 0.004 * g, 0.045 + reach * up, 0.010 * g + reach * deep, thick),
            h(-0.008, 0.043 + 0.86 * reach * up, 0.010 * g + 0.86 * reach * deep, thick),
        ),
        gap=THIN,
        bias=0.046,
    )
    yield Muscle(
        (
            h(0.013, 0.014, 0.004, 0.010),
            h(0.024 - 0.006 * g, 0.030, 0.004 + 0.014 * g, 0.0085),
            h(0.031 - 0.029 * g, 0.047 - 0.006 * g, 0.004 + 0.026 * g, 0.0062),
        ),
        gap=THIN,
        bias=0.047,
    )
