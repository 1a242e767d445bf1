"""What the athlete does to the routine: each gesture is one edit that can be undone.

Knows no widget: keys, pointer and table all end here.
"""

from __future__ import annotations

from typing import Any

from rehearse.music.position import Length, Position
from rehearse.routine import edits
from rehearse.routine.model import Level, Routine, new_id
from rehearse.routine.poses import QUARTER_TURNS
from rehearse.routine.snapping import Snap, snap
from rehearse.ui.pages.routine.steps import STEPS, Steps


class Choreography(Steps):
    """The gestures of the Routine page."""

    def put(self, name: str, time: float | None = None) -> None:
        """Put a pose at `time` (else at the cursor) on the grid; no other hit moves."""
        if self._may():
            self._place(name, snap(self.beatmap, self._at(time), self.choice.grid))

    def put_on_beat(self, time: float | None = None) -> None:
        """Put the pose in hand on the count nearest to a tap, whatever the grid is finer than."""
        if self._may():
            fine = (
                self.choice.grid
                if self.choice.grid in (Snap.HALVES, Snap.QUARTERS)
                else Snap.COUNTS
            )
            self._place(self.choice.hand.name, snap(self.beatmap, self._at(time), fine))

    def put_on_accent(self) -> None:
        """Put the pose in hand on the first accent on stage from the cursor on without a pose."""
        if not self._may():
            return
        hits, stage = [self.beatmap.time_of(p.hit) for p in self.routine.poses], self.routine.stage
        end = stage.end if stage else self.beatmap.duration
        for accent in self.beatmap.accents:
            if self.choice.cursor - 0.001 <= accent.time < end and all(
                abs(accent.time - t) > 0.1 for t in hits
            ):
                self._place(self.choice.hand.name, snap(self.beatmap, accent.time, Snap.ACCENTS))
                return
        self._say("No accent without a pose is left from here on – move back first.")

    def insert(self, name: str) -> None:
        """Put a pose at the cursor and shift what follows by what it needs."""
        if self._may():
            hit, pose_id = snap(self.beatmap, self.choice.cursor, self.choice.grid), new_id()
            self.edit(
                f"insert {name} at {hit}",
                lambda: edits.insert(self.routine, self.beatmap, name, hit, pose_id=pose_id),
                select=pose_id,
            )

    def exchange(self, name: str) -> None:
        """Show another pose in the place of the selected one."""
        if placed := self._one():
            self._change(f"{placed.pose} becomes {name}", placed, pose=name)

    def move(self, steps: int) -> None:
        """Hit the chosen poses so many steps of the grid later (earlier when negative)."""
        if not self._one():
            return
        size = STEPS.get(self.choice.grid)
        by = Length(size * steps) if size else Length(0.01 * steps, in_counts=False)

        def moved() -> Routine:
            routine = self.routine
            for pose_id in self.choice.chosen:
                routine = edits.move_by(routine, self.beatmap, pose_id, by)
            return routine

        self.edit(f"move {self._what()}", moved)

    def move_to(self, pose_id: str, time: float, merge: str = "") -> Position:
        """Hit one pose where the pointer is, on the grid; returns where that is."""
        hit = snap(self.beatmap, time, self.choice.grid)
        name = self.routine.placed(pose_id).pose
        self.edit(
            f"move {name} to {hit}",
            lambda: edits.move_to(self.routine, self.beatmap, pose_id, hit),
            merge=merge,
        )
        return hit

    def move_together(self, pose_id: str, time: float, merge: str = "") -> None:
        """Hit one of the chosen poses at `time`, on the grid, and shift the others by as much."""
        if len(self.choice.chosen) < 2 or pose_id not in self.choice.chosen:
            self.move_to(pose_id, time, merge)
            return
        hit = snap(self.beatmap, time, self.choice.grid)
        was = self.beatmap.time_of(self.routine.placed(pose_id).hit)
        there = self.beatmap.time_of(hit)
        counts = self.beatmap.counts_between(was, there)
        by = Length(there - was, in_counts=False) if counts is None else Length(counts)

        def moved() -> Routine:
            routine = self.routine
            for other in self.choice.chosen:
                if other != pose_id:
                    routine = edits.move_by(routine, self.beatmap, other, by)
            return edits.move_to(routine, self.beatmap, pose_id, hit)

        self.edit(f"move {self._what()}", moved, merge=merge)

    def set_end(self, pose_id: str, time: float, merge: str = "") -> None:
        """Hold one pose until `time`, on the grid."""
        placed = self.routine.placed(pose_id)
        hit = self.beatmap.time_of(placed.hit)
        hold = self._span(hit, max(hit, time))
        self._change(f"hold {placed.pose} {hold}", placed, merge=merge, hold=hold)

    def set_start(self, pose_id: str, time: float, merge: str = "") -> None:
        """Begin one transition at `time`, on the grid."""
        placed = self.routine.placed(pose_id)
        hit = self.beatmap.time_of(placed.hit)
        way = self._span(min(hit, time), hit)
        self._change(f"transition to {placed.pose} {way}", placed, merge=merge, transition=way)

    def lengthen(self, counts: float) -> None:
        """Hold the chosen poses longer (shorter when negative)."""
        self._each("hold", lambda r, i: edits.lengthen(r, self.beatmap, i, counts))

    def widen(self, counts: float) -> None:
        """Begin the transitions to the chosen poses earlier (later when negative)."""
        self._each("transition to", lambda r, i: edits.quicken(r, self.beatmap, i, -counts))

    def turn(self) -> None:
        """Show the selected pose a quarter turn further to the athlete's right."""
        if placed := self._one():
            own = self._desk.catalogue.find(placed.pose).facing
            now = placed.facing or own
            facing = QUARTER_TURNS[(QUARTER_TURNS.index(now) + 1) % 4]
            wanted = None if facing is own else facing
            self._change(f"{placed.pose} faces {facing}", placed, facing=wanted)

    def change_level(self) -> None:
        """Do the selected pose standing, in a lunge, kneeling, in turn."""
        if placed := self._one():
            own = self._desk.catalogue.find(placed.pose).level
            levels = tuple(Level)
            level = levels[(levels.index(placed.level or own) + 1) % len(levels)]
            wanted = None if level is own else level
            self._change(f"{placed.pose} {level}", placed, level=wanted)

    def write(self, pose_id: str, **fields: Any) -> None:
        """Change fields of one pose as written in the table or on the card."""
        placed = self.routine.placed(pose_id)
        self._change(f"change {placed.pose}", placed, **fields)

    def swap_with_next(self) -> None:
        """Let the selected pose and the one after it change places."""
        placed = self._one()
        if placed is None:
            return
        index = self.routine.poses.index(placed)
        if index + 1 == len(self.routine.poses):
            self._say("There is no pose after this one to swap with – choose an earlier one.")
            return
        other = self.routine.poses[index + 1]
        self.edit(
            f"swap {placed.pose} and {other.pose}",
            lambda: edits.swap(self.routine, self.beatmap, placed.id, other.id),
        )

    def duplicate(self) -> None:
        """Show the selected pose once more as soon as it is over."""
        if placed := self._one():
            pose_id = new_id()
            self.edit(
                f"duplicate {placed.pose}",
                lambda: edits.duplicate(self.routine, self.beatmap, placed.id, pose_id),
                select=pose_id,
            )

    def take_out(self, *, close_up: bool = False) -> None:
        """Take the chosen poses out; `close_up` lets what follows move up."""
        if not self._one():
            return
        ids = [p.id for p in self.routine.poses]
        after = [
            i for i in ids[ids.index(self.choice.chosen[-1]) + 1 :] if i not in self.choice.chosen
        ]
        before = [i for i in ids if i not in self.choice.chosen]
        neighbour = after[0] if after else before[-1] if before else ""

        def taken() -> Routine:
            routine = self.routine
            for pose_id in self.choice.chosen:
                routine = edits.take_out(routine, self.beatmap, pose_id, close_up=close_up)
            return routine

        self.edit(f"take out {self._what()}", taken, select=neighbour)

    def make_section(self, name: str) -> None:
        """Name the stretch of the chosen poses, with the ways into it and out of it."""
        if self._one():
            self.edit(
                f"section {name}",
                lambda: edits.section_over(self.routine, self.beatmap, self.choice.chosen, name),
            )

    def section_between(self, name: str, start: float, end: float) -> None:
        """Name a stretch selected in the music, its ends on the grid."""
        grid = self.choice.grid if self.choice.grid in STEPS else Snap.QUARTERS
        first, last = (snap(self.beatmap, time, grid) for time in (start, end))
        self.edit(
            f"section {name}",
            lambda: edits.add_section(self.routine, self.beatmap, name, first, last),
        )

    def next_place(self, time: float, steps: int) -> float:
        """The place on the grid so many steps after (before) `time`, in seconds."""
        size = STEPS.get(self.choice.grid)
        by = Length(size * steps) if size else Length(0.01 * steps, in_counts=False)
        there = min(max(0.0, self.beatmap.shift(time, by)), self.beatmap.duration)
        if size is None or self.choice.grid is Snap.ACCENTS:
            return there
        return self.beatmap.time_of(snap(self.beatmap, there, self.choice.grid))
