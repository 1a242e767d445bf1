"""The trunk of a figure as muscles that change with shoulders, belly and back.

Conventions: places are (out, up, forward) in the frame of chest (from the waist) or pelvis, in
body heights.
"""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.bones import Figure, Limb
from rehearse.routine.look import BodyBuild
from rehearse.routine.muscles import THIN, BallPlacer, Muscle
from rehearse.routine.skeleton import Frames

#: From this much drawn in, the belly is painted hollow under the ribs.
HOLLOW = 0.5


#: Part of the chest's front that must point away before what lies on it is left out.
_AWAY = 0.45


def trunk(figure: Figure, frames: Frames, build: BodyBuild, *, bare: bool) -> Iterator[Muscle]:
    """Chest, belly, back and hips; what lies wholly behind the body is left out.

    Args:
        figure, frames, build: the pose, its joints, and the body that takes it.
        bare: whether the seat is seen.
    """
    yield from _core(figure, frames, build)
    toward = float(frames.chest[2, 2])
    for side, sign in (("left", 1.0), ("right", -1.0)):
        c = BallPlacer(frames.points["waist"], frames.chest, sign, build.shoulders, build.chest)
        slim = build.shoulders * build.waist
        waist = BallPlacer(frames.points["waist"], frames.chest, sign, slim, build.waist)
        h = BallPlacer(frames.points["pelvis"], frames.pelvis, sign, build.hips, build.hips)
        if toward > -_AWAY:
            yield from _front(figure, getattr(figure, f"{side}_arm"), c)
            yield from _belly(figure, c, h)
        yield _flank(waist, h)
        yield from _wings(figure, c)
        if toward < _AWAY:
            yield from _back(c, h, 0.020 * figure.shrug)
        if bare:
            yield _seat(h)


def _core(figure: Figure, frames: Frames, build: BodyBuild) -> Iterator[Muscle]:
    c = BallPlacer(frames.points["waist"], frames.chest, 1.0, build.shoulders, build.chest)
    h = BallPlacer(frames.points["pelvis"], frames.pelvis, 1.0, build.hips, build.hips)
    w = BallPlacer(
        frames.points["waist"], frames.chest, 1.0, build.shoulders * build.waist, build.waist
    )
    slim = 0.014 * figure.hollow
    yield Muscle((c(0.06, 0.155, 0, 0.062), c(-0.06, 0.155, 0, 0.062), c(0, 0.06, 0.004, 0.060)))
    yield Muscle(
        (
            w(0.034, 0.05, 0.0, 0.050 - slim),
            w(-0.034, 0.05, 0.0, 0.050 - slim),
            h(0.040, 0.050, 0, 0.048),
            h(-0.040, 0.050, 0, 0.048),
        ),
        gap=0,
    )
    behind = -0.03 * frames.chest[:, 2]
    if float(frames.chest[2, 2]) < _AWAY:
        yield Muscle((c(0, 0.2, -0.064, 0.003), c(0, 0, -0.052, 0.003)), "gap", 0, proud=behind)
    if figure.hollow > HOLLOW:
        belly = (c(0.040, 0.05, 0.04, 0.018), c(-0.040, 0.05, 0.04, 0.018))
        yield Muscle((c(0, 0.1, 0.04, 0.02), *belly, c(0, 0, 0.04, 0.034)), "shade", THIN, 0.01)
        line = (c(0, 0.088, 0.06, 0.0016), c(0, -0.01, 0.06, 0.0016))
        yield Muscle(line, "gap", 0, proud=-behind)


def _front(figure: Figure, arm: Limb, c: BallPlacer) -> Iterator[Muscle]:
    """The chest muscle follows the arm: flat under a raised one, full behind one held ahead."""
    lift = 0.014 * figure.shrug
    out, up, ahead = arm.upper
    raised, full = max(0.0, up), 0.006 * max(0.0, ahead, -up if ahead > 0 else 0.0)
    yield Muscle(
        (
            c(0.039, 0.158 + 0.008 * raised, 0.036 + full, 0.035 - 0.004 * raised),
            c(0.084, 0.172 + lift + 0.012 * raised, 0.026 + full, 0.033 - 0.003 * raised),
            c(0.104 + 0.014 * out, 0.200 + lift + 0.016 * up, 0.012, 0.022),
            c(0.030, 0.204, 0.024, 0.024),
        ),
        bias=0.006,
    )


