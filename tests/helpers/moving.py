"""What a body does on its way, measured: feet that slide, arms in the trunk, joints out of range.

Contact: a foot whose lowest point, or a knee that, is less than `TOUCH` above the floor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from rehearse.routine.bones import KNEECAP, SOLE
from rehearse.routine.clearance import depths
from rehearse.routine.figure import joints
from rehearse.routine.motion import plan_of
from rehearse.routine.movekeys import RANGES
from rehearse.routine.skeleton import JOINTS
from rehearse.routine.way import Done, Way

TOUCH = 0.004
#: A way between two looks that holds no leap, in body heights.
FAR = 0.02
_LIMBS = (("left", 1.0), ("right", -1.0))
_AT = {name: k for k, name in enumerate(JOINTS)}
_NAMES = (*JOINTS, "left ball", "right ball")


@dataclass(frozen=True)
class Found:
    """The worst of one way, in body heights and degrees.

    Args:
        slide: how far a foot or knee goes while it touches the floor.
        trunk: how much deeper an arm is in the trunk than in the figures it links.
        knee, elbow: the most they bend beyond those figures and the range.
        past: how far trunk or head leave their ranges. sunk: how far a joint is under the floor.
        leap: the farthest a joint goes in a thousandth of a second.
        late: speed in the last twentieth of the way in as a part of its highest.
    """

    slide: float = 0.0
    trunk: float = 0.0
    knee: float = 0.0
    elbow: float = 0.0
    past: float = 0.0
    sunk: float = 0.0
    leap: float = 0.0
    late: float = 0.0


def way_of(before, kind, after, *, side=None, direction="", counts=4, turn=None, place=None):
    """A transition at 120 BPM that does one move in its natural counts, then goes into the pose."""
    length = kind.counts / 2
    done = Done(kind, 0.0, length, side, direction)
    places = {} if place is None else {"goal": place}
    return Way(before, after, 0.0, length + counts / 2, (done,), turn, **places)


def measured(way: Way, samples: int = 120) -> Found:
    """Look at a way `samples` times, and between two looks where a joint goes suddenly far."""
    plan = plan_of(way)
    times = np.linspace(way.start, way.end, samples + 1)
    bodies = [plan.at(t) for t in times.tolist()]
    figures = [b.figure for b in bodies]
    places = _places(figures)
    points = _on_stage(bodies, places)
    ends = [f for f in (way.before, way.after) if f is not None]
    keys = [k for d in way.moves for k in d.kind.figures(d.direction)]
    allowed = ends + [_keyed(key, figure) for key in keys for figure in ends[:1]]
    deep = _deep(figures + allowed)
    speeds = np.sqrt(((places[1:] - places[:-1]) ** 2).sum(axis=2).mean(axis=1))
    first = int(samples * (way.moves[-1].end if way.moves else 0) / way.end)
    inward = speeds[first:] if first < samples - 20 else np.zeros(1)
    inward = inward if inward.max() > 1e-3 else np.zeros(1)  # it is there already
    sides = [side for side, _ in _LIMBS]
    return Found(
        slide=max(_slide(points, side, what) for side in sides for what in ("ball", "knee")),
        trunk=float(deep[: samples + 1].max() - max(0.0, *deep[samples + 1 :])),
        knee=_bends(figures, ends, "leg", 150),
        elbow=_bends(figures, ends, "arm", 150),
        past=_past(figures, ends),
        sunk=-float(points[:, :, 1].min()),
        leap=_leap(plan, times, points),
        late=float(inward[-max(1, len(inward) // 20) :].max() / max(1e-9, inward.max())),
    )


def on_stage(body):
    """Joints, balls of the feet besides, where they are on the stage."""
    return dict(zip(_NAMES, _on_stage([body], _places([body.figure]))[0], strict=True))


def _places(figures):
    """Joints of figures, shape (figures, joints, 3)."""
    return np.array([list(joints(figure).values()) for figure in figures])


def _on_stage(bodies, places):
    x, z = np.array([(b.x, b.z) for b in bodies]).T
    ankles = (places[:, _AT["left ankle"], 0] + places[:, _AT["right ankle"], 0]) / 2
    shift = np.stack([x - 0.4 * ankles, np.zeros(len(bodies)), z], axis=1)[:, None]
    points = places + shift
    balls = [
        points[:, ankle] + 0.8 * (points[:, toes] - points[:, ankle])
        for ankle, toes in ((_AT[f"{s} ankle"], _AT[f"{s} toes"]) for s, _ in _LIMBS)
    ]
    return np.concatenate([points, np.stack(balls, axis=1)], axis=1)


def _far(p, q):
    """How far the joint goes that goes farthest, from each body to the other."""
    return np.sqrt(((q - p) ** 2).sum(axis=-1)).max(axis=-1)


def _leap(plan, times, points):
    """The farthest a joint goes in a thousandth of a second.

    Between two looks it is looked again for as long as a joint goes far enough for a leap.
    """
    worst = 0.0
    spans = list(zip(times, times[1:], points, points[1:], strict=False))
    while spans:
        far = _far(np.array([s[2] for s in spans]), np.array([s[3] for s in spans]))
        closer = []
        for (a, b, p, q), way in zip(spans, far, strict=True):
            if way < FAR or b - a <= 1e-3:
                worst = max(worst, way * 1e-3 / (b - a))
                continue
            body = plan.at((a + b) / 2)
            middle = _on_stage([body], _places([body.figure]))[0]
            closer += [(a, (a + b) / 2, p, middle), ((a + b) / 2, b, middle, q)]
        spans = closer
    return float(worst)


def _slide(points, side, what):
    ankle, toes, knee = (points[:, _AT[f"{side} {k}"], 1] for k in ("ankle", "toes", "knee"))
    if what == "ball":
        heel = ankle - 0.25 * (toes - ankle)
        low = np.minimum(np.minimum(ankle, toes), heel) - SOLE
    else:
        low = knee - KNEECAP
    spots = points[:, _NAMES.index(f"{side} {what}")][:, [0, 2]]
    worst, since = 0.0, None
    for spot, up in zip(spots, low > TOUCH, strict=True):
        if up:
            since = None
        elif since is None:
            since = spot
        else:
            worst = max(worst, math.dist(spot, since))
    return worst


def _deep(figures):
    """How deep the deeper arm of each figure is in its trunk."""
    found = []
    for name, sign in _LIMBS:
        arms = [getattr(figure, f"{name}_arm") for figure in figures]
        bones = np.array([(arm.upper, arm.lower, arm.end) for arm in arms])
        tips = np.array([(figure.nod, sign * figure.tilt) for figure in figures])
        found.append(depths(bones, np.array([figure.shrug for figure in figures]), tips))
    return np.maximum(*found)


def _keyed(key, figure):
    arms = {f"{n}_arm": a for n in ("left", "right") if (a := getattr(key, f"{n}_arm"))}
    return replace(figure, **arms)


def _bends(figures, ends, what, most):
    limit = max([most, *(getattr(f, f"{n}_{what}").bend for f in ends for n, _ in _LIMBS)])
    return max(getattr(f, f"{n}_{what}").bend for f in figures for n, _ in _LIMBS) - limit


def _past(figures, ends):
    values = np.array([[getattr(figure, name) for name in RANGES] for figure in figures + ends])
    low, high = np.array(list(RANGES.values())).T
    known, seen = values[len(figures) :], values[: len(figures)]
    low, high = np.minimum(low, known.min(axis=0)), np.maximum(high, known.max(axis=0))
    return float(np.maximum(low - seen, seen - high).max())
