"""Gestures on what lies between the poses: moves, hits once more, turns, places, the way off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from rehearse.music.position import Length
from rehearse.routine import edits
from rehearse.routine.model import Move, OwnMove, Place, Routine, Side, new_id
from rehearse.routine.moves import MoveCatalogue, MoveRequest, load_moves
from rehearse.routine.moving import Timed, moves_before, way_off
from rehearse.routine.snapping import Snap, snap
from rehearse.ui.pages.routine.edit_steps import STEPS
from rehearse.ui.pages.routine.together import Together
from rehearse.words import _, shown

#: Where a move goes: a transition or the way off, with a place among its moves; else a time.
Spot = tuple[str | None, int | None, float]

_TURNS = (None, Side.LEFT, Side.RIGHT)
_PLACES = (None, *Place)


class Between(Together):
    """Edits of moves; `editor.move` is the one chosen, if any."""

    #: The move that is begun on the beat: the last one added.
    hand_move = "step"

    @property
    def known_moves(self) -> MoveCatalogue:
        """All moves, the routine's own ones included."""
        own = self.routine.own_moves
        return load_moves().with_own(own) if own else load_moves()

    @property
    def chosen_move(self) -> Move | None:
        """The chosen move."""
        if not self.editor.move:
            return None
        bed, index = edits.find_move(self.routine, self.editor.move)
        return edits.moves_of(self.routine, bed)[index]

    def put_move(self, wanted: MoveRequest, place: Spot) -> Spot:
        """Put a move at a place; the place where the next one goes. The cursor goes there too."""
        if not self._may():
            return place
        routine, beatmap, move_id = self.routine, self.beatmap, new_id()
        more: dict[str, Any] = {
            "counts": wanted.counts,
            "side": wanted.side,
            "direction": wanted.direction,
        }
        name = wanted.kind.name
        bed, index, time = place

        def put() -> Routine:
            if bed is None:
                at = snap(beatmap, time, self._fine())
                return edits.begin_move(routine, beatmap, at, name, move_id=move_id, **more)
            return edits.add_move(routine, beatmap, bed, name, index=index, move_id=move_id, **more)

        if self.edit(_("add {name}", name=shown(name)), put):
            self.hand_move = name
            if timed := self._timed(move_id):
                self.editor.cursor = time = timed.end
            bed, index = edits.find_move(self.routine, move_id)
            self.editor.select_move(move_id, bed)
            return bed, index + 1, time
        return bed, index, time

    def spot(self, time: float) -> Spot:
        """Where the next move goes: after the chosen one, before the chosen pose, else `time`."""
        if self.editor.move:
            bed, index = edits.find_move(self.routine, self.editor.move)
            return bed, index + 1, time
        return (self.editor.selected.id if self.editor.selected else None), None, time

    def _timed(self, move_id: str) -> Timed | None:
        bed, _unused = edits.find_move(self.routine, move_id)
        if bed == edits.EXIT:
            timed = way_off(self.routine, self.beatmap)
        else:
            timed = moves_before(self.routine.placed(bed), self.beatmap)
        return next((t for t in timed if t.move.id == move_id), None)

    def _fine(self) -> Snap:
        grid = self.editor.grid
        return grid if grid in (Snap.HALVES, Snap.QUARTERS, Snap.NOTHING) else Snap.COUNTS

    def begin_on_beat(self, time: float) -> None:
        """Begin the move in hand on the count nearest to a tap; what was done ends there."""
        if self._may():
            kind = self.known_moves.find(self.hand_move)
            self.editor.select("")
            routine, beatmap, move_id = self.routine, self.beatmap, new_id()
            at = snap(beatmap, time, self._fine())
            self.edit(
                _("begin {name} at {at}", name=shown(kind.name), at=at),
                lambda: edits.begin_move(
                    routine, beatmap, at, kind.name, counts=kind.counts, move_id=move_id
                ),
            )

    def hit_again(self, time: float) -> None:
        """Hit the pose held at `time` once more there, or no longer where it is."""
        if self._may():
            at = snap(self.beatmap, time, self._fine())
            self.edit(
                _("hit again at {at}", at=at),
                lambda: edits.hit_again(self.routine, self.beatmap, at),
            )

    def add_own_move(self, name: str) -> MoveRequest | None:
        """Add a move of one's own; what it is wanted as."""
        if self.edit(
            _("own move {name}", name=name), lambda: edits.add_own_move(self.routine, OwnMove(name))
        ):
            return self.own_move(name)
        return None

    def own_move(self, name: str) -> MoveRequest:
        """An own move as it is put at first: two counts long."""
        return MoveRequest(self.known_moves.find(name), 2.0)

    def exchange_move(self, wanted: MoveRequest) -> None:
        """Another move in the place of the chosen one, as long as that was."""
        old = self.chosen_move
        if old is not None:
            kind, side = wanted.kind, wanted.side or old.side
            fields = {"move": kind.name, "side": side if kind.sided else None}
            length = old.length
            if wanted.counts != kind.counts and length.in_counts:
                length = Length(wanted.counts)
            self._on_move(
                _("{name} instead of {move}", name=shown(kind.name), move=shown(old.move)),
                lambda r, i: edits.change_move(
                    r, i, **fields, direction=wanted.direction, length=length
                ),
            )
            self.hand_move = kind.name

    def step_move(self, by: int, moves: tuple[tuple[str, Timed], ...]) -> None:
        """Choose the move after (before) the chosen one, else the one next to the cursor."""
        if not moves:
            self._say(_("There is no move yet – the comma adds one at the cursor."))
            return
        ids = [timed.move.id for _unused, timed in moves]
        if self.editor.move in ids:
            index = ids.index(self.editor.move) + by
        else:
            later = sum(timed.start < self.editor.cursor - 0.001 for _unused, timed in moves)
            index = later if by > 0 else later - 1
        bed, timed = moves[min(max(0, index), len(moves) - 1)]
        self.editor.select_move(timed.move.id, bed)
        self.editor.cursor = timed.start

    def resize_move(self, counts: float) -> None:
        """Do the chosen move longer (shorter when negative)."""
        self._on_move(_("length of"), lambda r, i: edits.resize_move(r, self.beatmap, i, counts))

    def swap_move(self, steps: int = 1) -> None:
        """Do the chosen move after the next one."""
        self._on_move(_("swap"), lambda r, i: edits.reorder_move(r, i, steps))

    def shift_move(self, steps: int) -> None:
        """Begin the chosen move later, or earlier; the one before goes on until then."""
        size = STEPS.get(self.editor.grid, 0.25)
        self._on_move(_("move"), lambda r, i: self._shifted(r, i, size * steps))

    def _shifted(self, routine: Routine, move_id: str, by: float) -> Routine:
        bed, index = edits.find_move(routine, move_id)
        moves = edits.moves_of(routine, bed)
        timed = self._timed(move_id)
        if timed is None:
            return routine
        if index:
            start = self.beatmap.shift(timed.start, Length(by))
            there = snap(self.beatmap, start, Snap.QUARTERS)
            return edits.set_border(routine, self.beatmap, moves[index - 1].id, there)
        if bed == edits.EXIT:
            last = routine.poses[-1].id
            return edits.lengthen(routine, self.beatmap, last, by)
        longer = edits.resize_move(
            edits.quicken(routine, self.beatmap, bed, by), self.beatmap, move_id, -by
        )
        return longer

    def take_out_move(self) -> None:
        """Take the chosen move out."""
        bed = edits.find_move(self.routine, self.editor.move)[0]
        self._on_move(_("delete"), edits.remove_move)
        self.editor.select(bed)

    def change_side(self) -> None:
        """Do the chosen move with the other side."""
        move = self.chosen_move
        if move is None:
            return
        if not self.known_moves.find(move.move).sided:
            self._say(
                _(
                    "{move} has no left or right.",
                    move=f"{shown(move.move)[:1].upper()}{shown(move.move)[1:]}",
                )
            )
            return
        side = Side.LEFT if move.side is Side.RIGHT else Side.RIGHT
        self._on_move(f"{shown(side)}:", lambda r, i: edits.change_move(r, i, side=side))

    def note_move(self, text: str) -> None:
        """Write a note on the chosen move."""
        self._on_move(_("note on"), lambda r, i: edits.change_move(r, i, note=text))

    def set_border(self, move_id: str, time: float, merge: str = "") -> None:
        """Let a move end at `time`, on the grid, as its border is dragged."""
        at = snap(self.beatmap, time, self._fine())
        self.edit(
            _("drag a border"), lambda: edits.set_border(self.routine, self.beatmap, move_id, at),
            merge=merge,
        )  # fmt: skip

    def drag_move(self, move_id: str, time: float, merge: str = "") -> None:
        """Put a move where the pointer is among the moves of its transition."""
        bed, index = edits.find_move(self.routine, move_id)
        timed = (
            way_off(self.routine, self.beatmap)
            if bed == edits.EXIT
            else moves_before(self.routine.placed(bed), self.beatmap)
        )
        others = [t for t in timed if t.move.id != move_id]
        steps = sum((t.start + t.end) / 2 < time for t in others) - index
        if steps:
            self.edit(
                _("reorder moves"),
                lambda: edits.reorder_move(self.routine, move_id, steps),
                merge=merge,
            )

    def write_moves(self, pose_id: str, wanted: tuple[MoveRequest, ...]) -> None:
        """The moves of a transition, or of the way off, as typed; what stays keeps id and note."""
        off = pose_id == edits.EXIT
        counted = off or self.routine.placed(pose_id).transition.in_counts
        old, moves = list(edits.moves_of(self.routine, pose_id)), []
        for new in wanted:
            was = next((m for m in old if m.move == new.kind.name), None)
            if was is not None:
                old.remove(was)
            fields = {"side": new.side, "direction": new.direction}
            length = Length(new.counts, counted)
            base = was or Move(new_id(), new.kind.name, length)
            moves.append(replace(base, length=length, **fields))  # type: ignore[arg-type]
        self.edit(
            _("way off")
            if off
            else _("moves into {pose}", pose=shown(self.routine.placed(pose_id).pose)),
            lambda: edits.fit_moves(self.routine, self.beatmap, pose_id, moves),
        )

    def turn_way(self) -> None:
        """Turn into the chosen poses the shorter way, to the left, to the right."""
        if placed := self._one():
            turn = _TURNS[(_TURNS.index(placed.turn) + 1) % len(_TURNS)]
            self._each(
                _("turn {turn}:", turn=turn or _("the shorter way")),
                lambda r, i: edits.change(r, self.beatmap, i, turn=turn),
            )

    def change_place(self) -> None:
        """Hold the chosen poses elsewhere on the stage; after the last place: where one was."""
        if placed := self._one():
            place = _PLACES[(_PLACES.index(placed.place) + 1) % len(_PLACES)]
            self._each(
                f"{shown(place) if place else _('where the last pose was')}:",
                lambda r, i: edits.change(r, self.beatmap, i, place=place),
            )

    def _on_move(self, words: str, edit: Callable[[Routine, str], Routine]) -> None:
        move = self.chosen_move
        if move is not None:
            self.edit(f"{words} {shown(move.move)}", lambda: edit(self.routine, move.id))
