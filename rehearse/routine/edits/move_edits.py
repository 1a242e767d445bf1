"""Edits of what is done between the poses: moves, the way off, hits once more, turn and place.

A move belongs to a transition, named by the id of its pose, or to the way off (`EXIT`). Moves
follow each other, so that one that is made longer begins the later ones later; the hit stays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, Position
from rehearse.routine.edits.fitting import length_within
from rehearse.routine.edits.pose_edits import COUNT_IN_FREE_TIME, change, tidy, tidy_position
from rehearse.routine.model import MOST_MOVES, Move, Placed, Routine, Side, new_id
from rehearse.routine.moving import chain
from rehearse.words import _, shown

#: Stands for a pose's id where the way off is meant.
EXIT = ""
#: Shortest move, and the way into a pose that is left after its moves: counts, seconds.
_LEAST, _WAY = {True: 0.25, False: 0.125}, {True: 1.0, False: 0.5}
#: Places nearer than this are the same, in seconds.
_SAME = 0.02
#: The other side of the body.
OTHER = {Side.LEFT: Side.RIGHT, Side.RIGHT: Side.LEFT, None: None}


def find_move(routine: Routine, move_id: str) -> tuple[str, int]:
    """The pose (or `EXIT`) that a move leads to, and its place among the moves there.

    Raises:
        KeyError: there is no such move.
    """
    for bed, moves in ((EXIT, routine.exit), *((p.id, p.moves) for p in routine.poses)):
        for index, move in enumerate(moves):
            if move.id == move_id:
                return bed, index
    raise KeyError(move_id)


def moves_of(routine: Routine, bed: str) -> tuple[Move, ...]:
    """The moves of a transition, or of the way off."""
    return routine.exit if bed == EXIT else routine.placed(bed).moves


def set_moves(routine: Routine, bed: str, moves: Sequence[Move]) -> Routine:
    """Have these moves in a transition, or on the way off; nothing else changes.

    Raises:
        UserError: they are more than a transition can hold.
    """
    if len(moves) > MOST_MOVES:
        raise UserError(
            _("a transition holds {most_moves} moves at most", most_moves=MOST_MOVES),
            do=_("take some out first"),
        )
    if bed == EXIT:
        return replace(routine, exit=tuple(moves))
    routine.placed(bed)
    poses = (replace(p, moves=tuple(moves)) if p.id == bed else p for p in routine.poses)
    return replace(routine, poses=tuple(poses))


def add_move(
    routine: Routine,
    beatmap: BeatMap,
    bed: str,
    move: str,
    *,
    counts: float = 2.0,
    index: int | None = None,
    move_id: str = "",
    side: Side | None = None,
    direction: str = "",
) -> Routine:
    """Put a move into a transition or on the way off, after the others or at `index` of them.

    The transition begins earlier as far as it must, at most where the hold before ends; where
    that is too little the move is shorter than wished.

    Args:
        counts: how long it is wished; in free time a count is half a second.

    Raises:
        UserError: there is no time for another move, or no pose for a way off.
    """
    if bed == EXIT and not routine.poses:
        raise UserError(
            _("the way off follows the last pose, and there is none"), do=_("add a pose first")
        )
    wished, routine = _make_room(routine, beatmap, bed, counts)
    moves = list(moves_of(routine, bed))
    new = Move(move_id or new_id(), move, wished, side, direction)
    moves.insert(len(moves) if index is None else index, new)
    return set_moves(routine, bed, moves)


def _make_room(
    routine: Routine, beatmap: BeatMap, bed: str, counts: float
) -> tuple[Length, Routine]:
    """How long a new move may be, and the routine with a transition that has the room for it."""
    if bed == EXIT:
        end = chain(routine.exit, routine.poses[-1].times(beatmap)[2], beatmap)
        last = end[-1].end if end else routine.poses[-1].times(beatmap)[2]
        counted = beatmap.beat_at(last) is not None
        return _length(counts if counted else counts * COUNT_IN_FREE_TIME, counted), routine
    placed = routine.placed(bed)
    start, hit, _unused = placed.times(beatmap)
    counted = placed.transition.in_counts
    wished = counts if counted else counts * COUNT_IN_FREE_TIME
    timed = chain(placed.moves, start, beatmap)
    used = _measure(beatmap, start, timed[-1].end, counted) if timed else 0.0
    earliest = _earliest(routine, beatmap, placed)
    most = max(placed.transition.value, _measure(beatmap, earliest, hit, counted))
    room = math.floor((most - used - _WAY[counted]) * (4 if counted else 1000) + 1e-6)
    wished = min(wished, room / (4 if counted else 1000))
    if wished < _LEAST[counted]:
        raise UserError(
            _("there is no time for another move before {pose}", pose=shown(placed.pose)),
            do=_("hold the pose before it shorter, or make a move shorter"),
        )
    need = used + wished + _WAY[counted]
    if need > placed.transition.value:
        way = _up(min(need, most), counted)
        routine = change(routine, beatmap, bed, transition=way)
    return _length(wished, counted), routine


def fit_moves(routine: Routine, beatmap: BeatMap, pose_id: str, moves: Sequence[Move]) -> Routine:
    """Have these moves in a transition, which begins earlier as far as they need.

    Those of the way off (`EXIT`) go on to the end of the music at most.

    Raises:
        UserError: they take longer than there is before the pose.
    """
    if pose_id == EXIT:
        start = routine.poses[-1].times(beatmap)[2] if routine.poses else 0.0
        if moves and chain(moves, start, beatmap)[-1].end > beatmap.duration + _SAME:
            raise UserError(
                _("the way off would go on past the end of the music"), do=_("make it shorter")
            )
        return set_moves(routine, EXIT, moves)
    placed = routine.placed(pose_id)
    counted, (start, hit, _unused) = placed.transition.in_counts, placed.times(beatmap)
    most = _measure(beatmap, _earliest(routine, beatmap, placed), hit, counted)
    most = max(placed.transition.value, most)
    timed = chain(moves, start, beatmap)
    need = _measure(beatmap, start, timed[-1].end, counted) if timed else 0.0
    if need > most + 1e-6:
        raise UserError(
            _(
                "these moves take {up}, and there are {up2} before {pose}",
                up=_up(need, counted),
                up2=_up(most, counted),
                pose=shown(placed.pose),
            ),
            do=_("make them shorter"),
        )
    if (need := min(need + _WAY[counted], most)) > placed.transition.value:
        routine = change(routine, beatmap, pose_id, transition=_up(need, counted))
    return set_moves(routine, pose_id, moves)


def _up(value: float, counted: bool) -> Length:
    step = 4 if counted else 1000
    return Length(math.ceil(value * step - 1e-6) / step, counted)


def _length(value: float, counted: bool) -> Length:
    return tidy(Length(max(value, _LEAST[counted]), counted))


def _measure(beatmap: BeatMap, start: float, end: float, counted: bool) -> float:
    """A stretch in counts or seconds; where no beat joins its ends, at the pace of the nearest."""
    if not counted:
        return end - start
    counts = beatmap.counts_between(start, end) if start < end else 0.0
    if counts is not None:
        return counts
    one = beatmap.shift(end, Length(-1.0))
    return (end - start) / max(end - one, 1e-3)


def _earliest(routine: Routine, beatmap: BeatMap, placed: Placed) -> float:
    """Where a transition may begin: the hold before it is over, or the music begins."""
    index = routine.poses.index(placed)
    if index:
        return min(routine.poses[index - 1].times(beatmap)[2], placed.times(beatmap)[0])
    stage, hit = routine.stage, beatmap.time_of(placed.hit)
    return stage.start if stage is not None and stage.start < hit else 0.0


def begin_move(
    routine: Routine,
    beatmap: BeatMap,
    at: Position,
    move: str,
    *,
    counts: float = 2.0,
    move_id: str = "",
    side: Side | None = None,
    direction: str = "",
) -> Routine:
    """Put a move so that it begins at `at`: what was done until then ends there.

    The move under way ends there, and so does a hold; a transition without a move before begins
    there. After the last hit the move is one of the way off.

    Raises:
        UserError: a pose is hit just before, or the next one too soon after.
        KeyError: the music has no such count.
    """
    time = beatmap.time_of(at)
    bed, before = _neighbours(routine, beatmap, time)
    new = Move(move_id or new_id(), move, Length(counts), side, direction)
    if before is not None:
        routine = _end_hold(routine, beatmap, before, time)
    if bed != EXIT:
        routine = _begin_before(routine, beatmap, bed, time, new)
        return routine if before is None else _clear(routine, beatmap, before.id, bed)
    routine, index = _cut(routine, beatmap, EXIT, time)
    wished, routine = _make_room(routine, beatmap, EXIT, counts)
    return _insert(routine, EXIT, index, replace(new, length=wished))


def _begin_before(routine: Routine, beatmap: BeatMap, bed: str, time: float, new: Move) -> Routine:
    """Put a move, as long as it is wished, into a transition so that it begins at `time`."""
    counts = new.length.value
    placed = routine.placed(bed)
    start, hit, _unused = placed.times(beatmap)
    counted = placed.transition.in_counts
    left = _measure(beatmap, time, hit, counted)
    if left < _LEAST[counted] * 2 - 1e-6:
        raise UserError(
            _("{pose} is hit at once", pose=shown(placed.pose)), do=_("begin the move earlier")
        )
    if not placed.moves or time < start - _SAME:
        # What was there keeps its counts: the new move fills the time before it.
        used = 0.0 if not placed.moves else _measure(beatmap, start, hit, counted)
        way = _span(beatmap, time, hit, counted)
        routine = change(routine, beatmap, bed, transition=way)
        fits = left - used if used else _fitting(left, counts, counted)
        return _insert(routine, bed, 0, replace(new, length=_length(fits, counted)))
    routine, index = _cut(routine, beatmap, bed, time)
    fits = _fitting(left, counts, counted)
    return _insert(routine, bed, index, replace(new, length=_length(fits, counted)))


def _fitting(left: float, counts: float, counted: bool) -> float:
    """How long a move of `counts` may be where `left` counts (or seconds) are left to a hit."""
    most = left - min(_WAY[counted], left / 2)
    wished = min(counts if counted else counts * COUNT_IN_FREE_TIME, most)
    step = 4 if counted else 1000
    return math.floor(wished * step + 1e-6) / step


def _insert(routine: Routine, bed: str, index: int, move: Move) -> Routine:
    moves = moves_of(routine, bed)
    return set_moves(routine, bed, (*moves[:index], move, *moves[index:]))


def _neighbours(routine: Routine, beatmap: BeatMap, time: float) -> tuple[str, Placed | None]:
    """The pose that a move at `time` leads to (or `EXIT`), and the one hit before it."""
    before: Placed | None = None
    for placed in routine.poses:
        if beatmap.time_of(placed.hit) > time + _SAME:
            return placed.id, before
        before = placed
    if before is None:
        raise UserError(_("a move leads to a pose, and there is none"), do=_("add a pose first"))
    return EXIT, before


def _end_hold(routine: Routine, beatmap: BeatMap, placed: Placed, time: float) -> Routine:
    """A hold that goes on past `time` ends there."""
    _unused, hit, end = placed.times(beatmap)
    if time >= end - _SAME:
        return routine
    counted = placed.hold.in_counts
    if _measure(beatmap, hit, time, counted) < _WAY[counted] - 1e-6:
        raise UserError(
            _("{pose} has just been hit", pose=shown(placed.pose)),
            do=_("begin the move a count later"),
        )
    return change(routine, beatmap, placed.id, hold=_span(beatmap, hit, time, counted))


def _span(beatmap: BeatMap, start: float, end: float, counted: bool) -> Length:
    counts = beatmap.counts_between(start, end)
    if counted and counts is not None:
        return tidy(Length(counts))
    return Length(round(end - start, 3), in_counts=False)


def _clear(routine: Routine, beatmap: BeatMap, held: str, bed: str) -> Routine:
    """A hold ends where the transition after it is written to begin, at the latest."""
    placed, start = routine.placed(held), routine.placed(bed).times(beatmap)[0]
    _unused, hit, end = placed.times(beatmap)
    if end <= start + _SAME or start <= hit:
        return routine
    hold = length_within(beatmap, hit, start, placed.hold)
    return change(routine, beatmap, held, hold=hold)


def _cut(routine: Routine, beatmap: BeatMap, bed: str, time: float) -> tuple[Routine, int]:
    """Let the move under way, or the last one before, end at `time`; the place after it."""
    moves = list(moves_of(routine, bed))
    if bed == EXIT:
        start = routine.poses[-1].times(beatmap)[2]
    else:
        start = routine.placed(bed).times(beatmap)[0]
    timed = chain(moves, start, beatmap)
    index = sum(t.start < time - _SAME for t in timed)
    if not index:
        return routine, 0
    last = timed[index - 1]
    if abs(last.end - time) > _SAME:
        length = _span(beatmap, last.start, time, last.move.length.in_counts)
        least = _LEAST[length.in_counts]
        if length.value < least / 2:
            # It has hardly begun: what is put in takes its place, and it is done afterwards.
            return routine, index - 1
        moves[index - 1] = replace(
            last.move, length=replace(length, value=max(length.value, least))
        )
        routine = set_moves(routine, bed, moves)
    return routine, index


def change_move(routine: Routine, move_id: str, **changes: Any) -> Routine:
    """Change any fields of one move but its id; another move gives up its direction.

    Raises:
        KeyError: no such move. TypeError: a move has no such field.
    """
    bed, index = find_move(routine, move_id)
    moves = list(moves_of(routine, bed))
    if changes.get("move", moves[index].move) != moves[index].move:
        changes = {"direction": "", **changes}
    if "length" in changes:
        wished = tidy(changes["length"])
        changes["length"] = replace(wished, value=max(wished.value, _LEAST[wished.in_counts]))
    moves[index] = replace(moves[index], **changes, id=move_id)
    return set_moves(routine, bed, moves)


def resize_move(routine: Routine, beatmap: BeatMap, move_id: str, counts: float) -> Routine:
    """Make a move `counts` counts longer (shorter when negative); later ones begin later.

    Raises:
        UserError: its transition has no time for that.
    """
    bed, index = find_move(routine, move_id)
    old = moves_of(routine, bed)[index].length
    step = counts if old.in_counts else counts * COUNT_IN_FREE_TIME
    new = change_move(routine, move_id, length=replace(old, value=max(0.0, old.value + step)))
    return _within(new, beatmap, bed)


def _within(routine: Routine, beatmap: BeatMap, bed: str) -> Routine:
    """`routine` where the moves of a transition end before its hit.

    Raises:
        UserError: they do not.
    """
    if bed != EXIT:
        placed = routine.placed(bed)
        start, hit, _unused = placed.times(beatmap)
        timed = chain(placed.moves, start, beatmap)
        if timed and timed[-1].end > hit + _SAME:
            raise UserError(
                _("the moves would go on past the hit of {pose}", pose=shown(placed.pose)),
                do=_("make the transition longer with T first"),
            )
    return routine


def set_border(routine: Routine, beatmap: BeatMap, move_id: str, end: Position) -> Routine:
    """Let a move end at `end`; the move after it begins there and ends where it did.

    Raises:
        UserError: one of the two would have no time.
    """
    bed, index = find_move(routine, move_id)
    moves = list(moves_of(routine, bed))
    if bed == EXIT:
        start, hit = routine.poses[-1].times(beatmap)[2], beatmap.duration
    else:
        start, hit, _unused = routine.placed(bed).times(beatmap)
    timed = chain(moves, start, beatmap)
    border = beatmap.time_of(end)
    latest = timed[index + 1].end if index + 1 < len(moves) else hit
    if not timed[index].start + _SAME < border < latest - _SAME:
        raise UserError(_("a move needs some time"), do=_("drag its border less far"))
    moves[index] = _resized(beatmap, moves[index], timed[index].start, border)
    if index + 1 < len(moves):
        moves[index + 1] = _resized(beatmap, moves[index + 1], border, latest)
    return set_moves(routine, bed, moves)


def _resized(beatmap: BeatMap, move: Move, start: float, end: float) -> Move:
    length = _span(beatmap, start, end, move.length.in_counts)
    return replace(move, length=replace(length, value=max(length.value, _LEAST[length.in_counts])))


def remove_move(routine: Routine, move_id: str) -> Routine:
    """Take a move out; the later ones begin earlier, and the way into the pose is longer."""
    bed, index = find_move(routine, move_id)
    moves = moves_of(routine, bed)
    return set_moves(routine, bed, (*moves[:index], *moves[index + 1 :]))


def reorder_move(routine: Routine, move_id: str, steps: int) -> Routine:
    """Do a move so many places later among the others (earlier when negative)."""
    bed, index = find_move(routine, move_id)
    moves = list(moves_of(routine, bed))
    move = moves.pop(index)
    moves.insert(min(max(0, index + steps), len(moves)), move)
    return set_moves(routine, bed, moves)


def mirror_moves(routine: Routine, bed: str) -> Routine:
    """Do the moves of a transition, or of the way off, with the other side."""
    return set_moves(routine, bed, [mirrored_move(move) for move in moves_of(routine, bed)])


def mirrored_move(move: Move) -> Move:
    """A move as a mirror shows it."""
    words = {"left": "right", "right": "left"}
    direction = " ".join(words.get(word, word) for word in move.direction.split(" "))
    return replace(move, side=OTHER[move.side], direction=direction)


def hit_again(routine: Routine, beatmap: BeatMap, at: Position) -> Routine:
    """Hit the pose held at `at` once more there, or no longer where it is.

    Raises:
        UserError: no pose is held there.
        KeyError: the music has no such count.
    """
    at = tidy_position(at)
    time = beatmap.time_of(at)
    for placed in routine.poses:
        _unused, hit, end = placed.times(beatmap)
        if hit + _SAME < time < end - _SAME:
            known = {p: beatmap.time_of(p) for p in placed.again}
            rest = tuple(p for p, t in known.items() if abs(t - time) > _SAME)
            if len(rest) == len(known):
                rest = tuple(sorted((*rest, at), key=beatmap.time_of))
            return change(routine, beatmap, placed.id, again=rest)
    raise UserError(_("no pose is held there"), do=_("put the cursor inside a hold, after its hit"))
