"""Where the feet are on the way: which one stands, which one is lifted, and where it comes down.

A foot that stands does not move but swivels on its ball. The feet are lifted one after the other;
while the body goes on, each comes down ahead of the hips by half a step, as in walking.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rehearse.routine.bones import FOOT, SOLE
from rehearse.routine.rotation import Array, turned
from rehearse.routine.stance import HEIGHT, TURN, Feet, Foot, X, Z

#: A foot nearer than this to where it is wanted, in body heights and degrees, stays.
SAME, SAME_HEADING = 0.006, 4.0
#: What a pair of steps covers at most, in body heights and degrees.
_PAIR, _PAIR_TURN = 0.55, 121.0
#: Between two stances a foot comes down no farther from the hips, in body heights.
_GATHERED = 0.17
#: Hips lower than this are lifted before a foot can be moved, in body heights.
_LOW, _FREE = 0.42, 0.44
#: Hips lower than this kneel; so far a knee is lifted before the body turns or rises.
_KNEELING, _LIFT = 0.31, 0.06
#: No hips are raised higher than this.
_HIGH = 0.47

Course = Callable[[float], Array]


@dataclass(frozen=True)
class Flight:
    """A foot in the air from `start` to `end` seconds."""

    start: float
    end: float
    origin: Foot
    goal: Foot

    def at(self, time: float) -> Foot:
        """The foot at a time inside the flight."""
        u = (time - self.start) / (self.end - self.start)
        s = u**3 * (10 - 15 * u + 6 * u * u)
        a, b = self.origin, self.goal
        ankle = a.ankle + s * (b.ankle - a.ankle)
        way = math.hypot(*(b.ankle - a.ankle)) + abs(b.heading - a.heading) / 400
        rise = min(0.09, 0.02 + 0.25 * way) * math.sin(math.pi * u) ** 2
        turn = (b.heading - a.heading) * s
        level = turned(-(b.heading - a.heading)) @ b.toes
        toes = turned(turn) @ _swung(a.toes, level, s)
        # The heel leaves the floor first; the toes clear it all the way.
        toes = toes - np.array([0.0, 4.0 * rise, 0.0])
        lift = np.array([0.0, 1.5 * rise, 0.0])
        foot = Foot(ankle + lift, toes / np.linalg.norm(toes), a.heading + turn)
        # Toes that are swung through below the heel are lifted over the floor.
        lift = np.array([0.0, max(0.0, 0.5 * rise - _hover(foot)), 0.0])
        return replace(foot, ankle=foot.ankle + lift)


@dataclass(frozen=True)
class FootSteps:
    """The way of both feet between two anchors of the plan, and how the hips rise for it.

    A foot that is too near to its goal to be lifted drifts there: left where it was, the whole
    body would jump on the hit.
    """

    start: float
    end: float
    feet: Feet
    flights: tuple[tuple[str, Flight], ...] = ()
    lifts: tuple[float, float] = (0.0, 0.0)
    hovers: tuple[dict[str, float], dict[str, float]] = ({}, {})
    drifts: tuple[tuple[str, Foot], ...] = ()

    def at(self, time: float) -> Feet:
        """Both feet at a time from `start` to `end`."""
        feet = dict(self.feet)
        for side, goal in self.drifts:
            part = _smooth((time - self.start) / max(1e-6, self.end - self.start))
            feet[side] = _between(feet[side], goal, part)
        for side, flight in self.flights:
            if time >= flight.end:
                feet[side] = flight.goal
            elif time > flight.start:
                feet[side] = flight.at(time)
        if self.flights:
            self._settle(feet, time)
        return feet

    def _settle(self, feet: Feet, time: float) -> None:
        """Let feet that hover in the figures themselves stand while others are in the air."""
        before, after = self.flights[0][1].start, self.flights[-1][1].end
        first = 1 - _smooth((time - self.start) / max(1e-6, before - self.start))
        last = _smooth((time - after) / max(1e-6, self.end - after))
        for side, foot in feet.items():
            rise = first * self.hovers[0][side] + last * self.hovers[1][side]
            if rise:
                feet[side] = replace(foot, ankle=foot.ankle + np.array([0.0, rise, 0.0]))

    def raised(self, time: float, height: float) -> float:
        """How high the hips are at a time that would be at a height, in body heights.

        They are raised no higher than feet and knees need: at full height legs would be pulled
        straight, and let go of as a foot is lifted.
        """
        if not any(self.lifts):
            return height
        u = min(1.0, max(0.0, (time - self.start) / (self.end - self.start)))
        here, there = self.lifts
        rise = max(here * _off_the_floor(u, 0.2), there * _off_the_floor(1 - u, 0.32))
        return max(height, min(height + rise, _HIGH))


def steps_between(
    start: float, end: float, a: tuple[Array, Feet], b: tuple[Array, Feet], course: Course
) -> FootSteps:
    """Plan the feet from body `a` at `start` to body `b` at `end`, the hips on `course`."""
    (v, feet), (w, goals) = a, b
    moving = [side for side in feet if _apart(feet[side], goals[side])]
    if not moving:
        return FootSteps(start, end, feet, drifts=tuple(goals.items()))
    pairs = 1
    if len(moving) == 2:
        far = math.hypot(w[X] - v[X], w[Z] - v[Z])
        pairs = max(
            1, math.ceil((far - 0.05) / _PAIR), math.ceil(abs(w[TURN] - v[TURN]) / _PAIR_TURN)
        )
    hovers = ({s: _hover(f) for s, f in feet.items()}, {s: _hover(f) for s, f in goals.items()})
    feet, goals = _grounded(feet, hovers[0]), _grounded(goals, hovers[1])
    a, b = (v, feet), (w, goals)
    first = _leading(v, w, feet, goals)
    order = [s for s in (first, "left" if first == "right" else "right") if s in moving] * pairs
    low = max(v[HEIGHT], w[HEIGHT]) < _LOW
    lifts = _lift(float(v[HEIGHT]), low), _lift(float(w[HEIGHT]), low)
    early, late = _window(float(v[HEIGHT]), float(w[HEIGHT]), low)
    if pairs > 1 and not low:
        early, late = 0.02, 0.92
    begin, period = start + early * (end - start), (late - early) * (end - start) / len(order)
    now, flights = dict(feet), []
    for k, side in enumerate(order):
        takeoff, landing = begin + k * period, begin + (k + 1) * period
        goal = goals[side]
        if k + 2 < len(order):
            at = min(end, landing + period / 2)
            share = (at - start) / (end - start)
            goal = _placed(side, share, a, b, course(at))
            goal = replace(goal, ankle=goal.ankle - np.array([0.0, _hover(goal), 0.0]))
        flights.append((side, Flight(takeoff, landing, now[side], goal)))
        now[side] = goal
    drifts = tuple((side, goal) for side, goal in goals.items() if side not in moving)
    return FootSteps(start, end, feet, tuple(flights), lifts, hovers, drifts)


def _hover(foot: Foot) -> float:
    """How high its lowest point is above the floor."""
    way = FOOT * float(foot.toes[1])
    return float(foot.ankle[1]) + min(0.0, way, -0.25 * way) - SOLE


def _grounded(feet: Feet, hovers: dict[str, float]) -> Feet:
    return {
        side: replace(foot, ankle=foot.ankle - np.array([0.0, hovers[side], 0.0]))
        for side, foot in feet.items()
    }


def _smooth(part: float) -> float:
    part = min(1.0, max(0.0, part))
    return part * part * (3 - 2 * part)


def _lift(height: float, low: bool) -> float:
    """How far the hips rise so that a knee on the floor is free before it goes anywhere."""
    if low:
        return _FREE - height
    return _LIFT if height < _KNEELING else 0.0


def _off_the_floor(u: float, soon: float) -> float:
    """0 at the start, 1 from part `soon` on, and 0 again in the second half."""
    u, back = min(1.0, u / soon), _smooth((u - 0.4) / 0.4)
    # The minimum-jerk law: hips that come down on the hit come to rest on it.
    return u**3 * (10 - 15 * u + 6 * u * u) * (1 - back)


def _window(here: float, there: float, low: bool) -> tuple[float, float]:
    """In which part of the time the feet move: while the hips are high enough."""
    if low:
        return 0.2, 0.78
    if there < here - 0.08:
        return 0.04, 0.62
    if there > here + 0.08:
        return 0.34, 0.88
    return 0.06, 0.86


def _apart(foot: Foot, goal: Foot) -> bool:
    # The ankle may stay and the ball of the foot go: together they add up.
    return (
        float(np.linalg.norm(_ball(foot) - _ball(goal))) > SAME
        or float(np.linalg.norm(foot.ankle - goal.ankle)) > SAME
        or abs(foot.heading - goal.heading) > SAME_HEADING
        or float(foot.toes @ goal.toes) < math.cos(math.radians(2 * SAME_HEADING))
    )


def _between(foot: Foot, goal: Foot, part: float) -> Foot:
    toes = foot.toes + part * (goal.toes - foot.toes)
    ankle = foot.ankle + part * (goal.ankle - foot.ankle)
    heading = foot.heading + part * (goal.heading - foot.heading)
    return Foot(ankle, toes / np.linalg.norm(toes), heading)


def _swung(a: Array, b: Array, part: float) -> Array:
    """A unit vector part of the way from one to another, at even speed (slerp).

    A foot whose instep lay on the floor is turned nearly right round: mixed straight, it whirls.
    """
    angle = math.acos(max(-1.0, min(1.0, float(a @ b))))
    if not 1e-3 < angle < math.pi - 1e-3:
        mixed = a + part * (b - a)
        return np.asarray(mixed / np.linalg.norm(mixed))
    mixed = math.sin((1 - part) * angle) * a + math.sin(part * angle) * b
    return np.asarray(mixed / math.sin(angle))


def _ball(foot: Foot) -> Array:
    return np.asarray(foot.ankle + 0.8 * FOOT * foot.toes)


def _leading(v: Array, w: Array, feet: Feet, goals: Feet) -> str:
    """The foot that goes first: the one on the side the body goes or turns to."""
    turn = float(w[TURN] - v[TURN])
    if abs(turn) > 30:
        return "right" if turn > 0 else "left"
    way = np.array([w[X] - v[X], 0.0, w[Z] - v[Z]])
    if float(way @ way) > 0.003:
        ahead = {side: float(feet[side].ankle @ way) for side in feet}
        own = turned(float(v[TURN])).T @ way
        if abs(own[0]) > abs(own[2]):
            return "left" if own[0] > 0 else "right"
        return min(ahead, key=ahead.__getitem__)
    far = {side: float(np.linalg.norm(feet[side].ankle - goals[side].ankle)) for side in feet}
    return max(far, key=far.__getitem__)


def _placed(
    side: str, share: float, a: tuple[Array, Feet], b: tuple[Array, Feet], hips: Array
) -> Foot:
    """A foot as it stands under the hips part `share` of the way from one body to the other.

    Feet of a wide stance are drawn in to walk or turn on: far out they would pull the hips down.
    """
    spots = []
    for v, feet in (a, b):
        back, foot = turned(-float(v[TURN])), feet[side]
        spots.append(
            (back @ (foot.ankle - [v[X], 0, v[Z]]), back @ foot.toes, foot.heading - v[TURN])
        )
    (p, d, h), (q, e, g) = spots
    turn = turned(float(hips[TURN]))
    under = p + share * (q - p)
    under[[0, 2]] *= min(1.0, _GATHERED / max(1e-6, math.hypot(under[0], under[2])))
    ankle = turn @ under + [hips[X], 0.0, hips[Z]]
    toes = turn @ (d + share * (e - d))
    heading = float(hips[TURN] + h + share * (g - h))
    return Foot(ankle, toes / np.linalg.norm(toes), heading)


def follow(steps: Sequence[FootSteps], time: float) -> FootSteps:
    """The steps a time falls into."""
    for one in steps:
        if time < one.end:
            return one
    return steps[-1]
