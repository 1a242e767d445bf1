"""What the athlete does to the routine: each gesture is one edit that can be undone.

Knows no widget: keys, pointer and table all end here.
"""

from __future__ import annotations

from typing import Any

from rehearse.files.user_error import UserError
from rehearse.music.position import Length, Position
from rehearse.routine import edits
from rehearse.routine.accent_pins import is_pinned, next_place
from rehearse.routine.checks import load_thresholds
from rehearse.routine.model import Level, Routine, new_id
from rehearse.routine.poses import load_catalogue
from rehearse.routine.snapping import Snap, snap
from rehearse.routine.suggest import Suggestion, accept, suggest
from rehearse.ui.pages.routine.between import Between
from rehearse.ui.pages.routine.edit_steps import STEPS
from rehearse.words import _, section_text, shown


class Choreography(Between):
    """The gestures of the Routine page."""

    def put(self, name: str, time: float | None = None) -> None:
        """Put a pose at `time` (else at the cursor) on the grid; no other hit moves."""
        if self._may():
            self._place(name, snap(self.beatmap, self._at(time), self.editor.grid))

    def put_on_beat(self, time: float | None = None) -> None:
        """Put the pose in hand on the count nearest to a tap, whatever the grid is finer than."""
        if self._may():
            fine = (
                self.editor.grid
                if self.editor.grid in (Snap.HALVES, Snap.QUARTERS)
                else Snap.COUNTS
            )
            self._place(self.editor.hand.name, snap(self.beatmap, self._at(time), fine))

    def put_on_accent(self) -> None:
        """Put the pose in hand where the next suggestion on an accent is, from the cursor on.

        One rule with the suggestions: same hit, same hold, same transition.
        """
        if not self._may():
            return
        try:
            offers = self._offers()
        except UserError as error:
            self._say(error.sentence)
            return
        begin = self.editor.cursor - 0.001
        on = (o for o in offers if o.on_accent and o.poses and o.time >= begin)
        offer, pose, pose_id = next(on, None), self.editor.hand.name, new_id()
        if offer is None:
            self._say(_("No accent with room for a pose is left from here on – move back first."))
            return
        self.edit(
            _("put {pose} at {hit}", pose=shown(pose), hit=offer.hit),
            lambda: accept(self.routine, self.beatmap, offer, pose, pose_id),
            select=pose_id,
        )
        self.editor.was_put(pose)
        self.editor.cursor = offer.time

    def _offers(self) -> tuple[Suggestion, ...]:
        limits = load_thresholds(self._workspace.folder)
        return suggest(self.routine, self.beatmap, load_catalogue(), limits)

    def exchange(self, name: str) -> None:
        """Show another pose in the place of each chosen one."""
        self._each(
            _("{name} instead of", name=shown(name)),
            lambda r, i: edits.change(r, self.beatmap, i, pose=name),
        )

    def move(self, steps: int) -> None:
        """Hit the chosen poses so many steps of the grid later (earlier when negative)."""
        if not self._one():
            return
        if self.editor.grid is Snap.ACCENTS:
            self.edit(_("move {what}", what=self._what()), lambda: self._from_accent(steps))
            return
        size = STEPS.get(self.editor.grid)
        self._move_by(Length(size * steps) if size else Length(0.01 * steps, in_counts=False))

    def _from_accent(self, steps: int) -> Routine:
        """Each chosen pose on the next accent that no other one is on."""
        routine, beatmap = self.routine, self.beatmap
        ids = self.editor.chosen[::-1] if steps > 0 else self.editor.chosen
        for pose_id in ids:
            placed = routine.placed(pose_id)
            taken = [beatmap.time_of(p.hit) for p in routine.poses if p.id != pose_id]
            there = next_place(routine, beatmap, beatmap.time_of(placed.hit), steps, taken)
            if there is None:
                raise UserError(
                    _no_accent(steps, placed.pose), do=_("G changes what the arrows jump to")
                )
            routine = edits.move_to(routine, beatmap, pose_id, there[1])
        return routine

    def move_to(self, pose_id: str, time: float, merge: str = "") -> Position:
        """Hit one pose where the pointer is, on the grid; returns where that is."""
        hit = snap(self.beatmap, time, self.editor.grid)
        name = shown(self.routine.placed(pose_id).pose)
        self.edit(
            _("move {name} to {hit}", name=name, hit=hit),
            lambda: edits.move_to(self.routine, self.beatmap, pose_id, hit),
            merge=merge,
        )
        return hit

    def move_together(self, pose_id: str, time: float, merge: str = "") -> None:
        """Hit one of the chosen poses at `time`, on the grid, and shift the others by as much."""
        if len(self.editor.chosen) < 2 or pose_id not in self.editor.chosen:
            self.move_to(pose_id, time, merge)
            return
        hit = snap(self.beatmap, time, self.editor.grid)
        was = self.beatmap.time_of(self.routine.placed(pose_id).hit)
        there = self.beatmap.time_of(hit)
        counts = self.beatmap.counts_between(was, there)
        by = Length(there - was, in_counts=False) if counts is None else Length(counts)

        def moved() -> Routine:
            others = [other for other in self.editor.chosen if other != pose_id]
            routine = edits.move_all(self.routine, self.beatmap, others, by)
            return edits.move_to(routine, self.beatmap, pose_id, hit)

        self.edit(_("move {what}", what=self._what()), moved, merge=merge)

    def set_end(self, pose_id: str, time: float, merge: str = "") -> None:
        """Hold one pose until `time`, on the grid."""
        placed = self.routine.placed(pose_id)
        hit = self.beatmap.time_of(placed.hit)
        hold = self._span(hit, max(hit, time))
        self._change(
            _("hold {pose} {hold}", pose=shown(placed.pose), hold=hold),
            placed,
            merge=merge,
            hold=hold,
        )

    def set_start(self, pose_id: str, time: float, merge: str = "") -> None:
        """Begin one transition at `time`, on the grid."""
        placed = self.routine.placed(pose_id)
        hit = self.beatmap.time_of(placed.hit)
        way = self._span(min(hit, time), hit)
        self._change(
            _("transition to {pose} {way}", pose=shown(placed.pose), way=way),
            placed,
            merge=merge,
            transition=way,
        )

    def lengthen(self, counts: float) -> None:
        """Hold the chosen poses longer (shorter when negative)."""
        self._each(_("hold"), lambda r, i: edits.lengthen(r, self.beatmap, i, counts))

    def widen(self, counts: float) -> None:
        """Begin the transitions to the chosen poses earlier (later when negative)."""
        self._each(_("transition to"), lambda r, i: edits.quicken(r, self.beatmap, i, -counts))

    def turn(self) -> None:
        """Show the chosen poses a quarter turn further to the athlete's right."""

        def turned(routine: Routine, pose_id: str) -> Routine:
            placed = routine.placed(pose_id)
            own = self._workspace.catalogue.find(placed.pose).facing
            now = placed.facing or own
            facing = now.quarter_turned()
            wanted = None if facing is own else facing
            return edits.change(routine, self.beatmap, pose_id, facing=wanted)

        self._each(_("turn"), turned)

    def change_level(self) -> None:
        """Do the chosen poses standing, in a lunge, kneeling, in turn; all as the selected one."""
        placed = self._one()
        if placed is None:
            return
        own, levels = self._workspace.catalogue.find(placed.pose).level, tuple(Level)
        level = levels[(levels.index(placed.level or own) + 1) % len(levels)]

        def lowered(routine: Routine, pose_id: str) -> Routine:
            own = self._workspace.catalogue.find(routine.placed(pose_id).pose).level
            wanted = None if level is own else level
            return edits.change(routine, self.beatmap, pose_id, level=wanted)

        self._each(f"{shown(level)}:", lowered)

    def pin(self) -> None:
        """Pin the chosen poses to their places, or let go of them where all are pinned."""
        if not self._one():
            return
        poses = [self.routine.placed(i) for i in self.editor.chosen]
        pinned = not all(is_pinned(p, self.beatmap) for p in poses)

        def changed(routine: Routine, pose_id: str) -> Routine:
            # What the music says needs not be written.
            plain = edits.change(routine, self.beatmap, pose_id, pinned=None)
            if is_pinned(plain.placed(pose_id), self.beatmap) is pinned:
                return plain
            return edits.change(routine, self.beatmap, pose_id, pinned=pinned)

        self._each(_("pin") if pinned else _("unpin"), changed)

    def write(self, pose_id: str, **fields: Any) -> None:
        """Change fields of one pose as written in the table or on the card."""
        placed = self.routine.placed(pose_id)
        self._change(_("change {pose}", pose=shown(placed.pose)), placed, **fields)

    def make_section(self, name: str) -> None:
        """Name the stretch of the chosen poses, with the ways into it and out of it."""
        if self._one():
            self.edit(
                _("section {name}", name=section_text(name)),
                lambda: edits.section_over(self.routine, self.beatmap, self.editor.chosen, name),
            )

    def section_between(self, name: str, start: float, end: float) -> None:
        """Name a stretch selected in the music, its ends on the grid."""
        grid = self.editor.grid if self.editor.grid in STEPS else Snap.QUARTERS
        first, last = (snap(self.beatmap, time, grid) for time in (start, end))
        self.edit(
            _("section {name}", name=section_text(name)),
            lambda: edits.add_section(self.routine, self.beatmap, name, first, last),
        )

    def next_place(self, time: float, steps: int) -> float:
        """The place on the grid so many steps after (before) `time`, in seconds."""
        if self.editor.grid is Snap.ACCENTS:
            there = next_place(self.routine, self.beatmap, time, steps)
            if there is None:
                self._say(
                    _(
                        "{capital} – G changes what the arrows jump to.",
                        capital=_capital(_no_accent(steps)),
                    )
                )
            return there[0] if there else time
        size = STEPS.get(self.editor.grid)
        by = Length(size * steps) if size else Length(0.01 * steps, in_counts=False)
        target = min(max(0.0, self.beatmap.shift(time, by)), self.beatmap.duration)
        if size is None:
            return target
        return self.beatmap.time_of(snap(self.beatmap, target, self.editor.grid))


def _no_accent(steps: int, pose: str = "") -> str:
    where = _("after") if steps > 0 else _("before")
    return (
        _("there is no free accent {where} {pose}", where=where, pose=shown(pose))
        if pose
        else _("no accent is {where} the cursor", where=where)
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
