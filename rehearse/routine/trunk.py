"""Head and trunk of a figure as muscles.

Conventions: places are (out, up, forward) in the frame of head, chest (from the waist) or pelvis,
in body heights.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from rehearse.routine.bones import Figure
from rehearse.routine.masses import THIN, Mass, Place
from rehearse.routine.rotation import Array
from rehearse.routine.skeleton import Frames

#: From this much drawn in, the belly is painted hollow under the ribs.
HOLLOW = 0.5


def head(frames: Frames) -> Iterator[Mass]:
    """Neck, face, hair and ears."""
    p, points = Place(frames.points["head"], frames.head), frames.points
    chest = Place(points["neck"], frames.chest)
    yield Mass(
        (
            chest(0.012, -0.030, -0.010, 0.030),
            chest(-0.012, -0.030, -0.010, 0.030),
            p(0, -0.034, -0.010, 0.031),
        )
    )
    yield Mass((p(0, 0.014, 0.0, 0.043), p(0, -0.016, 0.014, 0.033), p(0, -0.036, 0.022, 0.020)))
    yield Mass((p(0, -0.007, 0.050, 0.006), p(0, 0.010, 0.044, 0.003)), tone="shade", gap=0)
    # Hair: a cap that tells the back of the head from the face at any size.
    yield Mass(
        (p(0, 0.022, -0.012, 0.043), p(0, 0.030, 0.004, 0.037), p(0, -0.012, -0.022, 0.031)),
        tone="shade",
        gap=0.003,
    )
    for sign in (1.0, -1.0):
        q = Place(points["head"], frames.head, sign)
        yield Mass((q(0.042, 0.002, -0.004, 0.008), q(0.040, -0.010, -0.002, 0.005)), gap=THIN)


def trunk(figure: Figure, frames: Frames) -> Iterator[Mass]:
    """Chest, belly, back, hips and briefs."""
    yield from _core(figure, frames)
    for sign in (1.0, -1.0):
        yield from _front(figure, frames, sign)
        yield from _back(figure, frames, sign)


def _core(figure: Figure, frames: Frames) -> Iterator[Mass]:
    c = Place(frames.points["waist"], frames.chest)
    h = Place(frames.points["pelvis"], frames.pelvis)
    slim = 0.014 * figure.hollow
    yield Mass((c(0.06, 0.155, 0, 0.062), c(-0.06, 0.155, 0, 0.062), c(0, 0.06, 0.004, 0.060)))
    yield Mass(
        (
            c(0.034, 0.05, 0.0, 0.050 - slim),
            c(-0.034, 0.05, 0.0, 0.050 - slim),
            h(0.040, 0.050, 0, 0.048),
            h(-0.040, 0.050, 0, 0.048),
        ),
        gap=0,
    )
    yield from _briefs(h, frames.pelvis)
    behind = -0.03 * frames.chest[:, 2]
    yield Mass((c(0, 0.2, -0.064, 0.003), c(0, 0, -0.052, 0.003)), "gap", 0, proud=behind)
    if figure.hollow > HOLLOW:
        belly = (c(0.040, 0.05, 0.04, 0.018), c(-0.040, 0.05, 0.04, 0.018))
        yield Mass((c(0, 0.1, 0.04, 0.02), *belly, c(0, 0, 0.04, 0.034)), "shade", THIN, 0.01)
        line = (c(0, 0.088, 0.06, 0.0016), c(0, -0.01, 0.06, 0.0016))
        yield Mass(line, "gap", 0, proud=-behind)


def _briefs(h: Place, pelvis: Array) -> Iterator[Mass]:
    """The one coloured piece: a strap round the hips, a panel before and one behind."""
    for out in (0.078, -0.078):
        yield Mass(
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
        yield Mass(
            (
                h(0.066, 0.038, forward, 0.012),
                h(-0.066, 0.038, forward, 0.012),
                h(0.008, low, forward, 0.015),
                h(-0.008, low, forward, 0.015),
            ),
            "accent",
            0.004,
            proud=pelvis[:, 2] * math.copysign(0.045, forward),
        )


def _front(figure: Figure, frames: Frames, sign: float) -> Iterator[Mass]:
    c = Place(frames.points["waist"], frames.chest, sign)
    h = Place(frames.points["pelvis"], frames.pelvis, sign)
    lift = 0.014 * figure.shrug
    yield Mass(
        (
            c(0.039, 0.160, 0.036, 0.035),
            c(0.084, 0.172 + lift, 0.026, 0.033),
            c(0.102, 0.198 + lift, 0.012, 0.024),
            c(0.030, 0.204, 0.024, 0.024),
        ),
        bias=0.006,
    )
    if figure.hollow > HOLLOW:
        # The edge of the ribs stands out over the belly that is drawn in.
        yield Mass(
            (
                c(0.016, 0.112, 0.046, 0.016),
                c(0.052, 0.082, 0.040, 0.020),
                c(0.074, 0.060, 0.020, 0.014),
            ),
            gap=THIN,
            bias=0.012,
        )
    else:
        for up, out, forward in (
            (0.106, 0.026, 0.046),
            (0.070, 0.025, 0.046),
            (0.034, 0.023, 0.044),
        ):
            yield Mass(
                (
                    c(out - 0.009, up - 0.004, forward, 0.015),
                    c(out + 0.007, up, forward - 0.004, 0.015),
                    c(out - 0.009, up + 0.006, forward, 0.015),
                ),
                gap=THIN,
            )
        yield Mass(
            (
                c(0.016, 0.000, 0.042, 0.014),
                c(0.022, 0.004, 0.040, 0.012),
                h(0.010, 0.046, 0.038, 0.012),
            ),
            gap=THIN,
        )
    yield Mass(
        (
            c(0.070, 0.062, 0.004, 0.016),
            c(0.058, 0.022, 0.012, 0.026),
            h(0.064, 0.066, 0.006, 0.020),
            h(0.052, 0.058, 0.014, 0.018),
        ),
        gap=0,
    )


def _back(figure: Figure, frames: Frames, sign: float) -> Iterator[Mass]:
    c = Place(frames.points["waist"], frames.chest, sign)
    h = Place(frames.points["pelvis"], frames.pelvis, sign)
    wide, lift = 0.034 * figure.lats, 0.020 * figure.shrug
    # Latissimus: from under the arm down to the waist; it makes the V.
    yield Mass(
        (
            c(0.084 + wide, 0.150, -0.016, 0.040),
            c(0.072 + wide * 0.8, 0.110, -0.020, 0.038),
            c(0.046 + wide * 0.2, 0.035, -0.014, 0.032),
            c(0.030, 0.010, -0.012, 0.030),
        ),
        gap=THIN,
    )
    # Trapezius, shoulder blade, and the long muscles beside the spine.
    yield Mass(
        (
            c(0.014, 0.268, -0.016, 0.020),
            c(0.110, 0.226 + lift, -0.012, 0.022),
            c(0.016, 0.205, -0.030, 0.030),
        ),
        gap=THIN,
    )
    yield Mass(
        (
            c(0.040, 0.196, -0.038, 0.026),
            c(0.092, 0.196, -0.032, 0.026),
            c(0.070, 0.150, -0.038, 0.022),
        ),
        gap=THIN,
    )
    yield Mass(
        (
            c(0.016, 0.200, -0.044, 0.020),
            c(0.032, 0.190, -0.044, 0.018),
            c(0.010, 0.095, -0.044, 0.012),
        ),
        gap=THIN,
    )
    yield Mass((c(0.018, 0.070, -0.036, 0.016), h(0.020, 0.066, -0.034, 0.020)), gap=THIN)
    yield Mass(
        (
            h(0.044, -0.010, -0.036, 0.044),
            h(0.058, 0.022, -0.022, 0.036),
            h(0.040, 0.024, -0.030, 0.034),
        ),
        gap=0.004,
    )
