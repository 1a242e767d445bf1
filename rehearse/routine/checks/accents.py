"""Hits off the beat, and hits that stand beside an accent instead of on it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from rehearse.music.position import Seconds
from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.snapping import place_of_accent
from rehearse.routine.timed_pose import TimedPose


def check(case: Case) -> Iterator[Finding]:
    """Where a hit misses the music, by how many milliseconds."""
    times = np.array([accent.time for accent in case.beatmap.marked])
    for timed_pose in case.timed_poses:
        beside = _beside(case, timed_pose, times)
        if beside is not None:
            yield beside
        elif not (
            times.size and np.min(np.abs(times - timed_pose.hit)) < case.thresholds.beside_accent
        ):
            yield from _off_the_beat(case, timed_pose)


def _beside(case: Case, timed_pose: TimedPose, times: np.ndarray) -> Finding | None:
    if not times.size:
        return None
    accent = float(times[int(np.argmin(np.abs(times - timed_pose.hit)))])
    off = timed_pose.hit - accent
    if not case.thresholds.beside_accent <= abs(off) <= case.thresholds.near_accent:
        return None
    taken = any(abs(s.hit - accent) < case.thresholds.beside_accent for s in case.timed_poses)
    if taken:
        return None
    return Finding.about(
        timed_pose,
        "accent",
        Severity.HINT,
        f"it is hit {abs(off) * 1000:.0f} ms {'after' if off > 0 else 'before'} the accent",
        f"hit it at {place_of_accent(case.beatmap, accent)}",
        abs(off),
    )


def _off_the_beat(case: Case, timed_pose: TimedPose) -> Iterator[Finding]:
    index = case.beatmap.beat_at(timed_pose.hit)
    if index is None or not isinstance(timed_pose.placed.hit, Seconds):
        return
    half = case.beatmap.interval(index) / 2
    steps = (timed_pose.hit - case.beatmap.beats[index]) / half
    off = (steps - round(steps)) * half
    if abs(off) >= case.thresholds.off_beat:
        yield Finding.about(
            timed_pose,
            "off the beat",
            Severity.WARNING,
            f"it is hit {abs(off) * 1000:.0f} ms {'after' if off > 0 else 'before'} "
            f"{case.place(timed_pose.hit)}",
            f"hit it at {case.place(timed_pose.hit)}",
            abs(off),
        )
