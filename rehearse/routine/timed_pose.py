"""A placed pose laid out in seconds: what the checks and the Routine page look at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from rehearse.music.beatmap import BeatMap
from rehearse.routine.bones import Figure
from rehearse.routine.model import Facing, Level, Placed, Routine
from rehearse.routine.moving import Timed, again_times, moves_before
from rehearse.routine.pose import Pose
from rehearse.routine.poses import Catalogue


@dataclass(frozen=True, eq=False)
class TimedPose:
    """A placed pose: its transition from `start` to `hit`, its hold from `hit` to `end`.

    `moves` fill the transition from its start; `again` are the seconds it is hit once more.
    """

    placed: Placed
    pose: Pose
    start: float
    hit: float
    end: float
    moves: tuple[Timed, ...] = ()
    again: tuple[float, ...] = ()

    @property
    def facing(self) -> Facing:
        """As placed, else the pose's own."""
        return self.placed.facing or self.pose.facing

    @property
    def level(self) -> Level:
        """As placed, else the pose's own."""
        return self.placed.level or self.pose.level

    @cached_property
    def figure(self) -> Figure:
        """The body in this pose, with this facing, at this level."""
        return self.pose.seen(self.placed.facing, self.placed.level)


def lay_out(
    routine: Routine, beatmap: BeatMap, catalogue: Catalogue, before: Iterable[TimedPose] = ()
) -> tuple[TimedPose, ...]:
    """Every pose of the routine in seconds, in the order of the hits.

    Args:
        catalogue: with the routine's own poses.
        before: how it lay before, on the same map with the same catalogue; what did not change
            is taken from there.

    Raises:
        KeyError: the catalogue lacks a pose, or the map a count.
    """
    kept = {id(timed_pose.placed): timed_pose for timed_pose in before}
    return tuple(
        kept.get(id(placed)) or _lay(placed, beatmap, catalogue) for placed in routine.poses
    )


def _lay(placed: Placed, beatmap: BeatMap, catalogue: Catalogue) -> TimedPose:
    pose, times = catalogue.find(placed.pose), placed.times(beatmap)
    moves = moves_before(placed, beatmap, times) if placed.moves else ()
    again = again_times(placed, beatmap) if placed.again else ()
    return TimedPose(placed, pose, *times, moves, again)
