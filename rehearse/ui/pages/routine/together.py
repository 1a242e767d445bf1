"""Gestures that put in, take out or move several poses: each says what else it moved.

Putting in and taking out stop at the next pinned pose; one key makes the step the other way.
"""

from __future__ import annotations

from rehearse.music.position import Length
from rehearse.routine import edits
from rehearse.routine.accent_pins import is_on, nearest_places
from rehearse.routine.model import Routine, Section, new_id
from rehearse.routine.snapping import snap
from rehearse.ui.actions import key
from rehearse.ui.pages.routine.edit_steps import EditSteps
from rehearse.ui.pages.routine.editor_state import EditorState
from rehearse.ui.workspace import Workspace

#: What the key for the other way does, after each way.
PIN_WAYS = ("everything moves", "only up to the next pinned pose")
CLOSE_WAYS = ("everything moves up", "only up to the next pinned pose")
OUT_WAYS = ("what follows moves up", "nothing moves")


class Together(EditSteps):
    """Edits of more than one pose."""

    def __init__(self, workspace: Workspace, editor: EditorState) -> None:
        super().__init__(workspace, editor)
        self._phrase: edits.Phrase | None = None

    def insert(self, name: str) -> None:
        """Put a pose at the cursor; what follows moves on, up to the next pinned pose."""
        if self._may():
            hit, pose_id = snap(self.beatmap, self.editor.cursor, self.editor.grid), new_id()
            routine, beatmap = self.routine, self.beatmap
            self.edit_either(
                f"insert {name} at {hit}",
                lambda pins: edits.insert(routine, beatmap, name, hit, pose_id=pose_id, pins=pins),
                PIN_WAYS,
                hit,
                select=pose_id,
                differs=edits.next_pinned(routine, beatmap, hit) is not None,
            )

    def move_eight(self, way: int) -> None:
        """Hit the chosen poses an eight later (earlier when `way` is negative)."""
        if placed := self._one():
            eight = edits.eight_at(self.beatmap, self.beatmap.time_of(placed.hit))
            self._move_by(Length(way * eight.value))

    def _move_by(self, by: Length) -> None:
        def moved() -> Routine:
            if len(self.editor.chosen) == 1:
                return edits.move_by(self.routine, self.beatmap, self.editor.chosen[0], by)
            return edits.move_all(self.routine, self.beatmap, self.editor.chosen, by)

        self.edit(f"move {self._what()}", moved)

    def all_on_accents(self) -> None:
        """Hit every chosen pose on the accent nearest to it."""
        if not self._one():
            return
        chosen = self.editor.chosen
        there = nearest_places(self.routine, self.beatmap, chosen)
        if there:
            self.edit(
                f"{self._what()} on accents",
                lambda: edits.onto_accents(self.routine, self.beatmap, chosen),
            )
        hits = (self.beatmap.time_of(self.routine.placed(i).hit) for i in chosen)
        on = sum(is_on(self.beatmap, hit) for hit in hits)
        rest = len(chosen) - on
        told = f"{len(there)} moved, {on} of {len(chosen)} chosen poses are on accents"
        if rest:
            told += f"; {rest} {'has' if rest == 1 else 'have'} none to go to past no other pose"
        self.editor.say(f"{told}.")

    def swap_with_next(self) -> None:
        """Let the chosen poses and the one after them change places."""
        if self._one():
            poses, chosen = self.routine.poses, self.editor.chosen
            index = [p.id for p in poses].index(chosen[-1]) + 1
            other = poses[index].pose if index < len(poses) else ""
            self.edit(
                f"swap {self._what()} and {other}",
                lambda: edits.swap_with_next(self.routine, self.beatmap, chosen),
            )

    def duplicate(self) -> None:
        """Show the chosen poses once more as soon as they are over."""
        if self._one():
            routine, beatmap, chosen = self.routine, self.beatmap, self.editor.chosen
            new = [new_id() for _ in chosen]
            self.edit_either(
                f"duplicate {self._what()}",
                lambda pins: edits.duplicate(routine, beatmap, chosen, new, pins=pins),
                PIN_WAYS,
                routine.placed(chosen[-1]).hit,
                select=new,
            )

    def copy(self, section: Section | None = None) -> None:
        """Take the chosen poses up, as a section where they are one, to be pasted elsewhere."""
        if self._one():
            self._phrase = edits.copy(self.routine, self.beatmap, self.editor.chosen, section)
            what = f"Section {section.name}" if section else self._what()
            self.editor.say(
                f"{what[:1].upper()}{what[1:]} copied: put the cursor where the first hit is to "
                "be, then Ctrl+V, or Ctrl+Shift+V for the mirror image."
            )

    def paste(self, *, mirror: bool = False) -> None:
        """Put what was copied at the cursor, its counts kept; all of it is chosen then."""
        if not self._may():
            return
        if self._phrase is None:
            self._say(f"Nothing is copied yet – choose poses and press {key('copy_up')}.")
            return
        phrase = edits.mirrored(self._phrase, self._workspace.catalogue) if mirror else self._phrase
        routine, beatmap = self.routine, self.beatmap
        at = snap(beatmap, self.editor.cursor, self.editor.grid)
        many = "1 pose" if len(phrase.poses) == 1 else f"{len(phrase.poses)} poses"
        new = [new_id() for _ in phrase.poses]
        self.edit_either(
            f"paste {many} at {at}{', mirrored' if mirror else ''}",
            lambda keep: edits.paste(routine, beatmap, phrase, at, pose_ids=new, instead=not keep),
            ("the copy takes their place", "they come back"),
            at,
            select=new,
        )

    def stretch(self, counts: float) -> None:
        """Dance the chosen poses, from the first hit to the end of the last hold, in `counts`."""
        if self._one():
            chosen = self.editor.chosen
            self.edit(
                f"{self._what()} in {counts:g} counts",
                lambda: edits.stretch(self.routine, self.beatmap, chosen, counts),
            )

    def take_out(self, *, close_up: bool = False) -> None:
        """Take the chosen poses out.

        `close_up` lets what follows move up, as far as the next pinned pose; the other way moves
        everything up, and without `close_up` nothing.
        """
        if not self._one():
            return
        routine, beatmap, chosen = self.routine, self.beatmap, self.editor.chosen
        ids = [p.id for p in routine.poses]
        after = [i for i in ids[ids.index(chosen[-1]) + 1 :] if i not in chosen]
        before = [i for i in ids if i not in chosen]
        neighbour = after[0] if after else before[-1] if before else ""

        def taken(first: bool) -> Routine:
            return edits.take_out_all(
                routine,
                beatmap,
                chosen,
                close_up=close_up or not first,
                pins=first or not close_up,
            )

        self.edit_either(
            f"delete {self._what()}",
            taken,
            CLOSE_WAYS if close_up else OUT_WAYS,
            routine.placed(chosen[0]).hit if close_up else None,
            select=neighbour,
            differs=bool(after) and (not close_up or self._is_pinned_after(after[0])),
        )

    def _is_pinned_after(self, pose_id: str) -> bool:
        """Whether this pose or one after it keeps its place."""
        hit = self.routine.placed(pose_id).hit
        return edits.next_pinned(self.routine, self.beatmap, hit) is not None
