"""Where every pose lies in the music, in seconds; only what changed is worked out again."""

from __future__ import annotations

from bisect import bisect_right

from PySide6.QtCore import QObject, Slot

from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Routine
from rehearse.routine.moves import MoveCatalogue, load_moves
from rehearse.routine.moving import Timed, way_off
from rehearse.routine.poses import Catalogue
from rehearse.routine.timed_pose import TimedPose, lay_out
from rehearse.ui.workspace import Workspace


class PoseTimings(QObject):
    """The poses of the routine now open, in the order of their hits.

    Made before all that looks at it, so that it follows the documents first.
    """

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self.all: tuple[TimedPose, ...] = ()
        self.way_off: tuple[Timed, ...] = ()
        self._basis: tuple[BeatMap, Catalogue] | None = None
        self.previews = False
        workspace.documentChanged.connect(self._follow)
        self._follow()

    @Slot()
    def _follow(self) -> None:
        self.previews = False
        self._take(self._workspace.routine)

    def preview(self, routine: Routine | None) -> None:
        """Lay out another routine in place of the open one, until its next edit; None: not."""
        self._take(routine or self._workspace.routine)
        self.previews = routine is not None

    def _take(self, routine: Routine | None) -> None:
        beatmap = self._workspace.beatmap
        if routine is None or beatmap is None:
            self.all, self._basis, self.way_off = (), None, ()
            return
        catalogue = self._workspace.catalogue
        old, self._basis = self._basis, (beatmap, catalogue)
        same = old is not None and old[0] is beatmap and old[1] is catalogue
        self.all = lay_out(routine, beatmap, catalogue, self.all if same else ())
        self.way_off = way_off(routine, beatmap) if routine.exit else ()

    @property
    def known_moves(self) -> MoveCatalogue:
        """All moves, the routine's own ones included."""
        routine = self._workspace.routine
        return load_moves().with_own(routine.own_moves) if routine else load_moves()

    def find(self, pose_id: str) -> TimedPose | None:
        """A placed pose as it lies."""
        return next((span for span in self.all if span.placed.id == pose_id), None)

    def moves(self) -> tuple[tuple[str, Timed], ...]:
        """Every move in the order of the music, with the id of the pose it leads to, if any."""
        before = tuple((span.placed.id, timed) for span in self.all for timed in span.moves)
        return (*before, *(("", timed) for timed in self.way_off))

    def visible(self, start: float, end: float) -> tuple[TimedPose, ...]:
        """Spans that show between two times."""
        return tuple(s for s in self.all if s.start < end and max(s.end, s.hit) > start)

    def before(self, time: float) -> tuple[TimedPose | None, TimedPose | None]:
        """The last pose hit at or before `time`, and the first one after it."""
        index = bisect_right(self.all, time, key=lambda span: span.hit)
        last = self.all[index - 1] if index else None
        return last, self.all[index] if index < len(self.all) else None

    def around(self, time: float) -> tuple[str, str]:
        """Ids of the pose held at `time` and of the next one to be hit; empty for none."""
        last, coming = self.before(time)
        held = last.placed.id if last is not None and time < last.end else ""
        return held, coming.placed.id if coming else ""
