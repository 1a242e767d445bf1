"""What the athlete has in mind while making a routine: a place, a grid, a pose, a choice.

None of it is part of a document or can be undone. Knows no widget.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress

from PySide6.QtCore import QObject, Signal

from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Placed, Routine
from rehearse.routine.pose import Pose
from rehearse.routine.snapping import Snap
from rehearse.ui.workspace import Workspace


class EditorState(QObject):
    """The place in the music, the grid, the pose in hand, and the chosen poses.

    Signals:
        cursorChanged: the place in the music. handChanged: the pose to be put next.
        gridChanged: what places jump to. chosenChanged: the chosen poses. saidChanged: `said`.
    """

    cursorChanged = Signal()
    handChanged = Signal()
    gridChanged = Signal()
    chosenChanged = Signal()
    saidChanged = Signal()

    def __init__(self, workspace: Workspace) -> None:
        super().__init__()
        self._workspace = workspace
        self._cursor = 0.0
        self._grid = Snap.COUNTS
        self._hand = ""
        self._chosen: tuple[str, ...] = ()
        self._move = ""
        self._coming: tuple[str, ...] = ()
        self.said = ""
        workspace.selectionChanged.connect(self._follow)
        workspace.documentChanged.connect(self._forget)

    @property
    def ready(self) -> bool:
        """Whether there is a routine and a beat map to put poses on."""
        return self._workspace.routine is not None and self._workspace.beatmap is not None

    @property
    def routine(self) -> Routine:
        """The routine; only while `ready`."""
        assert self._workspace.routine is not None
        return self._workspace.routine

    @property
    def beatmap(self) -> BeatMap:
        """The beat map; only while `ready`."""
        assert self._workspace.beatmap is not None
        return self._workspace.beatmap

    @property
    def selected(self) -> Placed | None:
        """The pose that gestures change; None when none is selected."""
        poses = self._workspace.routine.poses if self._workspace.routine else ()
        return next((p for p in poses if p.id == self._workspace.selected), None)

    @property
    def chosen(self) -> tuple[str, ...]:
        """Ids of all chosen poses, in the order of the music; the selected one is among them."""
        return self._chosen

    @property
    def move(self) -> str:
        """Id of the chosen move, which gestures then change instead of a pose; empty: none."""
        return self._move

    def select_move(self, move_id: str, pose_id: str) -> None:
        """Choose one move; the pose it leads to (empty: none, the way off) is the selected one."""
        routine = self._workspace.routine
        known = routine is not None and any(p.id == pose_id for p in routine.poses)
        self._move = move_id
        self._chosen = (pose_id,) if known else ()
        self._workspace.selected = pose_id if known else ""
        self.chosenChanged.emit()

    @property
    def cursor(self) -> float:
        """The place in the music where poses are put, in seconds of the track."""
        return self._cursor

    @cursor.setter
    def cursor(self, time: float) -> None:
        longest = self._workspace.beatmap.duration if self._workspace.beatmap else 0.0
        time = min(max(0.0, time), longest)
        if time != self._cursor:
            self._cursor = time
            self.cursorChanged.emit()

    @property
    def grid(self) -> Snap:
        """What places jump to."""
        return self._grid

    @grid.setter
    def grid(self, value: Snap) -> None:
        self._grid = value
        self.gridChanged.emit()

    @property
    def hand(self) -> Pose:
        """The pose put next by a tap: the chosen one, else the first not yet shown."""
        catalogue = self._workspace.catalogue
        if self._hand:
            with suppress(KeyError):  # an own pose, since undone or left in another routine
                return catalogue.find(self._hand)
        shown = (
            {p.pose for p in self._workspace.routine.poses} if self._workspace.routine else set()
        )
        fresh = (p for p in catalogue.poses if p.name not in shown and "stance" not in p.name)
        # Another form, and a walk of presentation, is put only where it is asked for.
        plain = (p for p in fresh if not p.form_of and p.kind != "presentation")
        return next(plain, catalogue.poses[0])

    def take_in_hand(self, name: str) -> None:
        """Have this pose in hand; an empty name lets it be the next one not yet shown."""
        self._hand = name
        self.handChanged.emit()

    def was_put(self, name: str) -> None:
        """A pose was put: once it is, the next one not yet shown comes to hand."""
        if name == self._hand:
            self._hand = ""
        self.handChanged.emit()

    def select(self, pose_id: str, *, extend: bool = False) -> None:
        """Select one pose; `extend` chooses all from the selected one to it."""
        routine = self._workspace.routine
        ids = [p.id for p in routine.poses] if routine else []
        self._move = ""
        if pose_id not in ids:
            self._chosen, self._workspace.selected = (), ""
        elif extend and self._workspace.selected in ids:
            anchor = ids.index(self._workspace.selected)
            low, high = sorted((anchor, ids.index(pose_id)))
            self._chosen = tuple(ids[low : high + 1])
        else:
            self._chosen, self._workspace.selected = (pose_id,), pose_id
        self.chosenChanged.emit()

    def choose(self, pose_ids: Iterable[str], current: str = "") -> None:
        """Choose these poses; `current`, else the first of them, is the selected one."""
        wanted, routine = set(pose_ids), self._workspace.routine
        ids = tuple(p.id for p in routine.poses if p.id in wanted) if routine else ()
        self._chosen, self._move = ids, ""
        self._workspace.selected = current if current in ids else ids[0] if ids else ""
        self.chosenChanged.emit()

    def choose_all(self) -> None:
        """Choose every pose."""
        routine = self._workspace.routine
        self.choose((p.id for p in routine.poses) if routine else (), self._workspace.selected)

    def await_poses(self, pose_ids: Iterable[str]) -> None:
        """Choose these poses as soon as an edit has brought them, in one step with the edit."""
        self._coming = tuple(pose_ids)

    def say(self, text: str) -> None:
        """What the last gesture did beside what it was asked for; the next one clears it."""
        if text != self.said:
            self.said = text
            self.saidChanged.emit()

    def hold_on(self, pose_id: str) -> None:
        """Make one of the chosen poses the selected one; the others stay chosen."""
        if pose_id in self._chosen:
            self._workspace.selected = pose_id
            self.chosenChanged.emit()

    def step(self, by: int, *, extend: bool = False) -> None:
        """Select the pose after (before) the selected one, else the one next to the cursor."""
        routine = self._workspace.routine
        if routine is None or not routine.poses:
            return
        ids = [p.id for p in routine.poses]
        if extend and self._chosen:
            end = (
                self._chosen[-1] if self._chosen[0] == self._workspace.selected else self._chosen[0]
            )
            index = ids.index(end) + by
        elif self._workspace.selected in ids:
            index = ids.index(self._workspace.selected) + by
        else:
            index = self._nearest(by)
        self.select(ids[min(max(0, index), len(ids) - 1)], extend=extend)

    def _nearest(self, by: int) -> int:
        hits = [self.beatmap.time_of(p.hit) for p in self.routine.poses] if self.ready else []
        later = [k for k, hit in enumerate(hits) if hit >= self._cursor]
        first_later = later[0] if later else len(hits)
        return first_later if by > 0 else first_later - 1

    def _follow(self) -> None:
        if self._workspace.selected not in self._chosen:
            if self._workspace.selected:
                self._move = ""
            self._chosen = (self._workspace.selected,) if self.selected else ()
            self.chosenChanged.emit()

    def _forget(self) -> None:
        routine, coming = self._workspace.routine, self._coming
        self._coming = ()
        self.say("")
        ids = [p.id for p in routine.poses] if routine else []
        if self._move and (routine is None or self._move not in _move_ids(routine)):
            self._move = ""
            self.chosenChanged.emit()
        # In the order of the music, which an edit may have changed.
        kept = tuple(i for i in ids if i in self._chosen)
        if coming and coming[0] in ids:
            self.choose(coming)
        elif kept != self._chosen:
            self._chosen = kept
            self.chosenChanged.emit()
        self.handChanged.emit()


def _move_ids(routine: Routine) -> set[str]:
    moves = (routine.exit, *(placed.moves for placed in routine.poses))
    return {move.id for each in moves for move in each}
