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

from rehearse.routine.arms import arm_muscles
from rehearse.routine.bones import Figure
from rehearse.routine.dress import dress
from rehearse.routine.head import head
from rehearse.routine.legs import leg_muscles
from rehearse.routine.look import MAN, Look
from rehearse.routine.muscles import Ball, Muscle
from rehearse.routine.rotation import Array
from rehearse.routine.skeleton import Frames, fitted
from rehearse.routine.trunk import trunk

#: Width and height, in body heights, of a window that holds every pose at one scale.
WINDOW = (1.16, 1.28)

#: Part of the window below the floor, for feet seen a little from above.
FOOTROOM = 0.05

#: The viewer looks down a little, so that feet and kneeling legs show their depth.
PITCH = math.radians(7.0)

_STEPS = 40
_ANGLES = np.linspace(0.0, 2 * math.pi, _STEPS, endpoint=False)
_ROUND = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])
_LIGHT = np.array([-0.62, 0.78])
_LEVEL = np.zeros(3)


@dataclass(frozen=True)
class Shape:
    """One outline to fill: `tone` is "gap" (the ground), "shade", "ink", "hair" or
    "accent" (the dress)."""

    tone: str
    points: npt.NDArray[np.float64]


def figure_shapes(
    figure: Figure, look: Look = MAN, *, view_mirrored: bool = False
) -> tuple[Shape, ...]:
    """The outlines of a figure from the farthest to the nearest.

    Args:
        figure: the pose. look: whose body takes it, in which dress; the skin is the painter's.
        view_mirrored: as a mirror shows it; only the view changes, never the pose.
    """
    shapes = _shapes(figure, look)
    if view_mirrored:
        return tuple(Shape(s.tone, s.points * np.array([-1.0, 1.0])) for s in shapes)
    return shapes


@dataclass(frozen=True)
class Parts:
    """The masses of a figure as the judges see them, each the hull of four balls.

    Args:
        centres: shape (masses, 4, 2). radii: shape (masses, 4). gaps: shape (masses,), the width
            of the ground left free around each; all in body heights.
        tones: of each mass. order: their indices, the farthest first.
    """

    centres: Array
    radii: Array
    gaps: Array
    tones: tuple[str, ...]
    order: npt.NDArray[np.intp]


def figure_parts(figure: Figure, look: Look = MAN) -> Parts:
    """What `figure_shapes` draws the outlines of; arguments as there."""
    figure, build = fitted(figure, look), look.build
    frames = Frames.of(figure, build.shoulders)
    parts = list(_muscles(figure, frames, look))
    balls = [_four(part) for part in parts]
    centres = np.array([[ball[0] for ball in four] for four in balls])
    radii = np.array([[ball[1] for ball in four] for four in balls])
    flat, depth = _seen(centres - np.array([_middle(frames), 0.0, 0.0]))
    proud = np.array([_LEVEL if part.proud is None else part.proud for part in parts])
    nearness = depth.mean(axis=1) + [part.bias for part in parts] + _seen(proud)[1]
    return Parts(
        flat * build.height,
        radii * build.height,
        np.array([part.gap for part in parts]),
        tuple(part.tone for part in parts),
        np.argsort(nearness, kind="stable"),
    )


# The outlines of one figure take 180 KB and 1.4 ms: a routine has hundreds on its ways from pose to
# pose, and in two hours 512 of them took 90 MB. So many as stand on one page are enough.
@lru_cache(maxsize=64)
def _shapes(figure: Figure, look: Look) -> tuple[Shape, ...]:
    parts = figure_parts(figure, look)
    flat, radii = parts.centres, parts.radii
    outer, shade = _hulls(flat, radii + parts.gaps[:, None]), _hulls(flat, radii)
    # A ball of 0.82 of the radius, moved by 0.17 of it toward the light, stays inside.
    lit = _hulls(flat + 0.17 * radii[..., None] * _LIGHT, radii * 0.82)
    shapes: list[Shape] = []
    for k in parts.order:
        tone = parts.tones[k]
        if parts.gaps[k]:
            shapes.append(Shape("gap", outer[k]))
        shapes.append(Shape("shade" if tone == "ink" else tone, shade[k]))
        if tone == "ink":
            shapes.append(Shape("ink", lit[k]))
    return tuple(shapes)


def _four(part: Muscle) -> tuple[Ball, ...]:
    return (part.balls + (part.balls[-1],) * 3)[:4]


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


def _muscles(figure: Figure, frames: Frames, look: Look) -> Iterator[Muscle]:
    yield from head(frames, look)
    bare = look.dress != "board shorts"
    yield from trunk(figure, frames, look.build, bare=bare)
    yield from dress(figure, frames, look)
    for side, sign in (("left", 1.0), ("right", -1.0)):
        yield from arm_muscles(getattr(figure, f"{side}_arm"), frames, side, sign, look.build)
        leg = getattr(figure, f"{side}_leg")
        shoes = look.heels
        yield from leg_muscles(leg, frames, side, sign, look.build, bare=bare, heels=shoes)
