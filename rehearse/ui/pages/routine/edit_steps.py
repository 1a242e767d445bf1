"""How a gesture becomes one step that can be undone, or one sentence why not."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, Position
from rehearse.routine import edits
from rehearse.routine.change_text import NONE_MOVED, moves_told
from rehearse.routine.edits import place_fitting
from rehearse.routine.model import Placed, Routine, new_id
from rehearse.routine.snapping import Snap
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.ui.workspace import Workspace
from rehearse.words import _, shown

NO_MAP = _("The song has no beat map yet – press 1 and have it made on the Music page.")
NO_POSE = _("No pose is chosen – choose one with the up and down keys.")

#: Counts of one step on each grid; off the grid a step is a hundredth of a second.
STEPS = {Snap.COUNTS: 1.0, Snap.HALVES: 0.5, Snap.QUARTERS: 0.25, Snap.ACCENTS: 1.0}

#: Two poses cannot be hit within this many seconds: the second one is asked for by mistake.
_SAME_HIT = 0.05


#: The key that makes the last step in its other way.
OTHER_WAY = "Q"

Select = str | Sequence[str]


@dataclass
class Either:
    """A step that can be made in two ways; the second one is worked out when it is asked for.

    Args:
        words: of the step. before: the routine it was made on. make: the edit, True the first way.
        ways: what the other key does after each. since: where in the music it was made.
        select: ids chosen after it. differs: whether the second way gives something else; None:
            it is tried.
        now: the way made; None: none yet. done: the routine after it.
    """

    words: str
    before: Routine
    make: Callable[[bool], Routine]
    ways: tuple[str, str]
    since: Position | None
    select: Select
    differs: bool | None
    now: bool | None = None
    done: Routine | None = None
    _made: dict[bool, Routine | UserError] = field(default_factory=dict)

    def way(self, *, first: bool) -> Routine | UserError:
        """The routine after one of the ways, or why it cannot be gone.

        Raises:
            KeyError: the music has no such count.
        """
        if first not in self._made:
            try:
                self._made[first] = self.make(first)
            except UserError as error:
                self._made[first] = error
        return self._made[first]

    @property
    def has_other(self) -> bool:
        """Whether the other way can be gone and gives something else."""
        if self.now and self.differs is not None:
            return self.differs
        other = self.way(first=self.now is False)
        return isinstance(other, Routine) and (self.now is None or other != self._made[self.now])


class EditSteps:
    """Edits of the routine through the workspace, said and undoable.

    Args:
        workspace: the open routine. editor: where, with what, and which poses.
    """

    def __init__(self, workspace: Workspace, editor: EditorState) -> None:
        self._workspace, self.editor = workspace, editor
        self._either: Either | None = None

    @property
    def routine(self) -> Routine:
        """The routine; only while there is one."""
        return self.editor.routine

    @property
    def beatmap(self) -> BeatMap:
        """The beat map; only while there is one."""
        return self.editor.beatmap

    def say_if_missing(self) -> bool:
        """True when nothing can be put yet, after saying why."""
        return not self._may()

    def edit(
        self, words: str, make: Callable[[], Routine], *, select: Select = "", merge: str = ""
    ) -> bool:
        """One step made by a pure edit; a fault is said and changes nothing.

        Args:
            select: id or ids of the poses chosen after it.
            merge: steps with the same text in a row are undone as one.

        Returns: whether anything changed.
        """
        try:
            routine = make()
        except UserError as error:
            self._say(error.sentence)
            return False
        except KeyError as error:
            self._say(_("The music has no {args} – choose another place.", args=error.args[0]))
            return False
        before = self.routine
        self._put_in(words, routine, select, merge)
        return self.routine != before

    def _put_in(
        self,
        words: str,
        routine: Routine,
        select: Select,
        merge: str = "",
        *,
        instead: bool = False,
    ) -> None:
        ids = (select,) if isinstance(select, str) else select
        self.editor.await_poses(i for i in ids if i)
        if instead:
            self._workspace.edit_instead(words, routine)
        else:
            self._workspace.edit(words, routine=routine, merge=merge)
        self.editor.await_poses(())

    def edit_either(
        self,
        words: str,
        make: Callable[[bool], Routine],
        ways: tuple[str, str],
        since: Position | None,
        *,
        select: Select = "",
        differs: bool | None = None,
    ) -> None:
        """One step that can be made in two ways: the first one, the other offered by one key.

        Args:
            make: the edit; True is the first way. ways: what the other key does after each.
            since: where in the music it is made; None: nothing was to move. select: see `edit`.
            differs: whether the second way gives something else; None: it is tried.
        """
        either = Either(words, self.routine, make, ways, since, select, differs)
        try:
            made = either.way(first=True)
            other = isinstance(made, UserError) and either.has_other
        except KeyError as error:
            self._say(_("The music has no {args} – choose another place.", args=error.args[0]))
            return
        self._either = either
        if isinstance(made, Routine):
            self._go_way(first=True)
        elif other:
            either.done = self.routine
            self.editor.say(f"{made.sentence}   {OTHER_WAY}: {ways[0]}.")
        else:
            self._say(made.sentence)

    def other_way(self) -> None:
        """Make the last step in its other way; once more puts the first one back."""
        either = self._either
        if either is None or either.done is not self.routine or not either.has_other:
            self._say(_("There is no other way for what was done last – undo is Ctrl+Z."))
            return
        there = either.way(first=either.now is False)
        if isinstance(there, UserError):
            self._say(there.sentence)
            return
        self._go_way(first=either.now is False, instead=either.now is not None)

    def _go_way(self, *, first: bool, instead: bool = False) -> None:
        either = self._either
        assert either is not None
        made = either.way(first=first)
        assert isinstance(made, Routine)
        either.now = first
        self._put_in(either.words, made, either.select, instead=instead)
        either.done = self.routine
        other = either.has_other
        since = either.since if other else None  # what is pinned made no difference
        told = moves_told(either.before, self.routine, self.beatmap, since)
        if other:
            told += f"   {OTHER_WAY}: {either.ways[0 if first else 1]}."
        self.editor.say(told if other or told != NONE_MOVED else "")

    def take_back(self) -> None:
        """Undo the last step, as when a drag is given up."""
        self._workspace.undo.undo()

    def _place(self, name: str, hit: Position) -> None:
        time = self.beatmap.time_of(hit)
        for other in self.routine.poses:
            if abs(self.beatmap.time_of(other.hit) - time) < _SAME_HIT:
                self.editor.select(other.id)
                there = shown(other.pose)
                self._say(
                    _(
                        "{name} is hit at {hit} – press Enter for another pose.",
                        name=there[:1].upper() + there[1:],
                        hit=other.hit,
                    )
                )
                return
        pose_id = new_id()
        self.edit(
            _("put {name} at {hit}", name=shown(name), hit=hit),
            lambda: place_fitting(self.routine, self.beatmap, name, hit, pose_id=pose_id),
            select=pose_id,
        )
        self.editor.was_put(name)

    def _change(self, words: str, placed: Placed, merge: str = "", **fields: Any) -> None:
        self.edit(
            words,
            lambda: edits.change(self.routine, self.beatmap, placed.id, **fields),
            merge=merge,
        )

    def _each(self, words: str, edit: Callable[[Routine, str], Routine]) -> None:
        if not self._one():
            return

        def changed() -> Routine:
            routine = self.routine
            for pose_id in self.editor.chosen:
                routine = edit(routine, pose_id)
            return routine

        self.edit(f"{words} {self._what()}", changed)

    def _span(self, start: float, end: float) -> Length:
        counts = self.beatmap.counts_between(start, end)
        size = STEPS.get(self.editor.grid)
        if counts is None or size is None:
            return Length(round(end - start, 2), in_counts=False)
        if self.editor.grid is Snap.ACCENTS:
            size = 0.5
        return Length(round(counts / size) * size)

    def _at(self, time: float | None) -> float:
        return self.editor.cursor if time is None else time

    def _may(self) -> bool:
        if not self.editor.ready:
            self._say(NO_MAP)
        return self.editor.ready

    def _one(self) -> Placed | None:
        if not self._may():
            return None
        if self.editor.selected is None:
            self._say(NO_POSE)
        return self.editor.selected

    def _what(self) -> str:
        if len(self.editor.chosen) > 1:
            return _("{number} poses", number=len(self.editor.chosen))
        return shown(self.editor.selected.pose) if self.editor.selected else ""

    def _say(self, sentence: str) -> None:
        self._workspace.notice.say(sentence)
