"""Poses shown more than once."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.timed_pose import TimedPose


def check(case: Case) -> Iterator[Finding]:
    """The second showing of a pose, with the place of the first."""
    first: dict[tuple[str, str, str], TimedPose] = {}
    for timed_pose in case.timed_poses:
        key = (timed_pose.pose.name, timed_pose.facing, timed_pose.level)
        if key in first:
            yield Finding.about(
                timed_pose,
                "repeat",
                Severity.HINT,
                f"it was already shown at {first[key].placed.hit}",
                "show another one, or let it come back on purpose",
            )
        else:
            first[key] = timed_pose
