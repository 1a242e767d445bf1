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
from rehearse.words import _, ngettext, section_text, shown

#: What the key for the other way does, after each way.
PIN_WAYS = (_("everything moves"), _("only up to the next pinned pose"))
CLOSE_WAYS = (_("everything moves up"), _("only up to the next pinned pose"))
OUT_WAYS = (_("what follows moves up"), _("nothing moves"))


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
                _("insert {name} at {hit}", name=shown(name), hit=hit),
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

        self.edit(_("move {what}", what=self._what()), moved)

    def all_on_accents(self) -> None:
        """Hit every chosen pose on the accent nearest to it."""
        if not self._one():
            return
        chosen = self.editor.chosen
        there = nearest_places(self.routine, self.beatmap, chosen)
        if there:
            self.edit(
                _("{what} on accents", what=self._what()),
                lambda: edits.onto_accents(self.routine, self.beatmap, chosen),
            )
        hits = (self.beatmap.time_of(self.routine.placed(i).hit) for i in chosen)
        on = sum(is_on(self.beatmap, hit) for hit in hits)
        rest = len(chosen) - on
        told = _(
            "{number} moved, {on} of {number2} chosen poses are on accents",
            number=len(there),
            on=on,
            number2=len(chosen),
        )
        if rest:
            told += ngettext(
                "; {rest} has none to go to past no other pose",
                "; {rest} have none to go to past no other pose",
                rest,
                rest=rest,
            )
        self.editor.say(f"{told}.")

    def swap_with_next(self) -> None:
        """Let the chosen poses and the one after them change places."""
        if self._one():
            poses, chosen = self.routine.poses, self.editor.chosen
            index = [p.id for p in poses].index(chosen[-1]) + 1
            other = poses[index].pose if index < len(poses) else ""
            self.edit(
                _("swap {what} and {other}", what=self._what(), other=other),
                lambda: edits.swap_with_next(self.routine, self.beatmap, chosen),
            )

    def duplicate(self) -> None:
        """Show the chosen poses once more as soon as they are over."""
        if self._one():
            routine, beatmap, chosen = self.routine, self.beatmap, self.editor.chosen
            new = [new_id() for _unused in chosen]
            self.edit_either(
                _("duplicate {what}", what=self._what()),
                lambda pins: edits.duplicate(routine, beatmap, chosen, new, pins=pins),
                PIN_WAYS,
                routine.placed(chosen[-1]).hit,
                select=new,
            )

    def copy(self, section: Section | None = None) -> None:
        """Take the chosen poses up, as a section where they are one, to be pasted elsewhere."""
        if self._one():
            self._phrase = edits.copy(self.routine, self.beatmap, self.editor.chosen, section)
            what = _("Section {name}", name=section_text(section.name)) if section else self._what()
            self.editor.say(
                _(
                    "{what}{what2} copied: put the cursor where the first hit is to be, "
                    "then Ctrl+V, or Ctrl+Shift+V for the mirror image.",
                    what=what[:1].upper(),
                    what2=what[1:],
                )
            )

    def paste(self, *, mirror: bool = False) -> None:
        """Put what was copied at the cursor, its counts kept; all of it is chosen then."""
        if not self._may():
            return
        if self._phrase is None:
            self._say(
                _(
                    "Nothing is copied yet – choose poses and press {key_copy_up}.",
                    key_copy_up=key("copy_up"),
                )
            )
            return
        phrase = edits.mirrored(self._phrase, self._workspace.catalogue) if mirror else self._phrase
        routine, beatmap = self.routine, self.beatmap
        at = snap(beatmap, self.editor.cursor, self.editor.grid)
        many = ngettext("1 pose", "{number} poses", len(phrase.poses), number=len(phrase.poses))
        new = [new_id() for _unused in phrase.poses]
        self.edit_either(
            _(
                "paste {many} at {at}{which}",
                many=many,
                at=at,
                which=_(", mirrored") if mirror else "",
            ),
            lambda keep: edits.paste(routine, beatmap, phrase, at, pose_ids=new, instead=not keep),
            (_("the copy takes their place"), _("they come back")),
            at,
            select=new,
        )

    def stretch(self, counts: float) -> None:
        """Dance the chosen poses, from the first hit to the end of the last hold, in `counts`."""
        if self._one():
            chosen = self.editor.chosen
            self.edit(
                _("{what} in {counts:g} counts", what=self._what(), counts=counts),
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
            _("delete {what}", what=self._what()),
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
