"""What several filmed runs say together: poses that come late or early again and again.

Only readings beyond their own doubt count; a slow or unreadable arrival says nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rehearse.practice.takelog import USUAL, PoseRead, TakeDone
from rehearse.words import _, shown

#: How many takes must say the same.
_SAME = 2


@dataclass(frozen=True)
class Habit:
    """A pose that is late or early again and again.

    Args:
        pose: its id. name: as called last. said: "late" or "early". times: how often, of `of`
            readings of the newest takes. offsets: seconds late of each reading, oldest first.
    """

    pose: str
    name: str
    said: str
    times: int
    of: int
    offsets: tuple[float, ...]

    @property
    def sentence(self) -> str:
        """What was seen and what to do about it."""
        seen = _(
            "{said} on {times} of the last {of} takes",
            said=shown(self.said),
            times=self.times,
            of=self.of,
        )
        if self.said == "late":
            return _("{seen}: drill the way in at 80 %, or start it earlier", seen=seen)
        return _("{seen}: drill the way in at 80 % and wait for the count", seen=seen)


def habits(takes: Sequence[TakeDone]) -> tuple[Habit, ...]:
    """The habits that the newest takes show, the most frequent first; takes oldest first."""
    readings: dict[str, list[PoseRead]] = {}
    for take in takes:
        if not take.refused:
            for read in take.poses:
                if read.said in ("on", "early", "late"):
                    readings.setdefault(read.pose, []).append(read)
    found = [habit for reads in readings.values() if (habit := _habit(reads[-USUAL:]))]
    return tuple(sorted(found, key=lambda habit: (-habit.times / habit.of, -habit.times)))


def _habit(reads: Sequence[PoseRead]) -> Habit | None:
    for said in ("late", "early"):
        times = sum(read.said == said for read in reads)
        if times >= _SAME and 2 * times > len(reads):
            offsets = tuple(read.late or 0.0 for read in reads)
            return Habit(reads[-1].pose, reads[-1].name, said, times, len(reads), offsets)
    return None


def trend(takes: Sequence[TakeDone], pose: str) -> tuple[float, ...]:
    """Seconds late of a pose in the newest takes that read it, oldest first."""
    reads = [
        read.late
        for take in takes
        if not take.refused
        for read in take.poses
        if read.pose == pose and read.late is not None
    ]
    return tuple(reads[-USUAL:])


def needed(takes: Sequence[TakeDone], pose: str) -> float | None:
    """Seconds at full tempo that the fast part of the way into a pose took, the median of the
    newest takes at full tempo; None: never read."""
    times = [
        read.took
        for take in takes
        if not take.refused and take.tempo == 1.0
        for read in take.poses
        if read.pose == pose and read.took is not None and read.said != "unread"
    ][-USUAL:]
    return sorted(times)[len(times) // 2] if times else None


def needed_where_late(takes: Sequence[TakeDone]) -> dict[str, float]:
    """Seconds that the way in took, by the id of each pose that comes late again and again."""
    late = (habit.pose for habit in habits(takes) if habit.said == "late")
    return {pose: took for pose in late if (took := needed(takes, pose)) is not None}


def too_short(
    takes: Sequence[TakeDone], written: Mapping[str, float]
) -> tuple[tuple[str, float], ...]:
    """Poses that come late again and again and whose transition is shorter than the body needs.

    Args:
        written: seconds of each pose's transition at full tempo, by id.

    Returns:
        Pose ids with the seconds that were needed.
    """
    took = needed_where_late(takes)
    return tuple((p, took[p]) for p, seconds in written.items() if took.get(p, 0.0) > seconds)
