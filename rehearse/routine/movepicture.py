"""A move as a picture: where the body was as a ghost, where it comes to, and the way as an arrow.

Conventions: as in `routine.anatomy`: body heights, x to the viewer's right, y up, floor at y = 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from rehearse.routine.anatomy import PITCH, WINDOW, Shape, figure_shapes
from rehearse.routine.bones import Figure
from rehearse.routine.look import MAN, Look
from rehearse.routine.model import Side
from rehearse.routine.motion import body_at
from rehearse.routine.moves import MoveKind
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rotation import Array
from rehearse.routine.skeleton import Frames, joints
from rehearse.routine.way import Done, Moved, Way

#: A body turned so far shows what goes forward or back, in degrees.
_ASLANT = 52.0
#: Where the picture of a move begins that first takes the arm to its place.
_BEGINS = {("sweep", "down"): 0.45, ("sweep", "across"): 0.25}
#: The part of a move, by name and direction, that tells it better than its end does.
_TOLD_AT = {
    ("step", "across"): 0.5,
    ("cross step", "forward"): 0.5,
    ("cross step", "back"): 0.5,
    ("circle", "in"): 0.75,
    ("circle", "out"): 0.75,
}
#: What moves where it is not what moves farthest.
_SHOWN = {"breathe": "left shoulder", "flex again": "left wrist", "bow": "nose", "arch": "nose"}
#: Moves that begin small or low are shown from there.
_FROM = {
    "unfold": "crouch",
    "stand up": "kneeling double biceps",
    "rise": "crouch",
    "flex again": "front double biceps",
}
_TRACED = ("left wrist", "right wrist", "left toes", "right toes", "pelvis", "nose")
_SAMPLES = 24
#: Smaller than this, in body heights, a way is shown from near by.
_SMALL = 0.16


@dataclass(frozen=True)
class MovePicture:
    """What is drawn, from the back to the front.

    Args:
        ghost: outlines of the body as it was. body: of the body as it comes to be.
        arrow: the way of what moves most, shape (n, 2); its last point is the tip.
        frame: left, bottom, width and height of what is to be seen, in body heights.
    """

    ghost: tuple[Shape, ...]
    body: tuple[Shape, ...]
    arrow: Array
    frame: tuple[float, float, float, float]


@lru_cache(maxsize=128)
def move_shapes(
    kind: MoveKind, side: Side | None = None, direction: str = "", look: Look = MAN
) -> MovePicture | None:
    """The picture of a move; None for an own move, which has no figure.

    Args:
        kind, side, direction: the move as it is done; a sided one without its side is shown left.
        look: whose body it is.
    """
    if not kind.figures(direction):
        return None
    if kind.sided and side is None:
        side = Side.LEFT
    start = load_catalogue().find(_FROM.get(kind.name, "front stance")).figure
    ways = [_way(kind, side, direction, replace(start, turn=turn)) for turn in (0.0, _ASLANT)]
    flat, aslant = (_traced(way) for way in ways)
    deep = _length(aslant) > 1.25 * _length(flat) and not _turns(kind)
    slanted = deep or kind.name == "cross step"
    way, arrow = (ways[1], aslant) if slanted else (ways[0], flat)
    bodies = _bodies(way)
    best = _telling(way, bodies)
    if _turns(kind):
        best, arrow = len(bodies) * 3 // 8, _round(kind, side)
    ghost, body = (_shifted(m, look) for m in (bodies[0], bodies[best]))
    return MovePicture(ghost, body, arrow, _frame(arrow, kind, ghost, body))


def _way(kind: MoveKind, side: Side | None, direction: str, start: Figure) -> Way:
    length = kind.counts / 2
    done = (Done(kind, 0.0, length, side, direction),)
    if any(key.go for key in kind.figures(direction)):
        off = kind.name == "walk off"
        return Way(start if off else None, None if off else start, 0.0, length + 9, done)
    return Way(start, start, 0.0, length + 9, done)


def _bodies(way: Way) -> list[Moved]:
    end, done = way.moves[0].end, way.moves[0]
    first, last = _BEGINS.get((done.kind.name, done.direction), 0.0), 1.0
    if way.before is None or way.after is None:  # a few steps of the walk tell it
        first, last = (0.62, 1.0) if way.before is None else (0.0, 0.38)
    times = (end * (first + (last - first) * k / _SAMPLES) for k in range(_SAMPLES + 1))
    return [body_at(way, t) for t in times]


def _points(moved: Moved) -> dict[str, Array]:
    """Joints as they are seen, shape (2,)."""
    points = joints(moved.figure)
    ankles = (points["left ankle"][0] + points["right ankle"][0]) / 2
    c, s = math.cos(PITCH), math.sin(PITCH)
    points["nose"] = points["head"] + Frames.of(moved.figure).head @ np.array([0.0, 0.0, 0.09])
    return {
        name: np.array([p[0] + moved.x - 0.4 * ankles, p[1] * c - (p[2] + moved.z) * s])
        for name, p in points.items()
    }


def _traced(way: Way) -> Array:
    """The way of the joint that goes farthest, as far as the body that is shown."""
    bodies = _bodies(way)
    rows = [_points(moved) for moved in bodies]
    name = way.moves[0].kind.name
    names = (_SHOWN[name],) if name in _SHOWN else _TRACED
    paths = {n: np.array([row[n] for row in rows]) for n in names}
    best = max(paths, key=lambda n: float(np.linalg.norm(np.ptp(paths[n], axis=0))))
    return np.asarray(paths[best][: _telling(way, bodies) + 1])


def _telling(way: Way, bodies: list[Moved]) -> int:
    """Which body tells the move: the last one, or the farthest of one that comes back."""
    done = way.moves[0]
    if (part := _TOLD_AT.get((done.kind.name, done.direction))) is not None:
        return round(part * (len(bodies) - 1))
    if _apart(bodies[0], bodies[-1]) > 0.05:
        return len(bodies) - 1
    return max(range(len(bodies)), key=lambda k: (round(_apart(bodies[0], bodies[k]), 2), k))


def _length(path: Array) -> float:
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())


def _apart(a: Moved, b: Moved) -> float:
    p, q = _points(a), _points(b)
    return max(float(np.linalg.norm(p[name] - q[name])) for name in _TRACED)


def _turns(kind: MoveKind) -> bool:
    return any(key.whole or abs(key.turn) > 45 for key in kind.figures())


def _round(kind: MoveKind, side: Side | None) -> Array:
    """An arrow round the feet, seen a little from above: which way the body turns."""
    sign = -1.0 if side is Side.RIGHT else 1.0
    angles = np.radians(
        np.linspace(200, 500 if any(key.whole for key in kind.figures()) else 320, 40)
    )
    return np.column_stack([sign * 0.34 * np.cos(angles), 0.02 + 0.085 * np.sin(angles)])


def _shifted(moved: Moved, look: Look) -> tuple[Shape, ...]:
    aside = np.array([moved.x, -moved.z * math.sin(PITCH)])
    return tuple(Shape(s.tone, s.points + aside) for s in figure_shapes(moved.figure, look))


def _frame(
    arrow: Array, kind: MoveKind, ghost: tuple[Shape, ...], body: tuple[Shape, ...]
) -> tuple[float, float, float, float]:
    """All of it, or head and shoulders where little moves."""
    points = np.concatenate([s.points for s in (*ghost, *body)] + [arrow])
    low, high = points.min(axis=0) - 0.05, points.max(axis=0) + 0.05
    if _length(arrow) < _SMALL and not _turns(kind) and kind.name != "flex again":
        low = np.array([low[0], high[1] - 0.5])
        middle, half = (low[0] + high[0]) / 2, 0.25 * WINDOW[0] / WINDOW[1]
        low[0], high[0] = middle - half, middle + half
    width, height = high - low
    return float(low[0]), float(low[1]), float(width), float(height)
