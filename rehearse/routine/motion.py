"""The body on its way into a pose: through every key figure of the moves at its time.

A `Way` says what is done; `body_at` is a pure function of it and the time. Between key figures all
joints follow fifth-degree splines: at rest in the poses, flowing through the keys on which a
movement goes on, still where it turns back (slopes after Fritsch & Carlson 1980, from memory). With
no move between two poses that is the minimum-jerk law of human reaching (Flash & Hogan 1985, from
memory): the way into a hit slows down to arrive on it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np

from rehearse.routine.bones import Limb
from rehearse.routine.clearance import DETOURS, depths
from rehearse.routine.figure import loosened
from rehearse.routine.footwork import FootSteps, follow, steps_between
from rehearse.routine.keyfigures import Body, changed, standing
from rehearse.routine.legslack import LegSlack, leg_slacks
from rehearse.routine.model import Place, Side
from rehearse.routine.rotation import Array, quaternion
from rehearse.routine.stance import (
    ARM,
    FIRST,
    HEIGHT,
    NAMES,
    SIDES,
    TURN,
    Z,
    arms_of,
    middle_of,
    put_together,
    swivelled,
    taken_apart,
    within_reach,
)
from rehearse.routine.way import Done, Moved, Way

#: How far from the middle of the stage its places and its wings are, in body heights.
ASIDE, DEEP, WING = 0.8, 0.5, 1.9
#: What is left at least for the way into a pose, in seconds and as part of the last move.
_ARRIVE, _ARRIVE_PART = 0.4, 0.5
#: An arm may be so much deeper in the trunk on its way than in the figures it links, in heights.
CLEAR = 0.004
_SAMPLES = (10, 48)
#: Cosine of half the angle from which an arm may turn either way round.
_EITHER_WAY = 0.35
_TENTHS = np.linspace(0.0, 1.0, 21)[:, None]
#: For which part of its way an arm is kept where it is led to, first without.
_RESTS = (0.0, 0.3, 0.5)
#: An arm that stays so far from the trunk is looked at no closer, in body heights.
_NEAR = -0.015


def body_at(way: Way, time: float) -> Moved:
    """The body at a time in seconds; before and after the way it stands in its poses."""
    return plan_of(way).at(time)


def spot(place: Place) -> tuple[float, float]:
    """Where a place is: (x to the viewer's right, z toward the judges) in body heights."""
    x = ASIDE * (("left" in place) - ("right" in place))
    return x, DEEP * (("front" in place) - ("back" in place))


@dataclass(frozen=True)
class _Segment:
    """Detours of the arms from one key to the next: (side, where to, part, see `_aside`)."""

    arms: tuple[tuple[str, Array, float, float], ...] = ()


@dataclass(frozen=True)
class MotionPlan:
    """A way laid out: key figures, slopes and steps. Made by `plan_of`."""

    way: Way
    times: tuple[float, ...]
    values: Array
    slopes: Array
    steps: tuple[FootSteps, ...] = ()
    legs: tuple[LegSlack, ...] = ()
    segments: tuple[_Segment, ...] = field(default_factory=tuple)

    def at(self, time: float) -> Moved:
        """The body at a time in seconds."""
        way = self.way
        if time <= self.times[0] and way.before is not None:
            return Moved(way.before, *spot(way.place))
        if time >= self.times[-1] and way.after is not None:
            return Moved(way.after, *spot(way.goal))
        time = min(max(time, self.times[0]), self.times[-1])
        v = self.vector(time)
        if self.segments:
            self._clear(v, time)
        steps = follow(self.steps, time)
        v[HEIGHT] = steps.raised(time, float(v[HEIGHT]))
        feet = swivelled(v, steps.at(time))
        within_reach(v, feet)
        return Moved(put_together(v, feet, self._slacks(time)), middle_of(v, feet), float(v[Z]))

    def _slacks(self, time: float) -> tuple[float, float]:
        """How soon each leg gives way: as in the key figures where it stands, sooner on its way."""
        for legs in self.legs:
            if time <= legs.end:
                return legs.at(time)
        return self.legs[-1].at(time)

    def vector(self, time: float) -> Array:
        """The joints at a time, without the feet; see `routine.stance`."""
        k = self._segment(time)
        t0, t1 = self.times[k], self.times[k + 1]
        u = min(1.0, max(0.0, (time - t0) / (t1 - t0)))
        return np.asarray(self.vectors(k, np.array([u]))[0])

    def vectors(self, k: int, parts: Array) -> Array:
        """The joints at parts 0..1, shape (n,), of the way from key `k` to the next one."""
        p, linear, cubes = self._curves[k]
        u = parts[:, None]
        return np.asarray(p + linear * u + u**3 * (cubes[0] + u * (cubes[1] + u * cubes[2])))

    @cached_property
    def _curves(self) -> list[tuple[Array, Array, tuple[Array, Array, Array]]]:
        """Each segment as where it begins and what is multiplied by u and by u³, u⁴, u⁵."""
        curves = []
        for k, h in enumerate(np.diff(self.times)):
            p, q = self.values[k], self.values[k + 1]
            a, b, d = self.slopes[k] * h, self.slopes[k + 1] * h, q - p
            powers = (10 * d - 6 * a - 4 * b, -15 * d + 8 * a + 7 * b, 6 * d - 3 * a - 3 * b)
            curves.append((p, a, powers))
        return curves

    def _segment(self, time: float) -> int:
        for k in range(len(self.times) - 2):
            if time < self.times[k + 1]:
                return k
        return len(self.times) - 2

    def _clear(self, v: Array, time: float) -> None:
        k = self._segment(time)
        u = (time - self.times[k]) / (self.times[k + 1] - self.times[k])
        for side, detour, part, rest in self.segments[k].arms:
            _lead(v, side, detour, part * float(_aside(np.array([u]), rest)[0]))


def _lead(v: Array, side: str, detour: Array, part: float) -> None:
    """Lead an arm aside, in place: part of the way to a detour of quaternion, fold and aside."""
    k = ARM[side]
    v[k : k + 6] += part * (detour - v[k : k + 6])


def _aside(parts: Array, rest: float) -> Array:
    """How far an arm is led at parts 0..1 of its way: there, so long at `rest`, and back."""
    rise = np.minimum(parts, 1 - parts) / (0.5 - 0.5 * rest)
    return np.asarray(np.sin(np.pi / 2 * np.minimum(1.0, rise)) ** 2)


@lru_cache(maxsize=32)
def plan_of(way: Way) -> MotionPlan:
    """The plan of a way; the last few are kept."""
    keys = _Keys(way)
    times = tuple(keys.times)
    values = _aligned(np.array([v for v, _ in keys.bodies]))
    plan = MotionPlan(way, times, values, _slopes(np.array(times), values))
    marks = [k for k, anchor in enumerate(keys.anchors) if anchor]
    steps = tuple(
        steps_between(times[i], times[j], keys.bodies[i], keys.bodies[j], plan.vector)
        for i, j in itertools.pairwise(marks)
    )
    plan = replace(plan, steps=steps, legs=leg_slacks(times, keys.bodies))
    return replace(plan, segments=tuple(_segment(plan, k) for k in range(len(times) - 1)))


class _Keys:
    """Every key figure of a way in the order of time, and where the feet stand."""

    def __init__(self, way: Way) -> None:
        self.way = way
        self.times: list[float] = []
        self.bodies: list[Body] = []
        #: Whether both feet stand there; while the body walks or turns on, the steps go on too.
        self.anchors: list[bool] = []
        self._goal = spot(way.goal) if way.after is not None else self._wing(spot(way.place))
        self._put(way.start, self._first())
        self._target = self._wanted_turn()
        for done in way.moves:
            self._move(done)
        if way.after is not None:
            turn = self._last_turn()
            self._put(way.end, taken_apart(way.after, turn, spot(way.goal)))
        elif self.times[-1] < way.end:
            self._put(way.end, self.bodies[-1])
        if len(self.times) == 1:
            self._put(way.start + 1.0, self.bodies[-1])

    def _put(self, time: float, body: Body, anchor: bool = True) -> None:
        if self.times and time <= self.times[-1] + 1e-6:
            if len(self.times) == 1:
                return
            self.times.pop(), self.bodies.pop(), self.anchors.pop()
        self.times.append(time)
        self.bodies.append(body)
        self.anchors.append(anchor)

    def _first(self) -> Body:
        way = self.way
        if way.before is not None:
            return taken_apart(way.before, way.before.turn, spot(way.place))
        if not any(key.go for done in way.moves for key in done.kind.figures(done.direction)):
            assert way.after is not None
            return taken_apart(way.after, way.after.turn, self._goal)
        place = self._wing(self._goal)
        turn = _toward(place, self._goal)
        return taken_apart(replace(standing(), turn=turn % 360), turn, place)

    def _wing(self, place: tuple[float, float]) -> tuple[float, float]:
        """Where the stage is entered or left."""
        words = {
            d.direction for d in self.way.moves if any(k.go for k in d.kind.figures(d.direction))
        }
        if "back" in words:
            return place[0], -WING
        if "left" in words:
            return WING, place[1]
        if "right" in words:
            return -WING, place[1]
        return math.copysign(WING, place[0] or -1.0), place[1]

    def _wanted_turn(self) -> float:
        """The turn, not wrapped, that the pose asks for."""
        way, now = self.way, float(self.bodies[0][0][TURN])
        if way.after is None:
            return now
        side = way.turn
        for done in way.moves:
            if any(key.whole for key in done.kind.figures(done.direction)) and done.side:
                side = done.side
        return now + round_to(now, way.after.turn, side)

    def _last_turn(self) -> float:
        assert self.way.after is not None
        now = float(self.bodies[-1][0][TURN])
        if abs(now - self._target) < 1.0:
            return self._target
        walked = self.way.before is None and len(self.times) > 1
        side = self.way.turn if walked or not self._turned else None
        return now + round_to(now, self.way.after.turn, side)

    @property
    def _turned(self) -> bool:
        return abs(float(self.bodies[-1][0][TURN] - self.bodies[0][0][TURN])) > 1.0

    def _move(self, done: Done) -> None:
        if done.start > self.times[-1] + 1e-6:
            self._put(done.start, self.bodies[-1])
        end = done.end
        if self.way.after is not None:
            left = min(_ARRIVE, _ARRIVE_PART * (done.end - done.start))
            end = min(end, self.way.end - left)
        if end <= self.times[-1]:
            return
        begin, start = self.times[-1], self.bodies[-1]
        figures = done.kind.figures(done.direction)
        for k, (at, body) in enumerate(self._figures(done, start)):
            stepping = bool(figures[k].go) or figures[k].whole
            anchor = not stepping or k + 1 == len(figures)
            self._put(begin + at * (end - begin), body, anchor)
        self.anchors[-1] = True
        if self.times[-1] < end - 1e-6:
            self._put(end, self.bodies[-1])

    def _figures(self, done: Done, start: Body) -> Iterator[tuple[float, Body]]:
        other = done.side is Side.RIGHT
        if done.side is None and done.kind.sided:
            other = self._target > float(start[0][TURN]) + 1.0
        for key in done.kind.figures(done.direction):
            if other:
                key = key.mirrored()
            turn = key.turn
            if key.whole:
                turn = self._target - float(start[0][TURN])
                if abs(turn) < 1.0:
                    turn = 360.0 if other else -360.0
                turn *= key.at
            way = 0.0, 0.0
            if key.go:
                x, z = middle_of(*start), float(start[0][Z])
                way = key.go * (self._goal[0] - x), key.go * (self._goal[1] - z)
                heading = _toward((x, z), self._goal)
                if math.hypot(*way) > 0.3 * key.go:
                    turn += (heading - float(start[0][TURN]) + 180) % 360 - 180
            yield key.at, changed(start, key, turn, way)


def round_to(now: float, goal: float, side: Side | None) -> float:
    """Degrees to the right from a turn to another one, the way round that `side` says.

    With no side it is the shorter way; half a turn goes to the right.
    """
    right = (goal - now) % 360
    if min(right, 360 - right) < 1e-6:
        return 0.0
    if side is None:
        return right if right <= 180 + 1e-6 else right - 360
    return right if side is Side.RIGHT else right - 360


def _toward(place: tuple[float, float], goal: tuple[float, float]) -> float:
    """The turn that looks from a place to another one."""
    return math.degrees(math.atan2(-(goal[0] - place[0]), goal[1] - place[1])) % 360


def _aligned(values: Array) -> Array:
    """The same rotations with quaternions of signs that mix the short way.

    Of two ways that are about as long an arm takes the one that keeps clear of the trunk.
    """
    for side, sign in SIDES:
        k = ARM[side]
        for row in range(1, len(values)):
            before, here = values[row - 1], values[row]
            near = float(here[k : k + 4] @ before[k : k + 4])
            if near < 0:
                here[k : k + 4] *= -1
            if abs(near) < _EITHER_WAY:
                other = here.copy()
                other[k : k + 4] *= -1
                ways = (before + _TENTHS * (end - before) for end in (here, other))
                short, long = (_deep(v, v[:, k : k + 11], sign).max() for v in ways)
                if short > CLEAR and long < short:
                    here[:] = other
    return values


def _slopes(times: Array, values: Array) -> Array:
    """Slopes, shape as `values`, that flow through the keys and overshoot none of them."""
    slopes = np.zeros_like(values)
    if len(times) > 2:
        h = np.diff(times)[:, None]
        d = np.diff(values, axis=0) / h
        a, b, g, k = d[:-1], d[1:], h[:-1], h[1:]
        same = a * b > 1e-12
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = 3 * (g + k) / ((2 * k + g) / a + (k + 2 * g) / b)
        slopes[1:-1] = np.where(same, mean, 0.0)
    return slopes


def _segment(plan: MotionPlan, k: int) -> _Segment:
    """Lead the arms round the trunk where they would go through it."""
    arms = []
    for side, sign in SIDES:
        part = slice(ARM[side], ARM[side] + 11)
        if np.allclose(plan.values[k, part], plan.values[k + 1, part], atol=1e-6):
            continue
        for samples in _SAMPLES:
            rows = plan.vectors(k, np.linspace(0.0, 1.0, samples + 1))
            deep = _deep(rows, rows[:, part], sign)
            if deep.max() < _NEAR:
                break
        most = max(float(deep[0]), float(deep[-1]), 0.0) + CLEAR
        if deep.max() > most:
            arms.append(_detour(rows, side, sign, most))
    return _Segment(tuple(arms))


def _detour(rows: Array, side: str, sign: float, most: float) -> tuple[str, Array, float, float]:
    arms = rows[:, ARM[side] : ARM[side] + 11]
    best, found = math.inf, (_DETOURS[0], 0.0, 0.0)
    near, far = _sorted(arms[0, :4], arms[len(arms) // 2, :4], arms[-1, :4])
    for detours in (near, far):
        for rest, part in itertools.product(_RESTS, (0.35, 0.6, 0.8, 0.95)):
            led = part * _aside(np.linspace(0.0, 1.0, len(arms)), rest)[:, None]
            for detour in detours:
                aside = arms.copy()
                aside[:, :6] += led * (detour - arms[:, :6])
                worst = float(_deep(rows, aside, sign).max())
                if worst < best:
                    best, found = worst, (detour, part, rest)
                if worst <= most:
                    return side, *found
    return side, *found


def _sorted(first: Array, middle: Array, last: Array) -> tuple[list[Array], list[Array]]:
    """The detours an arm turns to and back from the short way, and the others.

    Of the two signs of a rotation the one nearer to the middle of the way is taken. Where it is
    far from an end of it, the arm would whirl right round.
    """
    near: list[Array] = []
    far: list[Array] = []
    for detour in _DETOURS:
        if middle @ detour[:4] < 0:
            detour = detour * _FLIP
        short = min(first @ detour[:4], last @ detour[:4]) > _SHORT
        (near if short else far).append(detour)
    return near, far


def _deep(rows: Array, arms: Array, sign: float) -> Array:
    """How deep arms, shape (n, 11), are in the trunks of vectors, shape (n, SIZE)."""
    nod, tilt, shrug = (rows[:, FIRST + NAMES.index(n)] for n in ("nod", "tilt", "shrug"))
    return depths(arms_of(arms), shrug, np.stack([nod, sign * tilt], axis=1))


def _detours() -> Iterator[Array]:
    for upper, lower in DETOURS:
        frame, numbers = loosened(Limb(upper, lower, lower))
        yield np.concatenate([quaternion(frame), numbers[:2]])


_DETOURS = tuple(_detours())
#: Cosine of half the angle up to which a turn of the arm is short.
_SHORT = 0.0
_FLIP = np.array([-1.0, -1.0, -1.0, -1.0, 1.0, 1.0])
