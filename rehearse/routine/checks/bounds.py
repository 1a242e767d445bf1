"""Poses that fall outside the music or the part of it used on stage."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity, seconds

#: Less than this past the end is the end, in seconds.
_SLACK = 0.05


def check(case: Case) -> Iterator[Finding]:
    """Hits before the start or after the end, and holds that go on past it."""
    end = min(case.stage.end, case.beatmap.duration)
    what = "the stage part" if case.routine.stage else "the music"
    for timed_pose in case.timed_poses:
        if timed_pose.hit < case.stage.start - _SLACK:
            early = case.stage.start - timed_pose.hit
            yield Finding.about(
                timed_pose,
                "outside",
                Severity.FAULT,
                f"it is hit {seconds(early)} s before {what} begins",
                "move it later, or let the stage part begin earlier",
                early,
            )
        elif timed_pose.hit >= end - _SLACK:
            yield Finding.about(
                timed_pose,
                "outside",
                Severity.FAULT,
                f"it is hit when {what} is over, at {end:.1f} s",
                "move it earlier or delete it",
                timed_pose.hit - end,
            )
        elif timed_pose.end > end + _SLACK:
            yield Finding.about(
                timed_pose,
                "outside",
                Severity.WARNING,
                f"its hold lasts {seconds(timed_pose.end - end)} s after {what} is over",
                f"hold it {case.counts_for(timed_pose.hit, timed_pose.end - end)} less",
                timed_pose.end - end,
            )
