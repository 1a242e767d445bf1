"""What a body does on its way, measured: feet that slide, arms in the trunk, joints out of range.

Contact: a foot whose lowest point, or a knee that, is less than `TOUCH` above the floor.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from rehearse.routine.bones import KNEECAP, SOLE, Figure
from rehearse.routine.clearance import depth
from rehearse.routine.figure import distance, joints
from rehearse.routine.motion import body_at
from rehearse.routine.movekeys import RANGES
from rehearse.routine.way import Done, Way

TOUCH = 0.004
_LIMBS = (("left", 1.0), ("right", -1.0))


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
    """Look at a way `samples` times."""
    times = np.linspace(way.start, way.end, samples + 1)
    bodies = [body_at(way, float(t)) for t in times]
    points = [on_stage(b) for b in bodies]
    ends = [f for f in (way.before, way.after) if f is not None]
    figures = [b.figure for b in bodies]
    keys = [k for d in way.moves for k in d.kind.figures(d.direction)]
    tall = max([_deep(f) for f in ends] + [_keyed(k, f) for k in keys for f in ends[:1]] + [0.0])
    speeds = np.array([distance(a, b) for a, b in itertools.pairwise(figures)])
    first = int(samples * (way.moves[-1].end if way.moves else 0) / way.end)
    inward = speeds[first:] if first < samples - 20 else np.zeros(1)
    inward = inward if inward.max() > 1e-3 else np.zeros(1)  # it is there already
    sides = [side for side, _ in _LIMBS]
    return Found(
        slide=max(_slide(points, side, what) for side in sides for what in ("ball", "knee")),
        trunk=max(map(_deep, figures)) - tall,
        knee=_bends(figures, ends, "leg", 150),
        elbow=_bends(figures, ends, "arm", 150),
        past=max(_past(f, ends) for f in figures),
        sunk=max(-min(p[k][1] for k in p) for p in points),
        leap=max(
            _leap(p, on_stage(body_at(way, float(t) + 1e-3)))
            for t, p in zip(times, points, strict=True)
        ),
        late=float(inward[-max(1, len(inward) // 20) :].max() / max(1e-9, inward.max())),
    )


def on_stage(body):
    """Joints, balls of the feet besides, where they are on the stage."""
    points = joints(body.figure)
    ankles = (points["left ankle"][0] + points["right ankle"][0]) / 2
    shift = np.array([body.x - 0.4 * ankles, 0.0, body.z])
    result = {name: point + shift for name, point in points.items()}
    for side, _ in _LIMBS:
        ankle, toes = result[f"{side} ankle"], result[f"{side} toes"]
        result[f"{side} ball"] = ankle + 0.8 * (toes - ankle)
    return result


def _leap(p, q):
    return max(float(np.linalg.norm(q[k] - p[k])) for k in p)


def _slide(points, side, what):
    worst, since = 0.0, None
    for p in points:
        ankle, toes, knee = (p[f"{side} {k}"] for k in ("ankle", "toes", "knee"))
        heel = ankle - 0.25 * (toes - ankle)
        low = min(ankle[1], toes[1], heel[1]) - SOLE if what == "ball" else knee[1] - KNEECAP
        spot = p[f"{side} {what}"][[0, 2]]
        if low > TOUCH:
            since = None
        elif since is None:
            since = spot
        else:
            worst = max(worst, float(np.linalg.norm(spot - since)))
    return worst


def _deep(figure: Figure) -> float:
    tips = {s: (figure.nod, s * figure.tilt, 0.0) for _, s in _LIMBS}
    return max(depth(getattr(figure, f"{n}_arm"), figure.shrug, tips[s]) for n, s in _LIMBS)


def _keyed(key, figure):
    arms = {f"{n}_arm": a for n in ("left", "right") if (a := getattr(key, f"{n}_arm"))}
    return _deep(replace(figure, **arms))


def _bends(figures, ends, what, most):
    limit = max([most, *(getattr(f, f"{n}_{what}").bend for f in ends for n, _ in _LIMBS)])
    return max(getattr(f, f"{n}_{what}").bend for f in figures for n, _ in _LIMBS) - limit


def _past(figure, ends):
    worst = 0.0
    for name, (low, high) in RANGES.items():
        known = [getattr(f, name) for f in ends]
        low, high = min([low, *known]), max([high, *known])
        worst = max(worst, low - getattr(figure, name), getattr(figure, name) - high)
    return worst
