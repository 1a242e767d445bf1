"""Where every pose lies in the music, in seconds; only what changed is worked out again."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property

from rehearse.music.beatmap import BeatMap
from rehearse.routine.bones import Figure
from rehearse.routine.model import Facing, Level, Placed, Routine
from rehearse.routine.poses import Catalogue, Pose


@dataclass(frozen=True, eq=False)
class Span:
    """A placed pose: its transition from `start` to `hit`, its hold from `hit` to `end`."""

    placed: Placed
    pose: Pose
    start: float
    hit: float
    end: float

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


class Spans:
    """The spans of the routine now open, in the order of their hits."""

    def __init__(self) -> None:
        self.all: tuple[Span, ...] = ()
        self._basis: tuple[object, object] | None = None

    def update(self, routine: Routine, beatmap: BeatMap, catalogue: Catalogue) -> None:
        """Take over another state of the routine."""
        basis = (beatmap, routine.own_poses)
        same = self._basis is not None and self._basis[0] is beatmap and self._basis == basis
        kept = {span.placed.id: span for span in self.all} if same else {}
        self._basis = basis
        self.all = tuple(
            old
            if (old := kept.get(placed.id)) is not None and old.placed == placed
            else Span(placed, catalogue.find(placed.pose), *placed.times(beatmap))
            for placed in routine.poses
        )

    def clear(self) -> None:
        """No routine."""
        self.all, self._basis = (), None

    def find(self, pose_id: str) -> Span | None:
        """The span of a placed pose."""
        return next((span for span in self.all if span.placed.id == pose_id), None)

    def visible(self, start: float, end: float) -> tuple[Span, ...]:
        """Spans that show between two times."""
        return tuple(s for s in self.all if s.start < end and max(s.end, s.hit) > start)

    def before(self, time: float) -> tuple[Span | None, Span | None]:
        """The last pose hit at or before `time`, and the first one after it."""
        index = bisect_right(self.all, time, key=lambda span: span.hit)
        last = self.all[index - 1] if index else None
        return last, self.all[index] if index < len(self.all) else None

    def around(self, time: float) -> tuple[str, str]:
        """Ids of the pose held at `time` and of the next one to be hit; empty for none."""
        last, coming = self.before(time)
        held = last.placed.id if last is not None and time < last.end else ""
        return held, coming.placed.id if coming else ""
