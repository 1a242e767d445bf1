"""Where every pose lies in the music, in seconds; only what changed is worked out again."""

from __future__ import annotations

from bisect import bisect_right

from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Routine
from rehearse.routine.poses import Catalogue
from rehearse.routine.shown import Shown, lay_out


class Spans:
    """The poses of the routine now open, in the order of their hits."""

    def __init__(self) -> None:
        self.all: tuple[Shown, ...] = ()
        self._basis: tuple[object, object] | None = None

    def update(self, routine: Routine, beatmap: BeatMap, catalogue: Catalogue) -> None:
        """Take over another state of the routine."""
        basis = (beatmap, routine.own_poses)
        same = self._basis is not None and self._basis[0] is beatmap and self._basis == basis
        self._basis = basis
        self.all = lay_out(routine, beatmap, catalogue, self.all if same else ())

    def clear(self) -> None:
        """No routine."""
        self.all, self._basis = (), None

    def find(self, pose_id: str) -> Shown | None:
        """A placed pose as it lies."""
        return next((span for span in self.all if span.placed.id == pose_id), None)

    def visible(self, start: float, end: float) -> tuple[Shown, ...]:
        """Spans that show between two times."""
        return tuple(s for s in self.all if s.start < end and max(s.end, s.hit) > start)

    def before(self, time: float) -> tuple[Shown | None, Shown | None]:
        """The last pose hit at or before `time`, and the first one after it."""
        index = bisect_right(self.all, time, key=lambda span: span.hit)
        last = self.all[index - 1] if index else None
        return last, self.all[index] if index < len(self.all) else None

    def around(self, time: float) -> tuple[str, str]:
        """Ids of the pose held at `time` and of the next one to be hit; empty for none."""
        last, coming = self.before(time)
        held = last.placed.id if last is not None and time < last.end else ""
        return held, coming.placed.id if coming else ""
