"""Holds too short to read."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity, seconds
from rehearse.routine.checks.transitions import SLACK, wanted_between


def check(case: Case) -> Iterator[Finding]:
    """Fewer than two seconds do not read from the judges' table (common practice)."""
    shortest = case.thresholds.shortest_hold
    for index, timed_pose in enumerate(case.timed_poses):
        held = timed_pose.end - timed_pose.hit
        if held < shortest - SLACK:
            yield Finding.about(
                timed_pose,
                "hold",
                Severity.WARNING,
                f"held {seconds(held, shortest)} s, less than {shortest:g} s does not read",
                _what_to_do(case, index, shortest - held),
                shortest - held,
            )


def _what_to_do(case: Case, index: int, missing: float) -> str:
    """Hold it longer, where that takes nothing from the next pose that it needs."""
    timed_pose = case.timed_poses[index]
    longer = f"hold it {case.counts_for(timed_pose.end, missing)} longer"
    if index + 1 == len(case.timed_poses):
        return longer
    after = case.timed_poses[index + 1]
    room = after.start - timed_pose.end
    spare = after.hit - after.start - wanted_between(timed_pose, after, case.thresholds)
    if missing <= room + SLACK:
        return longer
    if missing <= max(0.0, room) + spare + SLACK:
        return f"{longer} and begin the transition to {after.pose.name} later"
    return f"hit {after.pose.name} later, or delete one of the two"
