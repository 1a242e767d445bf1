"""What stands beside the poses, piece by piece: headings, sections, own poses and own moves."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeVar

from rehearse.music.beatmap import BeatMap
from rehearse.routine.change_text import told_moves
from rehearse.routine.model import OwnMove, OwnPose, Routine, Section, StagePart
from rehearse.words import _, section_text, shown

Kind = Literal["heading", "section", "own pose", "own move"]
T = TypeVar("T", OwnPose, OwnMove)

#: What stands above the poses, and what it is called.
_HEADINGS = {
    "title": _("title"),
    "track": _("song"),
    "show": _("show"),
    "division": _("division"),
    "show_date": _("date of the show"),
    "rules": _("rule set"),
    "stage": _("stage part"),
    "exit": _("way off"),
    "figure": _("figure"),
    "dress": _("dress of the figure"),
    "skin": _("skin of the figure"),
}


@dataclass(frozen=True)
class MergeItem:
    """One piece in which two routines differ, told from the first to the second.

    Args:
        kind: what sort it is. name: field of the heading, id of the section in the routine that
            has it (the second's where both do), name of the own pose or move.
        label: what it is called. old, new: its value in each, None where a section or an own
            pose is lacking. text: a clause that starts with what it is about.
    """

    kind: Kind
    name: str
    label: str
    old: Any
    new: Any
    text: str


def merge_items(old: Routine, new: Routine) -> Iterator[MergeItem]:
    """Every piece but the poses in which two routines differ."""
    yield from _headings(old, new)
    yield from _sections(old, new)
    yield from _own_things("own pose", old.own_poses, new.own_poses, _own_words)
    yield from _own_things("own move", old.own_moves, new.own_moves, _own_move_words)


def item_in(routine: Routine, item: MergeItem) -> Any:
    """What `routine` has in the place of a piece; None where it lacks it."""
    if item.kind == "heading":
        return getattr(routine, item.name)
    if item.kind == "section":
        sides = [side for side in (item.old, item.new) if side is not None]
        ids, names = {side.id for side in sides}, {side.name for side in sides}
        by_id = next((s for s in routine.sections if s.id in ids), None)
        return by_id or next((s for s in routine.sections if s.name in names), None)
    if item.kind == "own move":
        return next((o for o in routine.own_moves if o.name == item.name), None)
    return next((o for o in routine.own_poses if o.name == item.name), None)


def retold(item: MergeItem, new: Any) -> MergeItem:
    """A section, own pose or own move of both routines, for another `new` than the second's."""
    if item.kind == "section":
        text = _(
            "section {name} {section_words}",
            name=item.old.name,
            section_words=_section_words(item.old, new),
        )
    elif item.kind == "own move":
        text = f"{item.label} {_own_move_words(item.old, new)}"
    else:
        text = f"{item.label} {_own_words(item.old, new)}"
    return replace(item, new=new, text=text)


def put_item(routine: Routine, beatmap: BeatMap, item: MergeItem) -> Routine:
    """`routine` with a piece as the second routine has it.

    A section keeps the id it had; an own pose or move that is still shown is not taken out.
    """
    if item.kind == "heading":
        return replace(routine, **{item.name: item.new})
    if item.kind == "section":
        return _put_section(routine, beatmap, item.old, item.new)
    if item.kind == "own move":
        return _put_own_move(routine, item)
    if item.new is None and any(p.pose == item.name for p in routine.poses):
        return routine
    rest = [o for o in routine.own_poses if o.name != item.name]
    own = [*rest, item.new] if item.new is not None else rest
    return replace(routine, own_poses=tuple(sorted(own, key=lambda o: o.name)))


def _put_own_move(routine: Routine, item: MergeItem) -> Routine:
    used = {m.move for moves in (routine.exit, *(p.moves for p in routine.poses)) for m in moves}
    if item.new is None and item.name in used:
        return routine
    rest = [o for o in routine.own_moves if o.name != item.name]
    own = [*rest, item.new] if item.new is not None else rest
    return replace(routine, own_moves=tuple(sorted(own, key=lambda o: o.name)))


def _put_section(
    routine: Routine, beatmap: BeatMap, old: Section | None, new: Section | None
) -> Routine:
    rest = [s for s in routine.sections if old is None or s.id != old.id]
    if new is not None:
        rest.append(replace(new, id=old.id) if old is not None else new)
    by_start = sorted(rest, key=lambda s: beatmap.time_of(s.start))
    return replace(routine, sections=tuple(by_start))


def _headings(old: Routine, new: Routine) -> Iterator[MergeItem]:
    for field, label in _HEADINGS.items():
        before, after = getattr(old, field), getattr(new, field)
        if before == after:
            continue
        text = _(
            "{label} is now {after}, was {before}",
            label=label,
            after=after or _("empty"),
            before=before or _("empty"),
        )
        if field == "stage":
            text = _stage_words(before, after)
        if field == "exit":
            told, was = (told_moves(moves) or _("empty") for moves in (after, before))
            text = _("{label} is now {told}, was {was}", label=label, told=told, was=was)
        yield MergeItem("heading", field, label, before, after, text)


def _stage_words(old: StagePart | None, new: StagePart | None) -> str:
    if new is None:
        return _("the whole song is used on stage")
    was = _(", was {length:.1f} s", length=old.length) if old else ""
    part = _(
        "stage part is {start:.1f}–{end:.1f} s of the song, {length:.1f} s long",
        start=new.start,
        end=new.end,
        length=new.length,
    )
    if old and (old.start, old.end) == (new.start, new.end):
        was = _(
            ", fading over {fade_in:.1f} and {fade_out:.1f} s",
            fade_in=new.fade_in,
            fade_out=new.fade_out,
        )
    return part + was


def _sections(old: Routine, new: Routine) -> Iterator[MergeItem]:
    before = {s.id: s for s in old.sections}
    by_name = {s.name: s for s in old.sections if s.id not in {n.id for n in new.sections}}
    seen: set[str] = set()
    for section in new.sections:
        label = _("section {name}", name=section_text(section.name))
        was = before.get(section.id) or by_name.get(section.name)
        if was is None:
            text = _(
                "{label} added, {start} to {end}", label=label, start=section.start, end=section.end
            )
            yield MergeItem("section", section.id, label, None, section, text)
            continue
        seen.add(was.id)
        if words := _section_words(was, section):
            text = _("section {name} {words}", name=was.name, words=words)
            yield MergeItem(
                "section", section.id, _("section {name}", name=was.name), was, section, text
            )
    for section in old.sections:
        if section.id not in seen:
            label = _("section {name}", name=section_text(section.name))
            yield MergeItem(
                "section", section.id, label, section, None, _("{label} taken out", label=label)
            )


def _section_words(old: Section, new: Section) -> str:
    words = []
    if old.name != new.name:
        words.append(_("is now called {name}", name=new.name))
    if (old.start, old.end) != (new.start, new.end):
        words.append(
            _(
                "now from {start} to {end}, was {start2} to {end2}",
                start=new.start,
                end=new.end,
                start2=old.start,
                end2=old.end,
            )
        )
    return ", ".join(words)


def _own_things(
    kind: Kind, old: Iterable[T], new: Iterable[T], words_of: Callable[[T, T], str]
) -> Iterator[MergeItem]:
    """Own poses or own moves ("own pose", "own move") that came, went or changed, by name."""
    before, after = ({o.name: o for o in things} for things in (old, new))
    for name in sorted(before.keys() | after.keys()):
        was, now = before.get(name), after.get(name)
        if was == now:
            continue
        if was is None or now is None:
            words = _("taken out") if now is None else _("added")
        else:
            words = words_of(was, now)
        label = f"{shown(kind)} {name}"
        yield MergeItem(kind, name, label, was, now, f"{label} {words}")


def _own_words(old: OwnPose, new: OwnPose) -> str:
    words = []
    if old.facing != new.facing:
        words.append(_("faces {facing}", facing=shown(new.facing)))
    if old.level != new.level:
        words.append(_("is {level}", level=shown(new.level)))
    if old.picture != new.picture:
        words.append(_("has another photo") if new.picture else _("has no photo"))
    if old.say != new.say:
        words.append(
            _("is spoken as “{say}”", say=new.say) if new.say else _("is spoken as it is called")
        )
    return ", ".join(words)


def _own_move_words(old: OwnMove, new: OwnMove) -> str:
    words = []
    if old.pictures != new.pictures:
        words.append(_("has other photos") if new.pictures else _("has no photo"))
    if old.say != new.say:
        words.append(
            _("is spoken as “{say}”", say=new.say) if new.say else _("is spoken as it is called")
        )
    return ", ".join(words)
