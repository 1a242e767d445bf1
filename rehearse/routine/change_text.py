"""Changes of one pose in the words a coach would use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length, Position
from rehearse.routine.accent_pins import is_pinned
from rehearse.routine.model import Move, Placed, Routine
from rehearse.words import _, ngettext, place_text, shown

#: An edit that left all others where they were.
NONE_MOVED = _("No other pose moved.")


def changes(old: Placed, new: Placed) -> tuple[str, ...]:
    """What changed in one pose but its place, each a clause after the pose's name."""
    words = []
    if old.pose != new.pose:
        words.append(_("is now {pose}", pose=shown(new.pose)))
    if old.hold != new.hold:
        words.append(_longer(_("held"), old.hold, new.hold))
    if old.transition != new.transition:
        words.append(_longer(_("transition"), old.transition, new.transition))
    if old.facing != new.facing:
        words.append(_("faces {facing}", facing=shown(new.facing or _("as usual"))))
    if old.level != new.level:
        words.append(_("is {level}", level=shown(new.level or _("at its usual level"))))
    if old.note != new.note:
        words.append(_("note: {note}", note=new.note) if new.note else _("note taken out"))
    if old.say != new.say:
        words.append(_("spoken as “{say}”", say=new.say) if new.say else _("spoken as usual"))
    if old.pinned != new.pinned:
        words.append(_PINS[new.pinned])
    if old.turn != new.turn:
        words.append(
            _("turns into it to the {turn}", turn=shown(new.turn))
            if new.turn
            else _("turns the shorter way")
        )
    if old.place != new.place:
        words.append(
            _("stage place: {place}", place=shown(new.place))
            if new.place
            else _("stays where the last pose was")
        )
    if _told_apart(old.moves, new.moves):
        words.append(_moves_words(_("moves into it"), old.moves, new.moves))
    if old.again != new.again:
        told = ", ".join(place_text(position) for position in new.again)
        words.append(_("hit again at {told}", told=told) if told else _("is not hit again"))
    return tuple(words)


def told_moves(moves: Sequence[Move]) -> str:
    """Moves as a coach would say them: "gather 4 counts, reach up right 2 counts"."""
    return ", ".join(
        " ".join((*map(shown, filter(None, (m.move, m.side, m.direction))), place_text(m.length)))
        for m in moves
    )


def _told_apart(old: Sequence[Move], new: Sequence[Move]) -> bool:
    """Whether moves differ in more than what they are called inside."""
    return [replace(m, id="") for m in old] != [replace(m, id="") for m in new]


def _moves_words(what: str, old: Sequence[Move], new: Sequence[Move]) -> str:
    if not new:
        return _("{what} taken out, were {told_moves}", what=what, told_moves=told_moves(old))
    if told_moves(old) == told_moves(new):
        return _("{what}: notes changed", what=what)
    return f"{what}: {told_moves(new)}" + (
        _(", were {told_moves}", told_moves=told_moves(old)) if old else ""
    )


_PINS = {True: _("is pinned"), False: _("is not pinned"), None: _("is pinned where an accent is")}


def _longer(what: str, old: Length, new: Length) -> str:
    if old.in_counts != new.in_counts:
        return _("{what} {new} instead of {old}", what=what, new=new, old=old)
    by = Length(abs(new.value - old.value), new.in_counts)
    if new.value > old.value:
        return _("{what} {by} longer ({old} → {new})", what=what, by=by, old=old, new=new)
    return _("{what} {by} shorter ({old} → {new})", what=what, by=by, old=old, new=new)


def moved_by(old: Placed, new: Placed, old_map: BeatMap, new_map: BeatMap) -> str:
    """How far a pose moved: "4 counts later", in seconds where free time is between."""
    return _moved_text(*_moved(old, new, old_map, new_map))


def _moved(old: Placed, new: Placed, old_map: BeatMap, new_map: BeatMap) -> tuple[Length, bool]:
    """How far a pose moved, and whether it is later."""
    before, after = old_map.time_of(old.hit), new_map.time_of(new.hit)
    counts = None
    if isinstance(old.hit, Count) and isinstance(new.hit, Count):
        counts = new_map.counts_between(min(before, after), max(before, after))
    amount = (
        Length(round(counts * 4) / 4)
        if counts is not None
        else Length(round(abs(after - before), 2), in_counts=False)
    )
    return amount, after > before


def _moved_text(amount: Length, later: bool) -> str:
    return _("{amount} later", amount=amount) if later else _("{amount} earlier", amount=amount)


def moves_told(old: Routine, new: Routine, beatmap: BeatMap, since: Position | None) -> str:
    """How many other poses an edit moved by how much, and what it did to them, as one sentence.

    Args:
        old, new: before and after the edit. since: where it was made; the first pinned pose from
            there on that kept its place is named; None: none is.
    """
    after = {p.id: p for p in new.poses}
    both = [(p, after[p.id]) for p in old.poses if p.id in after]
    moved = [(a, b) for a, b in both if a.hit != b.hit]
    told = [_moved_words(moved, beatmap)]
    changed = [(a, b) for a, b in both if a.hold != b.hold]
    if shorter := sum(_held(b, beatmap) < _held(a, beatmap) - 0.01 for a, b in changed):
        told.append(
            ngettext("1 is held shorter", "{shorter} are held shorter", shorter, shorter=shorter)
        )
    place = beatmap.time_of(since) if since else beatmap.duration
    kept = (a for a, b in both if a.hit == b.hit and beatmap.time_of(a.hit) >= place)
    if wall := next((p for p in kept if is_pinned(p, beatmap)), None):
        told.append(_("{pose} stays pinned at {hit}", pose=shown(wall.pose), hit=wall.hit))
    if late := sum(_past_end(b, new, beatmap) and not _past_end(a, old, beatmap) for a, b in moved):
        told.append(
            ngettext("1 now lies past the end", "{late} now lie past the end", late, late=late)
        )
    return ", ".join(told) + "."


def _moved_words(moved: list[tuple[Placed, Placed]], beatmap: BeatMap) -> str:
    if not moved:
        return NONE_MOVED.rstrip(".")
    who = ngettext("1 pose", "{number} poses", len(moved), number=len(moved))
    amounts = {_moved(a, b, beatmap, beatmap) for a, b in moved}
    return ngettext(
        "{who} moved {amounts}",
        "{who} moved",
        len(amounts),
        who=who,
        amounts=_moved_text(*amounts.pop()),
    )


def _held(placed: Placed, beatmap: BeatMap) -> float:
    _unused, hit, end = placed.times(beatmap)
    return end - hit


def _past_end(placed: Placed, routine: Routine, beatmap: BeatMap) -> bool:
    end = routine.stage.end if routine.stage else beatmap.duration
    return beatmap.time_of(placed.hit) >= end - 0.02
