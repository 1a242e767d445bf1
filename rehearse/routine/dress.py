"""Competition dress over the body: the one coloured piece of a figure.

Conventions: places are (out, up, forward) in the frame of pelvis, chest (from the waist) or thigh
(to the back, along the bone, to the outside), in body heights.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from rehearse.routine.bones import Figure
from rehearse.routine.look import Look
from rehearse.routine.muscles import BallPlacer, Muscle
from rehearse.routine.rotation import Array
from rehearse.routine.skeleton import Frames, bones

#: Depth by which a panel counts as nearer from the side it is worn on.
_WORN = 0.045


def dress(figure: Figure, frames: Frames, look: Look) -> Iterator[Muscle]:
    """Briefs or board shorts, and what a woman wears above."""
    build = look.build
    h = BallPlacer(frames.points["pelvis"], frames.pelvis, 1.0, build.hips, build.hips)
    if look.dress == "board shorts":
        yield from _shorts(figure, frames, h, build.thighs)
        return
    yield from _briefs(h, frames.pelvis)
    if look.figure == "woman":
        c = BallPlacer(frames.points["waist"], frames.chest, 1.0, build.shoulders, build.chest)
        yield from _top(c, frames.chest)
        if look.dress == "one-piece":
            yield from _middle(c, h, frames.chest)


def _briefs(h: BallPlacer, pelvis: Array) -> Iterator[Muscle]:
    """A strap round the hips, a panel before and one behind."""
    for out in (0.078, -0.078):
        yield Muscle(
            (
                h(out, 0.042, 0.030, 0.011),
                h(out, 0.036, -0.036, 0.013),
                h(out, 0.022, -0.03, 0.011),
            ),
            "accent",
            0.004,
            proud=pelvis[:, 0] * math.copysign(0.05, out),
        )
    for forward, low in ((0.034, -0.036), (-0.050, -0.030)):
        yield Muscle(
            (
                h(0.066, 0.038, forward, 0.012),
                h(-0.066, 0.038, forward, 0.012),
                h(0.008, low, forward, 0.015),
                h(-0.008, low, forward, 0.015),
            ),
            "accent",
            0.004,
            proud=pelvis[:, 2] * math.copysign(_WORN, forward),
        )


def _top(c: BallPlacer, chest: Array) -> Iterator[Muscle]:
    """Two cups, the straps to the neck and the one behind."""
    ahead, toward = _WORN * chest[:, 2], float(chest[2, 2])
    if toward > -0.5:
        for sign in (1.0, -1.0):
            yield Muscle(
                (c(0.030 * sign, 0.196, 0.050, 0.0045), c(0.020 * sign, 0.238, 0.022, 0.0035)),
                "accent",
                0.002,
                proud=0.7 * ahead,
            )
            yield Muscle(
                (
                    c(0.046 * sign, 0.152, 0.058, 0.026),
                    c(0.062 * sign, 0.160, 0.046, 0.024),
                    c(0.034 * sign, 0.186, 0.050, 0.010),
                ),
                "accent",
                0.0035,
                bias=0.004,
                proud=ahead,
            )
    for sign in (1.0, -1.0):
        yield Muscle(
            (c(0.078 * sign, 0.145, 0.046, 0.006), c(0.108 * sign, 0.140, -0.020, 0.006)),
            "accent",
            0.002,
            proud=0.03 * sign * chest[:, 0],
        )
    if toward < 0.5:
        yield Muscle(
            (c(0.104, 0.138, -0.046, 0.006), c(-0.104, 0.138, -0.046, 0.006)),
            "accent",
            0.002,
            proud=-1.3 * ahead,
        )


def _middle(c: BallPlacer, h: BallPlacer, chest: Array) -> Iterator[Muscle]:
    """The panel of a one-piece over the belly; its back stays open."""
    if float(chest[2, 2]) > -0.4:
        yield Muscle(
            (
                c(0.050, 0.140, 0.048, 0.018),
                c(-0.050, 0.140, 0.048, 0.018),
                h(0.048, 0.036, 0.042, 0.014),
                h(-0.048, 0.036, 0.042, 0.014),
            ),
            "accent",
            0,
            proud=1.1 * _WORN * chest[:, 2],
        )


def _shorts(figure: Figure, frames: Frames, h: BallPlacer, girth: float) -> Iterator[Muscle]:
    """A waistband and two legs down to above the knee."""
    yield Muscle(
        (
            h(0.066, 0.036, 0.008, 0.030),
            h(-0.066, 0.036, 0.008, 0.030),
            h(0.050, 0.000, 0.0, 0.052),
            h(-0.050, 0.000, 0.0, 0.052),
        ),
        "accent",
        0.004,
        bias=0.030,
    )
    for side, sign in (("left", 1.0), ("right", -1.0)):
        upper, _ = bones(getattr(figure, f"{side}_leg"), frames.upright, sign, leg=True)
        t = BallPlacer(frames.points[f"{side} hip"], upper, 1.0, girth, girth)
        yield Muscle(
            (
                t(0.002, 0.0, 0.006, 0.062),
                t(-0.004, 0.10, 0.006, 0.062),
                t(-0.002, 0.158, 0.006, 0.060),
            ),
            "accent",
            0.004,
            bias=0.044,
        )
