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

from rehearse.routine.limbs import arm_masses, leg_masses
from rehearse.routine.masses import Mass
from rehearse.routine.rotation import Array
from rehearse.routine.skeleton import Figure, Frames
from rehearse.routine.trunk import head, trunk

#: Width and height, in body heights, of a window that holds every pose at one scale.
WINDOW = (1.16, 1.26)

#: The viewer looks down a little, so that feet and kneeling legs show their depth.
PITCH = math.radians(7.0)

_STEPS = 40
_ANGLES = np.linspace(0.0, 2 * math.pi, _STEPS, endpoint=False)
_ROUND = np.column_stack([np.cos(_ANGLES), np.sin(_ANGLES)])
_LIGHT = np.array([-0.62, 0.78])
_BALLS = 4


@dataclass(frozen=True)
class Shape:
    """One outline to fill: `tone` is "gap" (the ground), "shade", "ink" or "accent"."""

    tone: str
    points: npt.NDArray[np.float64]


@lru_cache(maxsize=512)
def figure_shapes(figure: Figure, *, view_mirrored: bool = False) -> tuple[Shape, ...]:
    """The outlines of a figure from the farthest to the nearest, each of shape (n, 2).

    Args:
        figure: the pose.
        view_mirrored: as a mirror shows it; only the view changes, never the pose.
    """
    frames = Frames.of(figure)
    parts = list(_masses(figure, frames))
    middle = _middle(frames)
    centres = np.zeros((len(parts), _BALLS, 3))
    radii = np.zeros((len(parts), _BALLS))
    for k, mass in enumerate(parts):
        balls = [mass.balls[min(i, len(mass.balls) - 1)] for i in range(_BALLS)]
        centres[k] = [centre for centre, _ in balls]
        radii[k] = [radius for _, radius in balls]
    flat, depth = _seen(centres - np.array([middle, 0.0, 0.0]))
    proud = np.array([np.zeros(3) if m.proud is None else m.proud for m in parts])
    nearness = depth.mean(axis=1) + [m.bias for m in parts] + _seen(proud)[1]
    order = np.argsort(nearness, kind="stable")
    gaps = np.array([m.gap for m in parts])[:, None]
    outer = _hulls(flat, radii + gaps)
    shade = _hulls(flat, radii)
    lit = _hulls(flat + 0.17 * radii[..., None] * _LIGHT, radii * 0.82)
    shapes: list[Shape] = []
    for k in order:
        mass = parts[k]
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


def _masses(figure: Figure, frames: Frames) -> Iterator[Mass]:
    yield from head(frames)
    yield from trunk(figure, frames)
    yield from arm_masses(figure.left_arm, frames, "left", 1.0)
    yield from arm_masses(figure.right_arm, frames, "right", -1.0)
    yield from leg_masses(figure.left_leg, frames, "left", 1.0)
    yield from leg_masses(figure.right_leg, frames, "right", -1.0)
