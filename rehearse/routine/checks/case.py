"""What every check looks at: the routine laid out in seconds, with rules and thresholds."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length
from rehearse.routine.checks.thresholds import Thresholds
from rehearse.routine.model import Routine, StagePart
from rehearse.routine.poses import Catalogue
from rehearse.routine.rules import RuleSet
from rehearse.routine.timed_pose import TimedPose, lay_out


@dataclass(frozen=True)
class Case:
    """A routine laid out for the checks.

    Args:
        catalogue: the poses without the routine's own ones.
        stage: its part on stage, the whole track where none is chosen.
        timed_poses: its poses by their hits.
    """

    routine: Routine
    beatmap: BeatMap
    catalogue: Catalogue
    rules: RuleSet
    thresholds: Thresholds
    stage: StagePart
    timed_poses: tuple[TimedPose, ...]

    def counts_for(self, time: float, seconds: float) -> str:
        """At least `seconds` at `time` as a length to write: `2 counts`, or `0.8 s`."""
        index = self.beatmap.beat_at(time)
        if index is None:
            return f"{math.ceil(seconds * 10 - 1e-6) / 10:g} s"
        counts = math.ceil(seconds / self.beatmap.interval(index) * 2 - 1e-6) / 2
        return "half a count" if counts == 0.5 else str(Length(counts))

    def place(self, time: float) -> str:
        """A time as the nearest half count, or seconds in free time."""
        index = self.beatmap.beat_at(time)
        if index is None:
            return f"{time:.2f} s"
        half = round((time - self.beatmap.beats[index]) / self.beatmap.interval(index) * 2)
        if half == 2 and index + 1 < len(self.beatmap.beats):
            index, half = index + 1, 0
        count = self.beatmap.counts[index]
        return str(Count(count.eight, count.count, min(half, 1) * 2))


def make_case(
    routine: Routine,
    beatmap: BeatMap,
    catalogue: Catalogue,
    rules: RuleSet,
    thresholds: Thresholds,
) -> Case:
    """Lay `routine` out.

    Raises:
        KeyError: a pose is in neither catalogue nor own poses, or a count not in the map.
    """
    known = catalogue.with_own(routine.own_poses) if routine.own_poses else catalogue
    timed_poses = lay_out(routine, beatmap, known)
    stage = routine.stage or StagePart(0.0, beatmap.duration)
    return Case(routine, beatmap, catalogue, rules, thresholds, stage, timed_poses)