def _belly(figure: Figure, c: BallPlacer, h: BallPlacer) -> Iterator[Muscle]:
    if figure.hollow > HOLLOW:
        # The edge of the ribs stands out over the belly that is drawn in.
        yield Muscle(
            (
                c(0.016, 0.112, 0.046, 0.016),
                c(0.052, 0.082, 0.040, 0.020),
                c(0.074, 0.060, 0.020, 0.014),
            ),
            gap=THIN,
            bias=0.012,
        )
        return
    # Bent forward, the belly's rows are short and stand out.
    tense = 0.0018 * min(1.0, max(0.0, figure.bend / 15))
    for up, out, forward in ((0.106, 0.026, 0.046), (0.070, 0.025, 0.046), (0.034, 0.023, 0.044)):
        yield Muscle(
            (
                c(out - 0.009, up - 0.004, forward + tense, 0.015 + tense),
                c(out + 0.007, up, forward - 0.004 + tense, 0.015 + tense),
                c(out - 0.009, up + 0.006, forward + tense, 0.015 + tense),
            ),
            gap=THIN,
        )
    yield Muscle(
        (
            c(0.016, 0.000, 0.042, 0.014),
            c(0.022, 0.004, 0.040, 0.012),
            h(0.010, 0.046, 0.038, 0.012),
        ),
        gap=THIN,
    )


def _flank(c: BallPlacer, h: BallPlacer) -> Muscle:
    return Muscle(
        (
            c(0.070, 0.062, 0.004, 0.016),
            c(0.058, 0.022, 0.012, 0.026),
            h(0.062, 0.060, 0.006, 0.020),
            h(0.052, 0.054, 0.014, 0.018),
        ),
        gap=0,
    )


def _wings(figure: Figure, c: BallPlacer) -> Iterator[Muscle]:
    """Latissimus, from under the arm down to the waist, which makes the V; and trapezius."""
    wide, lift = 0.034 * figure.lats, 0.020 * figure.shrug
    spread = max(0.0, figure.lats - 0.8) * 5  # a lat spread turns the wings to the front
    yield Muscle(
        (
            c(0.084 + wide + 0.018 * spread, 0.150, -0.016 + 0.018 * spread, 0.040),
            c(0.072 + wide * 0.8 + 0.020 * spread, 0.110, -0.020 + 0.018 * spread, 0.038),
            c(0.046 + wide * 0.2, 0.035, -0.014 + 0.010 * spread, 0.032 - 0.004 * spread),
            c(0.030, 0.010, -0.012, 0.030),
        ),
        gap=THIN + 0.002 * spread,
        bias=0.026 * spread,
    )
    yield Muscle(
        (
            c(0.014, 0.268 + 0.3 * lift, -0.016, 0.020),
            c(0.110, 0.226 + lift, -0.012, 0.022),
            c(0.016, 0.205, -0.030, 0.030),
        ),
        gap=THIN,
    )


def _back(c: BallPlacer, h: BallPlacer, lift: float) -> Iterator[Muscle]:
    """Shoulder blade, and the long muscles beside the spine."""
    yield Muscle(
        (
            c(0.040, 0.196 + lift, -0.038, 0.026),
            c(0.092, 0.196 + lift, -0.032, 0.026),
            c(0.070, 0.150 + lift, -0.038, 0.022),
        ),
        gap=THIN,
    )
    yield Muscle(
        (
            c(0.016, 0.200, -0.044, 0.020),
            c(0.032, 0.190, -0.044, 0.018),
            c(0.010, 0.095, -0.044, 0.012),
        ),
        gap=THIN,
    )
    yield Muscle((c(0.018, 0.070, -0.036, 0.016), h(0.020, 0.066, -0.034, 0.020)), gap=THIN)


def _seat(h: BallPlacer) -> Muscle:
    return Muscle(
        (
            h(0.044, -0.010, -0.036, 0.044),
            h(0.058, 0.022, -0.022, 0.036),
            h(0.040, 0.024, -0.030, 0.034),
        ),
        gap=0.004,
    )
