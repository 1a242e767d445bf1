"""Transitions too fast to make, by what has to change on the way."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity, seconds
from rehearse.routine.checks.thresholds import Thresholds
from rehearse.routine.model import Facing, Level, Side
from rehearse.routine.timed_pose import TimedPose

#: Less than this is no shortage, in seconds: lengths are written in quarters of a count.
SLACK = 0.01


def check(case: Case) -> Iterator[Finding]:
    """The time from the hold before to the hit must allow the change (common practice)."""
    for one, other in itertools.pairwise(case.timed_poses):
        change, needed = change_between(one, other, case.thresholds)
        time = other.hit - other.start
        if time < needed - SLACK:
            yield Finding.about(
                other,
                "transition",
                Severity.WARNING,
                f"{seconds(time, needed)} s for {change} from {one.pose.name}, "
                f"{needed:g} s are wanted",
                _what_to_do(case, one, other, needed - time),
                needed - time,
            )


def _what_to_do(case: Case, one: TimedPose, other: TimedPose, missing: float) -> str:
    """Begin it earlier, where that takes nothing from the hold before that it needs."""
    more = f"begin the transition {case.counts_for(other.start, missing)} earlier"
    room = other.start - one.end
    spare = one.end - one.hit - case.thresholds.shortest_hold
    if missing <= room + SLACK:
        return f"{more} or hit it later"
    if missing <= max(0.0, room) + spare + SLACK:
        return f"{more} and hold {one.pose.name} shorter, or hit it later"
    return f"hit it later, or delete it or {one.pose.name}"


def wanted_between(one: TimedPose, other: TimedPose, thresholds: Thresholds) -> float:
    """Seconds the way from one pose to the next wants."""
    return change_between(one, other, thresholds)[1]


def change_between(one: TimedPose, other: TimedPose, thresholds: Thresholds) -> tuple[str, float]:
    """What changes most from one pose to the next, in words, and the seconds it wants."""
    turns = quarter_turns(one.facing, other.facing, other.placed.turn)
    changes = [("a change of the arms", thresholds.arms_only)]
    if turns:
        turn = ("a quarter turn", thresholds.quarter_turn)
        half = ("a half turn", thresholds.half_turn)
        more = ("a full turn" if turns == 4 else "three quarters of a turn", thresholds.full_turn)
        changes.append((turn, half, more, more)[turns - 1])
    levels = {one.level, other.level}
    if len(levels) > 1:
        kneels = Level.KNEELING in levels
        down = other.level is not Level.STANDING
        where = "to the knees" if kneels else "into a lunge"
        up = "up from the knees" if kneels else "up from a lunge"
        needed = thresholds.to_kneeling if kneels else thresholds.to_lunge
        changes.append((f"going down {where}" if down else f"coming {up}", needed))
    return max(changes, key=lambda change: change[1])


def quarter_turns(one: Facing, other: Facing, way: Side | None = None) -> int:
    """Quarter turns from one facing to another, an eighth as a whole.

    Args:
        way: the way round, 0 to 4; None: the shorter one, 0 to 2.
    """
    degrees = (other.turned - one.turned) % 360
    if way is None:
        return math.ceil(min(degrees, 360 - degrees) / 90)
    return math.ceil((degrees if way is Side.RIGHT else 360 - degrees) / 90) or 4
