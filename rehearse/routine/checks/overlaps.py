"""Poses that ask for the same moment."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity, seconds
from rehearse.routine.checks.transitions import SLACK, wanted_between
from rehearse.routine.timed_pose import TimedPose

_SLACK = 0.02


def check(case: Case) -> Iterator[Finding]:
    """A hold that lasts into the next hit, or only into the transition to it."""
    for one, other in itertools.pairwise(case.timed_poses):
        if one.end > other.hit + _SLACK or other.hit - one.hit < _SLACK:
            over = max(one.end, one.hit) - other.hit
            yield Finding.about(
                other,
                "overlap",
                Severity.FAULT,
                f"{one.pose.name} is still held {seconds(over)} s after this is hit",
                f"hold {one.pose.name} shorter or move one of them",
                over,
            )
        elif one.end > other.start + _SLACK:
            over = one.end - other.start
            yield Finding.about(
                other,
                "overlap",
                Severity.WARNING,
                f"its transition begins {seconds(over)} s before the hold of "
                f"{one.pose.name} is over",
                _what_to_do(case, one, other, over),
                over,
            )


def _what_to_do(case: Case, one: TimedPose, other: TimedPose, over: float) -> str:
    """Shorten the hold or the way, whichever stays long enough without it."""
    less = case.counts_for(other.start, over)
    wanted = wanted_between(one, other, case.thresholds)
    hold = one.end - one.hit - over >= case.thresholds.shortest_hold - SLACK
    way = other.hit - other.start - over >= wanted - SLACK
    if hold and way:
        return f"make the transition or that hold {less} shorter"
    if hold:
        return f"hold {one.pose.name} {less} shorter"
    if way:
        return f"begin the transition {less} later"
    return f"hit it later, or delete it or {one.pose.name}"
