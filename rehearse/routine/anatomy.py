"""The figure as shapes to fill: muscle masses over the joints, seen from the judges' side.

A mass is the hull of a few balls fastened to a bone; its outline is found through the support
function of the hull (for every direction the ball that reaches farthest), so any view of any
pose comes out smooth, and printed sheet and screen draw the very same shapes. Each mass is three
outlines: a gap that parts it from what lies behind, its shaded side, and its lit side, as if one
light stood above and to the left.

Conventions: outlines are in body heights, x to the viewer's right, y up, the floor at y = 0 and
the body's middle at x = 0; they are listed from the farthest to the nearest.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from rehearse.routine.figure import Array, Figure, Frames, Limb, own

#: Width and height, in body heights, of a window that holds every pose at one scale.
WINDOW = (1.16, 1.26)

#: The viewer looks down a little, so that feet and kneeling legs show their depth.
PITCH = math.radians(7.0)

_STEPS = 40
_ANGLES = np.linspace(0.0, 2 * math.pi, _STEPS, endpoint=False)
_ROUND = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])
_LIGHT = np.array([-0.62, 0.78])
_BALLS = 4

Ball = tuple[Array, float]


@dataclass(frozen=True)
class Shape:
    """One outline to fill: `tone` is "gap" (the ground), "shade", "ink" or "accent"."""

    tone: str
    points: npt.NDArray[np.float64]


@dataclass(frozen=True)
class _Mass:
    balls: tuple[Ball, ...]
    tone: str = "ink"
    gap: float = 0.006
    bias: float = 0.0


@lru_cache(maxsize=512)
def figure_shapes(figure: Figure, *, view_mirrored: bool = False) -> tuple[Shape, ...]:
    """The outlines of a figure from the farthest to the nearest, each of shape (n, 2).

    Args:
        figure: the pose.
        view_mirrored: as a mirror shows it; only the view changes, never the pose.
    """
    frames = Frames.of(figure)
    masses = list(_masses(figure, frames))
    middle = _middle(frames)
    centres = np.zeros((len(masses), _BALLS, 3))
    radii = np.zeros((len(masses), _BALLS))
    for k, mass in enumerate(masses):
        balls = [mass.balls[min(i, len(mass.balls) - 1)] for i in range(_BALLS)]
        centres[k] = [centre for centre, _ in balls]
        radii[k] = [radius for _, radius in balls]
    flat, depth = _seen(centres - np.array([middle, 0.0, 0.0]))
    order = np.argsort(depth.mean(axis=1) + [m.bias for m in masses], kind="stable")
    gaps = np.array([m.gap for m in masses])[:, None]
    outer = _hulls(flat, radii + gaps)
    shade = _hulls(flat, radii)
    lit = _hulls(flat + 0.13 * radii[..., None] * _LIGHT, radii * 0.87)
    shapes: list[Shape] = []
    for k in order:
        mass = masses[k]
        if mass.gap:
            shapes.append(Shape("gap", outer[k]))
        if mass.tone == "ink":
            shapes += [Shape("shade", shade[k]), Shape("ink", lit[k])]
        else:
            shapes.append(Shape(mass.tone, shade[k]))
    if view_mirrored:
        shapes = [Shape(s.tone, s.points * np.array([-1.0, 1.0])) for s in shapes]
    return tuple(shapes)


def _seen(points: Array) -> tuple[Array, Array]:
    """Place on the picture, shape (..., 2), and nearness, shape (...), of world points."""
    c, s = math.cos(PITCH), math.sin(PITCH)
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    return np.stack([x, y * c - z * s], axis=-1), z * c + y * s


def _hulls(centres: Array, radii: Array) -> Array:
    """Outlines, shape (masses, steps, 2), of the hulls of balls (masses, balls, 2)."""
    reach = centres @ _ROUND.T + radii[..., None]
    best = reach.argmax(axis=1)
    rows = np.arange(len(centres))[:, None]
    return np.asarray(centres[rows, best] + radii[rows, best][..., None] * _ROUND)


def _middle(frames: Frames) -> float:
    p = frames.points
    feet = (p["left ankle"][0] + p["right ankle"][0]) / 2
    return float(0.6 * p["pelvis"][0] + 0.4 * feet)


def _masses(figure: Figure, frames: Frames) -> Iterator[_Mass]:
    yield from _head(frames)
    yield from _trunk(figure, frames)
    for side, sign in (("left", 1.0), ("right", -1.0)):
        yield from _arm(getattr(figure, f"{side}_arm"), frames, side, sign)
        yield from _leg(getattr(figure, f"{side}_leg"), frames, side, sign)


class _Place:
    """Balls given by (out, up, forward) in a frame at an origin."""

    def __init__(self, origin: Array, frame: Array, sign: float = 1.0) -> None:
        self.origin, self.frame, self.sign = origin, frame, sign

    def __call__(self, out: float, up: float, forward: float, radius: float) -> Ball:
        return self.origin + self.frame @ own((out, up, forward), self.sign), radius


def _head(frames: Frames) -> Iterator[_Mass]:
    p, points = _Place(frames.points["head"], frames.head), frames.points
    chest = _Place(points["neck"], frames.chest)
    yield _Mass((chest(0, -0.02, -0.008, 0.036), p(0, -0.035, -0.012, 0.030)))
    yield _Mass((p(0, 0.012, 0.0, 0.044), p(0, -0.018, 0.012, 0.033), p(0, -0.034, 0.018, 0.021)))
    yield _Mass((p(0, -0.006, 0.048, 0.007), p(0, 0.006, 0.042, 0.005)), gap=0, bias=-0.004)
    yield _Mass(
        (p(0, 0.020, -0.010, 0.044), p(0, 0.026, 0.004, 0.040), p(0, -0.010, -0.020, 0.032)),
        tone="shade",
        gap=0.003,
    )
    for sign in (1.0, -1.0):
        q = _Place(points["head"], frames.head, sign)
        yield _Mass((q(0.043, 0.004, -0.004, 0.008), q(0.041, -0.008, -0.002, 0.005)), gap=0.002)


def _trunk(figure: Figure, frames: Frames) -> Iterator[_Mass]:
    yield from _core(figure, frames)
    for sign in (1.0, -1.0):
        yield from _half(figure, frames, sign)


def _core(figure: Figure, frames: Frames) -> Iterator[_Mass]:
    c = _Place(frames.points["waist"], frames.chest)
    h = _Place(frames.points["pelvis"], frames.pelvis)
    drawn = 0.020 * figure.hollow
    yield _Mass((c(0.06, 0.155, 0, 0.062), c(-0.06, 0.155, 0, 0.062), c(0, 0.06, 0.004, 0.066)))
    yield _Mass(
        (
            c(0.045, 0.05, 0.002, 0.048 - drawn / 2),
            c(-0.045, 0.05, 0.002, 0.048 - drawn / 2),
            h(0.042, 0.055, 0, 0.048),
            h(-0.042, 0.055, 0, 0.048),
        ),
        gap=0,
    )
    # Trunks: the one coloured piece, cut high at the side.
    yield _Mass(
        (
            h(0.062, 0.030, -0.004, 0.046),
            h(-0.062, 0.030, -0.004, 0.046),
            h(0, -0.030, 0.0, 0.044),
        ),
        tone="accent",
        gap=0.004,
        bias=0.012,
    )
    yield _Mass((h(0, -0.022, 0.030, 0.022), h(0, 0.016, 0.030, 0.020)), tone="accent", gap=0)
    # The groove of the spine.
    yield _Mass(
        (c(0, 0.17, -0.066, 0.0026), c(0, 0.0, -0.050, 0.0026)), tone="gap", gap=0, bias=0.020
    )


def _half(figure: Figure, frames: Frames, sign: float) -> Iterator[_Mass]:
    c = _Place(frames.points["waist"], frames.chest, sign)
    h = _Place(frames.points["pelvis"], frames.pelvis, sign)
    wide = 0.026 * figure.lats
    lift = 0.022 * figure.shrug
    drawn = 0.022 * figure.hollow
    # Latissimus: from under the arm down to the waist.
    yield _Mass(
        (
            c(0.082 + wide, 0.155, -0.020, 0.040),
            c(0.066 + wide / 2, 0.105, -0.022, 0.038),
            c(0.040, 0.012, -0.012, 0.030),
        )
    )
    # Chest, in two halves.
    yield _Mass(
        (
            c(0.040, 0.160, 0.036, 0.034),
            c(0.092, 0.172, 0.024, 0.030),
            c(0.046, 0.188, 0.030, 0.028),
        )
    )
    # Belly: three pairs of blocks, and the flank beside them.
    for k, up in enumerate((0.098, 0.058, 0.018)):
        yield _Mass(
            (
                c(0.014, up, 0.050 - drawn - 0.003 * k, 0.013),
                c(0.025, up + 0.003, 0.046 - drawn, 0.012),
                c(0.014, up + 0.010, 0.050 - drawn, 0.013),
            ),
            gap=0.0035,
        )
    yield _Mass(
        (
            c(0.060, 0.080, 0.010, 0.024),
            c(0.056, 0.020, 0.012, 0.026),
            h(0.070, 0.058, 0.008, 0.022),
        ),
        gap=0.0035,
    )
    # Upper back: trapezius to the shoulder, shoulder blade, long muscles beside the spine.
    yield _Mass(
        (
            c(0.012, 0.262, -0.022, 0.022),
            c(0.104, 0.224 + lift, -0.012, 0.020),
            c(0.012, 0.200, -0.036, 0.026),
        ),
        gap=0.004,
    )
    yield _Mass(
        (
            c(0.014, 0.190, -0.044, 0.022),
            c(0.080, 0.196, -0.038, 0.024),
            c(0.012, 0.110, -0.044, 0.014),
        ),
        gap=0.004,
    )
    yield _Mass((c(0.020, 0.070, -0.040, 0.020), h(0.022, 0.060, -0.036, 0.022)), gap=0.004)
    # Buttock, under the trunks' cloth.
    yield _Mass(
        (h(0.046, -0.010, -0.042, 0.042), h(0.054, 0.020, -0.030, 0.036)),
        tone="accent",
        gap=0.004,
    )


def _arm(arm: Limb, frames: Frames, side: str, sign: float) -> Iterator[_Mass]:
    p = frames.points
    upper, lower = _bone(arm, frames.chest, sign, leg=False)
    a = _Place(p[f"{side} shoulder"], upper)
    f = _Place(p[f"{side} elbow"], lower)
    flex = min(1.0, arm.bend / 110)
    # Bone frames run (fold, along, hinge): `out` is toward the fold, `up` along the bone.
    yield _Mass((a(0.0, 0.02, 0, 0.036), a(0, 0.10, 0, 0.033), a(0, 0.165, 0, 0.024)), bias=0.020)
    yield _Mass(
        (
            a(0.015 + 0.010 * flex, 0.095 - 0.012 * flex, 0, 0.026 + 0.007 * flex),
            a(0.010, 0.055, 0, 0.022),
            a(0.006, 0.145, 0, 0.018),
        ),
        gap=0.0035,
        bias=0.026,
    )
    yield _Mass(
        (a(-0.016, 0.070, 0, 0.028), a(-0.012, 0.105, 0, 0.024), a(-0.003, 0.155, 0, 0.016)),
        gap=0.0035,
        bias=0.024,
    )
    c = _Place(p[f"{side} shoulder"], frames.chest, sign)
    yield _Mass(
        (c(0.000, 0.006, 0, 0.046), a(0, 0.055, 0, 0.034), a(0, 0.08, 0, 0.020)), bias=0.040
    )
    yield _Mass(
        (
            f(0, 0.0, 0, 0.025),
            f(0.004, 0.038, 0, 0.031),
            f(0.002, 0.085, 0, 0.022),
            f(0, 0.146, 0, 0.0165),
        ),
        bias=0.030,
    )
    yield from _hand(arm, frames, side, sign)


def _hand(arm: Limb, frames: Frames, side: str, sign: float) -> Iterator[_Mass]:
    p = frames.points
    wrist, hand = p[f"{side} wrist"], p[f"{side} hand"]
    along = (hand - wrist) / np.linalg.norm(hand - wrist)
    palm, tip = wrist + 0.026 * along, wrist + 0.034 * along
    open_tip = wrist + 0.074 * along
    g = arm.grip
    end = tip * g + open_tip * (1 - g)
    yield _Mass(
        ((wrist, 0.016), (palm, 0.016 + 0.007 * g), (end, 0.010 + 0.013 * g)), bias=0.036, gap=0.004
    )


def _leg(leg: Limb, frames: Frames, side: str, sign: float) -> Iterator[_Mass]:
    p = frames.points
    upper, lower = _bone(leg, frames.upright, sign, leg=True)
    t = _Place(p[f"{side} hip"], upper)
    s = _Place(p[f"{side} knee"], lower)
    # `out` is toward the fold (the back of the leg), `forward` along the hinge to the outside.
    yield _Mass((t(0.004, 0.01, 0.004, 0.060), t(0.0, 0.12, 0.0, 0.052), t(0, 0.235, 0, 0.034)))
    yield _Mass(
        (
            t(-0.018, 0.09, 0.024, 0.040),
            t(-0.012, 0.14, 0.024, 0.036),
            t(-0.006, 0.20, 0.014, 0.024),
        ),
        gap=0.004,
    )
    yield _Mass(
        (
            t(-0.022, 0.11, -0.010, 0.034),
            t(-0.014, 0.19, -0.016, 0.026),
            t(-0.008, 0.215, -0.014, 0.020),
        ),
        gap=0.004,
    )
    yield _Mass(
        (t(0.022, 0.09, 0.012, 0.036), t(0.016, 0.18, 0.010, 0.026), t(0.010, 0.225, 0.012, 0.016)),
        gap=0.004,
    )
    yield _Mass(
        (
            t(0.020, 0.09, -0.016, 0.034),
            t(0.016, 0.18, -0.012, 0.024),
            t(0.010, 0.225, -0.012, 0.016),
        ),
        gap=0.004,
    )
    yield _Mass((t(-0.014, 0.236, 0, 0.022), s(-0.012, 0.012, 0, 0.022)), gap=0.004, bias=0.006)
    yield _Mass(
        (
            s(0, 0.0, 0, 0.032),
            s(0.006, 0.07, 0, 0.034),
            s(0.004, 0.16, 0, 0.022),
            s(0, 0.235, 0, 0.0185),
        )
    )
    for side_sign in (1, -1):
        yield _Mass(
            (
                s(0.020, 0.055, 0.014 * side_sign, 0.026),
                s(0.018, 0.085, 0.013 * side_sign, 0.024),
                s(0.010, 0.135, 0.008 * side_sign, 0.014),
            ),
            gap=0.004,
        )
    ankle, toes = p[f"{side} ankle"], p[f"{side} toes"]
    way = toes - ankle
    yield _Mass(
        (
            (ankle - 0.16 * way, 0.020),
            (ankle + 0.1 * way, 0.022),
            (ankle + 0.62 * way, 0.020),
            (toes - 0.05 * way, 0.013),
        ),
        gap=0.004,
    )


def _bone(limb: Limb, frame: Array, sign: float, *, leg: bool) -> tuple[Array, Array]:
    """Frames of the two bones in the world: columns fold, along, hinge."""
    from rehearse.routine.figure import _across, _orientation

    local = _orientation(limb, leg)
    mirror = np.diag([sign, 1.0, 1.0])
    upper, fold, hinge = (frame @ mirror @ local[:, k] for k in range(3))
    lower = frame @ mirror @ np.asarray(limb.lower)
    fold_low = _across(fold - 0.001 * upper, lower)
    return np.column_stack([fold, upper, hinge]), np.column_stack([fold_low, lower, hinge])
