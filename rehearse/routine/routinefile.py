"""`routine.yaml`: from a document, checked throughout, to a routine.

Positions are written as dancers do (`3:5&`, `12.40 s`), lengths as `4 counts` or `3 s`; what is
left out has its default. Reading notes every fault of the file before it refuses it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from rehearse.files.inside import inside
from rehearse.files.mapping_reader import MappingReader, iso_date, nearest
from rehearse.files.user_error import UserError, halves, shortened
from rehearse.files.yamlfile import Document
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, Position, Seconds, parse_length, parse_position
from rehearse.routine.cutfile import read_cut
from rehearse.routine.model import (
    DRESSES,
    FIGURES,
    FORMAT,
    LONGEST_NOTE,
    MOST_MOVES,
    MOST_POSES,
    SKINS,
    Aside,
    Facing,
    Level,
    Move,
    OwnMove,
    OwnPose,
    Place,
    Placed,
    Routine,
    Section,
    Side,
    StagePart,
)
from rehearse.routine.moves import load_moves
from rehearse.routine.poses import Catalogue, plain
from rehearse.words import _

_TOP = (
    *("format", "title", "id", "track", "show", "division", "show_date", "rules", "beats"),
    *("stage", "figure", "dress", "skin", "poses", "exit", "sections", "own_poses", "own_moves"),
    *("cut", "set_aside"),
)
_STAGE = ("start", "end", "fade_in", "fade_out")
_POSE = (
    *("id", "pose", "hit", "hold", "transition", "facing", "level", "note", "say", "pinned"),
    *("turn", "moves", "again", "place"),
)
_MOVE = ("id", "move", "length", "side", "direction", "note")
_SECTION = ("id", "name", "start", "end")
#: What may be written of a pin; nothing leaves it to the music.
_PINNED = {"true": True, "false": False}
_OWN = ("name", "facing", "level", "picture", "say")
_OWN_MOVE = ("name", "pictures", "say")

#: No song is longer, in seconds or counts.
_LONGEST = 36_000.0
#: Sections and own poses of one routine.
_MOST_NAMED = 200
#: Pictures of one own move, shown in turn.
_MOST_PICTURES = 20
_START: Position = Seconds(0.0)
_IN_SONG = _("write seconds of the song, such as 83.20 s")

E = TypeVar("E", Facing, Level, Side, Place)


def read_routine(
    document: Document, folder: Path, beatmap: BeatMap | None, catalogue: Catalogue
) -> Routine:
    """The routine written in `document`, its poses sorted by their hits.

    Args:
        document: `routine.yaml` or an earlier version of it.
        folder: the routine's folder, which no reference may leave.
        beatmap: the map its counts mean; None when that file is itself at fault: positions are
            then read but not looked up, and poses stay in the order of the file.
        catalogue: the poses known without the routine's own ones.

    Raises:
        UserError: written by a newer version.
        UserErrors: all that is wrong with it.
    """
    if not isinstance(document.data, dict):
        raise UserError(
            _("is not written as names and values"),
            where=document.where(),
            do=_("write format: and a value"),
        )
    top = MappingReader(document, _TOP)
    top.check_format(FORMAT)
    own = tuple(_own_pose(item, folder) for item in top.items("own_poses", _OWN, most=_MOST_NAMED))
    _refuse_twice(
        top, "own_poses", [plain(o.name) for o in own], _("give one of them another name")
    )
    own_moves = tuple(
        _own_move(item, folder) for item in top.items("own_moves", _OWN_MOVE, most=_MOST_NAMED)
    )
    _refuse_twice(top, "own_moves", [plain(o.name) for o in own_moves], _("give one another name"))
    reader = _RoutineReader(beatmap, catalogue.with_own(own), own_moves)
    poses = [reader.placed(item) for item in top.items("poses", _POSE, most=MOST_POSES)]
    _refuse_twice(top, "poses", [p.id for p in poses], _("take this id line out"))
    sections = [reader.section(item) for item in top.items("sections", _SECTION, most=_MOST_NAMED)]
    _refuse_twice(top, "sections", [s.id for s in sections], _("take this id line out"))
    routine = Routine(
        title=top.text("title", None),
        track=top.reference("track", folder, _track_default(beatmap)),
        id=top.text("id") or _identity(document),
        show=top.text("show"),
        division=top.text("division"),
        show_date=top.value("show_date", iso_date, ""),
        rules=top.text("rules"),
        stage=reader.stage(top),
        own_poses=own,
        exit=reader.moves(top, "exit"),
        own_moves=own_moves,
        figure=top.choice("figure", FIGURES, FIGURES[0]),
        dress=top.choice("dress", DRESSES),
        skin=top.choice("skin", SKINS, SKINS[0]),
        cut=read_cut(top, folder),
        aside=_aside(top, _RoutineReader(None, reader.catalogue, own_moves)),
    )
    _refuse_double_moves(top, poses, routine.exit)
    top.finish()
    return in_order(routine, poses, sections, beatmap)


def _aside(top: MappingReader, reader: _RoutineReader) -> Aside:
    """What has no music in the cut, its positions in seconds of the song."""
    item = top.inside("set_aside", ("poses", "sections"))
    if item is None:
        return Aside()
    poses = [(each, reader.placed(each)) for each in item.items("poses", _POSE, most=MOST_POSES)]
    sections = [
        (each, reader.section(each)) for each in item.items("sections", _SECTION, most=_MOST_NAMED)
    ]
    for each, placed in poses:
        if not all(isinstance(p, Seconds) for p in (placed.hit, *placed.again)):
            each.note_error("hit", _("a pose that is set aside is no count"), _IN_SONG)
    for each, section in sections:
        if not isinstance(section.start, Seconds) or not isinstance(section.end, Seconds):
            each.note_error("start", _("a section that is set aside is no count"), _IN_SONG)
        elif section.end.value <= section.start.value:
            each.note_error("end", _("the section ends before it starts"), _("write a later end"))
    return Aside(tuple(p for _unused, p in poses), tuple(s for _unused, s in sections))


def _track_default(beatmap: BeatMap | None) -> str | None:
    """None where the track must be named; a folder of rounds alone has neither song nor map."""
    return "" if beatmap is not None and not beatmap.duration else None


def _identity(document: Document) -> str:
    """The id of a routine written before they had one; it is in the file from the next save on.

    Made from what names it and its poses, so that a folder that cannot be written, and one that
    was written meanwhile on another machine, come to the same.
    """
    data = document.data
    parts = [str(data.get("title")), str(data.get("track"))]
    for name in ("poses", "sections"):
        items = data.get(name)
        for item in items if isinstance(items, list) else ():
            if isinstance(item, dict):
                parts.append(str(item.get("id") or (item.get("pose"), item.get("hit"))))
    return hashlib.sha256("\n".join(parts).encode("utf-8", "replace")).hexdigest()[:16]


def _derived(item: MappingReader) -> str:
    """The id of a pose, move or section written without one: the same at every reading.

    Remarks and a coach's copy name it by its id before the next save has written it down.
    """
    told = repr((item.document.data.get("track"), item.keys, sorted(item.data.items(), key=str)))
    return hashlib.sha256(told.encode("utf-8", "replace")).hexdigest()[:8]


def in_order(
    routine: Routine, poses: list[Placed], sections: list[Section], beatmap: BeatMap | None
) -> Routine:
    """`routine` with these poses by their hits and these sections by their starts."""
    if beatmap is not None:
        poses = sorted(poses, key=lambda p: beatmap.time_of(p.hit))
        sections = sorted(sections, key=lambda s: beatmap.time_of(s.start))
    return replace(routine, poses=tuple(poses), sections=tuple(sections))


def _own_pose(item: MappingReader, folder: Path) -> OwnPose:
    name = item.text("name", None)
    if name and not plain(name):
        item.note_error(
            "name", _("{name!r} has no letter in it", name=name), _("write what you call the pose")
        )
    return OwnPose(
        name=name,
        facing=Facing(item.choice("facing", list(Facing), Facing.FRONT)),
        level=Level(item.choice("level", list(Level), Level.STANDING)),
        picture=item.reference("picture", folder),
        say=item.text("say"),
    )


def _own_move(item: MappingReader, folder: Path) -> OwnMove:
    name = item.text("name", None)
    if name and not plain(name):
        item.note_error(
            "name", _("{name!r} has no letter in it", name=name), _("write what you call the move")
        )
    pictures = item.words("pictures", most=_MOST_PICTURES)
    for picture in pictures:
        try:
            inside(folder, picture)
        except ValueError as error:
            what, do = halves(error)
            item.note_error("pictures", _("pictures: {what}", what=what), do)
    return OwnMove(name=name, pictures=pictures, say=item.text("say"))


def _refuse_double_moves(
    top: MappingReader, poses: list[Placed], way_off: tuple[Move, ...]
) -> None:
    """Edits and remarks find a move by its id, so that no two of a routine share one."""
    seen: set[str] = set()
    for index, moves in enumerate([*(p.moves for p in poses), way_off]):
        for place, move in enumerate(moves):
            if move.id in seen:
                keys = ("poses", index, "moves", place) if index < len(poses) else ("exit", place)
                item = MappingReader(top.document, _MOVE, keys, top.errors)
                item.note_error(
                    "id", _("{id!r} is used twice", id=move.id), _("take this id line out")
                )
            seen.add(move.id)


def _refuse_twice(top: MappingReader, name: str, values: list[str], do: str) -> None:
    seen: set[str] = set()
    for index, value in enumerate(values):
        if value and value in seen:
            key = "name" if name.startswith("own_") else "id"
            known = (*_POSE, *_OWN, *_SECTION, *_OWN_MOVE)
            item = MappingReader(top.document, known, (name, index), top.errors)
            item.note_error(key, _("{value!r} is used twice", value=value), do)
        seen.add(value)


class _RoutineReader:
    """Reads what stands on the music, against the map and the poses it may name."""

    def __init__(
        self, beatmap: BeatMap | None, catalogue: Catalogue, own_moves: tuple[OwnMove, ...] = ()
    ) -> None:
        self.beatmap, self.catalogue = beatmap, catalogue
        self.known_moves = load_moves().with_own(own_moves)

    def placed(self, item: MappingReader) -> Placed:
        return Placed(
            id=item.text("id", "") or _derived(item),
            pose=self._pose(item),
            hit=self._position(item, "hit"),
            hold=item.value("hold", length_of, Length(4)),
            transition=item.value("transition", length_of, Length(2)),
            facing=_optional(item, "facing", Facing),
            level=_optional(item, "level", Level),
            note=item.text("note", most=LONGEST_NOTE),
            say=item.text("say"),
            pinned=_PINNED.get(item.choice("pinned", _PINNED)),
            moves=self.moves(item, "moves"),
            turn=_optional(item, "turn", Side),
            again=self._again(item),
            place=_optional(item, "place", Place),
        )

    def moves(self, item: MappingReader, name: str) -> tuple[Move, ...]:
        return tuple(self._move(each) for each in item.items(name, _MOVE, most=MOST_MOVES))

    def _move(self, item: MappingReader) -> Move:
        name, directions = self._move_name(item)
        if not item.has("length"):
            item.note_error(
                "length", _("length is missing"), _("write length: 2 counts or length: 1.5 s")
            )
        return Move(
            id=item.text("id", "") or _derived(item),
            move=name,
            length=item.value("length", length_of, Length(2)),
            side=_optional(item, "side", Side),
            direction=item.choice("direction", directions),
            note=item.text("note", most=LONGEST_NOTE),
        )

    def _move_name(self, item: MappingReader) -> tuple[str, tuple[str, ...]]:
        text = item.text("move", None)
        try:
            kind = self.known_moves.find(text)
            return kind.name, kind.directions
        except KeyError:
            if text:
                names = [n for m in self.known_moves.moves for n in (m.name, *m.synonyms)]
                guess = nearest(text, names)
                do = (
                    _("write {guess}", guess=guess)
                    if guess
                    else _("write a move's name, or add it to own_moves")
                )
                item.note_error(
                    "move", _("{text!r} is no move known here", text=shortened(text, 60)), do
                )
            return text, ()

    def _again(self, item: MappingReader) -> tuple[Position, ...]:
        places = []
        for text in item.words("again"):
            try:
                place = _position(text)
                self._time(place)
                places.append(place)
            except KeyError:
                item.note_error(
                    "again", _("again: the music has no count {text}", text=text), self._counts()
                )
            except ValueError as error:
                what, do = halves(error)
                item.note_error(
                    "again", _("again: {what}", what=what), do or _("write a count such as 3:5")
                )
        if self.beatmap:
            places.sort(key=self._time)
        return tuple(places)

    def section(self, item: MappingReader) -> Section:
        section = Section(
            id=item.text("id", "") or _derived(item),
            name=item.text("name", None),
            start=self._position(item, "start"),
            end=self._position(item, "end"),
        )
        both = item.has("start") and item.has("end")
        if both and self.beatmap and not self._time(section.start) < self._time(section.end):
            item.note_error("end", _("the section ends before it starts"), _("write a later end"))
        return section

    def stage(self, top: MappingReader) -> StagePart | None:
        item = top.inside("stage", _STAGE)
        if item is None:
            return None
        start, end, fade_in, fade_out = (item.value(name, _seconds, 0.0) for name in _STAGE)
        if not item.has("end"):
            item.note_error(
                "end", _("end is missing"), _("write end: 60.00 s or where the music stops")
            )
        elif end <= start:
            item.note_error(
                "end", _("the stage part ends before it starts"), _("write a later end")
            )
        return StagePart(start, end, fade_in, fade_out)

    def _pose(self, item: MappingReader) -> str:
        text = item.text("pose", None)
        try:
            name: str = self.catalogue.find(text).name
            return name
        except KeyError:
            if text:
                names = [n for p in self.catalogue.poses for n in (p.name, *p.synonyms)]
                guess = nearest(text, names)
                do = (
                    _("write {guess}", guess=guess)
                    if guess
                    else _("write a pose's name, or add it to own_poses")
                )
                item.note_error("pose", _("{text!r} is no pose known here", text=text), do)
            return text

    def _position(self, item: MappingReader, name: str) -> Position:
        if not item.has(name):
            item.note_error(
                name,
                _("{name} is missing", name=name),
                _("write {name}: 3:5 or {name}: 12.40 s", name=name),
            )
            return _START
        position = item.value(name, _position, _START)
        try:
            self._time(position)
        except KeyError:
            item.note_error(
                name,
                _("{name}: the music has no count {position}", name=name, position=position),
                self._counts(),
            )
            return _START
        return position

    def _time(self, position: Position) -> float:
        return self.beatmap.time_of(position) if self.beatmap else 0.0

    def _counts(self) -> str:
        if not self.beatmap or not self.beatmap.counts:
            return _("write seconds such as 12.40 s, it is all in free time")
        first, last = self.beatmap.counts[0], self.beatmap.counts[-1]
        return _("write a count from {first} to {last}", first=first, last=last)


def _position(text: str) -> Position:
    position = parse_position(text)
    if isinstance(position, Seconds):
        _refuse_bare(text, _("a count such as 3:5 or seconds such as 12.40 s"))
        if position.value < 0:
            raise ValueError(_("{text!r} is before the music; write 0.00 s or later", text=text))
        if position.value > _LONGEST:
            raise ValueError(
                _("{text!r} is after any music; write an earlier time", text=text[:20])
            )
    return position


def length_of(text: str) -> Length:
    """A length as a routine's file may have it.

    Raises:
        ValueError: it is none, or longer than any music.
    """
    length = parse_length(text)
    if not length.in_counts:
        _refuse_bare(text, _("{text} counts or {text} s", text=text))
    if length.value > _LONGEST:
        raise ValueError(
            _("{text!r} is longer than any music; write a shorter one", text=text[:20])
        )
    return length


def _refuse_bare(text: str, do: str) -> None:
    if not text.rstrip().endswith("s"):
        raise ValueError(_("{text!r} may be counts or seconds; write {do}", text=text, do=do))


def _seconds(text: str) -> float:
    position = parse_position(text)
    if not isinstance(position, Seconds) or not 0 <= position.value <= _LONGEST:
        raise ValueError(_("{text!r} is no time; write seconds such as 12.40 s", text=text))
    return position.value


def _optional(item: MappingReader, name: str, kind: Callable[[str], E]) -> E | None:
    text = item.choice(name, list(kind))  # type: ignore[call-overload]
    return kind(text) if text else None
