"""Legs and feet of a figure as muscles that change with knee and heel.

Conventions: places on a leg are (to the back of the leg, along the bone, to the outside), on a
foot (to the outside, out of the sole, to the toes), in body heights.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from rehearse.routine.bones import FOOT, Limb
from rehearse.routine.look import BodyBuild
from rehearse.routine.muscles import THIN, BallPlacer, Muscle
from rehearse.routine.rotation import Array, across
from rehearse.routine.skeleton import Frames, bones

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


def leg_muscles(
    leg: Limb,
    frames: Frames,
    side: str,
    sign: float,
    build: BodyBuild,
    *,
    bare: bool = True,
    heels: bool = False,
) -> Iterator[Muscle]:
    """Thigh, knee, calf and foot; the calf is drawn up when the heel is.

    Args:
        leg, frames, side, sign, build: the limb, where it is, and the body's girths.
        bare: whether the muscles of the thigh are seen. heels: whether the shoe has one.
    """
    p = frames.points
    upper, lower = bones(leg, frames.upright, sign, leg=True)
    t = BallPlacer(p[f"{side} hip"], upper, 1.0, build.thighs, build.thighs)
    s = BallPlacer(p[f"{side} knee"], lower, 1.0, build.calves, build.calves)
    yield Muscle((t(0.004, 0.0, 0.006, 0.058), t(0.0, 0.11, 0.002, 0.056), t(0, 0.235, 0, 0.034)))
    for balls in _THIGH if bare else ():
        yield Muscle(tuple(t(*ball) for ball in balls), gap=THIN)
    yield Muscle((t(-0.016, 0.236, 0, 0.020), s(-0.014, 0.012, 0, 0.020)), gap=THIN, bias=0.006)
    pointed = float(np.dot(leg.lower, leg.end))  # 1: the foot goes on where the shin ends
    yield from _calf(s, min(1.0, max(0.0, 2.2 * pointed)))
    yield from _foot(p[f"{side} ankle"], p[f"{side} toes"], lower, heels=heels)


def _calf(s: BallPlacer, drawn: float) -> Iterator[Muscle]:
    yield Muscle(
        (
            s(0, 0.0, 0, 0.031),
            s(0.008, 0.068, 0, 0.038),
            s(0.005, 0.15, 0, 0.024),
            s(0, 0.228, 0, 0.018),
        ),
        gap=0.004,
    )
    up, thick = 0.014 * drawn, 0.004 * drawn
    for inside in (1, -1):
        yield Muscle(
            (
                s(0.020 + thick, 0.050 - 0.4 * up, 0.024 * inside, 0.028 + thick),
                s(0.020 + thick, 0.086 - up, 0.025 * inside, 0.028 + thick),
                s(0.010, 0.142 - up, 0.009 * inside, 0.014),
            ),
            gap=THIN,
        )


def _foot(ankle: Array, toes: Array, shin: Array, *, heels: bool) -> Iterator[Muscle]:
    """Heel and instep, then the ball and the toes, which lie flat where the heel is raised."""
    way = (toes - ankle) / FOOT
    sole = across(-shin[:, 1], way)
    aside = across(shin[:, 2], way)
    aside = aside - (aside @ sole) * sole
    level = np.array([way[0], 0.0, way[2]])
    span = float(np.linalg.norm(level))
    pitch = min(1.0, max(0.0, -2.0 * float(way[1]))) if span > 0.05 else 0.0
    f = BallPlacer(ankle, np.column_stack([aside, sole, way]))
    yield Muscle(
        (
            f(0, 0.0, -0.002, 0.020),
            f(0, -0.002, -0.018, 0.0175),
            f(0, -0.001, 0.044, 0.0185),
        ),
        gap=0.004,
    )
    # A heel that is raised bends the foot at its ball; toes that touch the floor stay on it.
    ball = ankle + 0.074 * way
    bent = (1 - pitch) * way + pitch * level / max(0.05, span)
    ball = ball + np.array([0.0, pitch * 0.6 * float(toes[1] - ball[1]), 0.0])
    b = BallPlacer(ball, np.column_stack([aside, sole, bent / np.linalg.norm(bent)]))
    yield Muscle(
        (
            f(0, 0.0, 0.038, 0.0170),
            b(0.010, 0.0, 0.0, 0.0150),
            b(-0.010, 0.0, 0.002, 0.0155),
            b(-0.003, -0.003, 0.034, 0.0105),
        ),
        gap=THIN,
    )
    if heels:
        # From under the heel straight down to the floor the toes stand on.
        yield Muscle(
            (f(0, -0.004, -0.028, 0.012), f(0, -0.024, -0.014, 0.006), f(0, -0.064, 0.012, 0.0045)),
            "shade",
            0.003,
        )
