"""What the coach said of a routine: remarks on a pose, a move or a place in the music.

They come as a small file that the coach's page saved (JSON, which is YAML) and are kept in the
routine's folder. The file is a stranger's: its size, its number of remarks and every text are
limited, texts are plain and without marks that steer a screen, and a proposed change is one of
four plain choices that is only offered, never made.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Literal, get_args

from rehearse.files.atomic import save_atomic
from rehearse.files.door import read_inside
from rehearse.files.mapping_reader import MappingReader
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import MAX_BYTES, dump_yaml, parse_yaml
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, Seconds, parse_length, parse_position
from rehearse.routine.merge import find_save
from rehearse.routine.model import Facing, Placed, Routine
from rehearse.routine.poses import Catalogue, load_catalogue
from rehearse.routine.routinefile import length_of
from rehearse.words import _

FILE_NAME = "remarks.yaml"
FORMAT = 1
#: Bytes and remarks of one file, remarks kept in a folder, letters of a remark and of a name.
LARGEST, MOST, MOST_KEPT, LONGEST, LONGEST_NAME = 256_000, 200, 2000, 2000, 80
State = Literal["new", "taken", "answered", "set aside"]

_TARGETS, _CHANGES = ("pose", "move", "time"), ("hit", "hold", "facing", "pose")
_SENT = ("id", *_TARGETS, "text", "change", "written")
_KEPT = (*_SENT, "author", "base", "state", "answer")
_ID = re.compile(r"^[0-9A-Za-z_-]{1,40}$")
#: Control characters but the end of a line, and marks that turn the direction of a text round.
_STEERING = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True)
class Change:
    """What is proposed for a pose; empty: as it is.

    Args:
        hit: another place in the music ("12.345 s" of the track). hold: a length. facing: one of
            `Facing`. pose: another pose's name.
    """

    hit: str = ""
    hold: str = ""
    facing: str = ""
    pose: str = ""

    def __bool__(self) -> bool:
        return self != Change()


@dataclass(frozen=True)
class Remark:
    """One remark.

    Args:
        id: stable, the page's own; a file that comes twice is taken once.
        pose, move: id of what it is about; time: or a second of the track.
        text, author: as typed. written: ISO 8601 date and time.
        base: fingerprint of the state of the routine it was written on.
        state: what became of it. answer: the athlete's, as typed.
    """

    id: str
    text: str
    pose: str = ""
    move: str = ""
    time: float | None = None
    change: Change = Change()
    author: str = ""
    written: str = ""
    base: str = ""
    state: State = "new"
    answer: str = ""


def fingerprint(data: bytes) -> str:
    """A name for a state of the routine, from the bytes of its file."""
    return hashlib.sha256(data).hexdigest()[:16]


def read_remarks(data: bytes, path: Path, routine_id: str) -> tuple[Remark, ...]:
    """The remarks of a file that the coach sent.

    Args:
        data: its bytes. path: how it is called in a sentence. routine_id: my routine's.

    Raises:
        UserError: it is no file of remarks, too large, on another routine, or damaged.
    """
    if len(data) > LARGEST:
        raise UserError(
            _("has more than {largest} kB, too many for remarks", largest=LARGEST // 1000),
            where=path.name,
            do=_("ask the coach to save them in two files"),
        )
    document = parse_yaml(data, path)
    if not isinstance(document.data, dict) or "remarks_on" not in document.data:
        do = _("choose the file that the coach's page saved")
        raise UserError(_("holds no remarks"), where=path.name, do=do)
    names = ("format", "remarks_on", "base", "title", "author", "remarks")
    head = MappingReader(document, names)
    head.check_format(FORMAT)
    if head.text("remarks_on") != routine_id:
        do = _("open the routine they are on, then drop the file again")
        raise UserError(_("holds remarks on another routine"), where=path.name, do=do)
    author, base = plain_text(head.text("author", most=LONGEST_NAME)), head.text("base", most=64)
    found = [
        replace(_remark(item), author=author, base=base)
        for item in head.items("remarks", _SENT, most=MOST)
    ]
    head.finish()
    return tuple(found)


def load_remarks(folder: Path) -> tuple[Remark, ...]:
    """The remarks kept in a routine's folder; none where there is no such file.

    Raises:
        UserError: the file is damaged.
    """
    if not (folder / FILE_NAME).exists():
        return ()
    path = folder / FILE_NAME
    document = parse_yaml(read_inside(folder, FILE_NAME, MAX_BYTES), path)
    head = MappingReader(document, ("format", "remarks"))
    head.check_format(FORMAT)
    found = []
    for item in head.items("remarks", _KEPT, most=MOST_KEPT):
        state: State = item.choice("state", get_args(State), "new")  # type: ignore[assignment]
        author = plain_text(item.text("author", most=LONGEST_NAME))
        answer = plain_text(item.text("answer", most=LONGEST))
        base = item.text("base", most=64)
        kept = _remark(item)
        found.append(replace(kept, author=author, base=base, state=state, answer=answer))
    head.finish()
    return tuple(found)


def save_remarks(folder: Path, remarks: Sequence[Remark]) -> None:
    """Keep these and no others, whole or not at all.

    Raises:
        UserError: there are too many, or the folder cannot be written.
    """
    if len(remarks) > MOST_KEPT:
        do = _("delete some from {file_name}", file_name=FILE_NAME)
        raise UserError(
            _("the routine has {most_kept:,} remarks already", most_kept=MOST_KEPT), do=do
        )
    rows = [_row(remark) for remark in remarks]
    save_atomic(folder / FILE_NAME, dump_yaml({"format": FORMAT, "remarks": rows}))


def receive(folder: Path, came: Iterable[Remark]) -> tuple[Remark, ...]:
    """Keep the remarks that came beside those there are; returns the ones that are new.

    One that is there already keeps its state and its answer.

    Raises:
        UserError: as `load_remarks` and `save_remarks`.
    """
    kept = load_remarks(folder)
    known = {remark.id for remark in kept}
    new = tuple({remark.id: remark for remark in came if remark.id not in known}.values())
    if new:
        save_remarks(folder, (*kept, *new))
    return new


def with_changes(routine: Routine, beatmap: BeatMap, remarks: Iterable[Remark]) -> Routine:
    """`routine` with what the remarks propose; what no longer fits it is left out."""
    poses = {placed.id: placed for placed in routine.poses}
    catalogue = load_catalogue().of(routine)
    for remark in remarks:
        if remark.change and remark.pose in poses:
            change = replace(remark.change, pose=_known(catalogue, remark.change.pose))
            poses[remark.pose] = _changed(poses[remark.pose], beatmap, change)
    ordered = sorted(poses.values(), key=lambda placed: beatmap.time_of(placed.hit))
    return replace(routine, poses=tuple(ordered))


def state_of(
    folder: Path, base: str, beatmap: BeatMap, routine: Routine | None = None
) -> Routine | None:
    """The state of the routine called `base`, read against `beatmap`; None when it is not kept.

    Args:
        routine: as it is now; a state on another cut of its song follows onto its music.
    """
    return find_save(folder, lambda data: fingerprint(data) == base, beatmap, routine)


def plain_text(text: str) -> str:
    """Text without control characters and marks that turn its direction round."""
    return _STEERING.sub("", text).strip()


def _known(catalogue: Catalogue, name: str) -> str:
    """The pose's own name; empty where the catalogue has none of that name."""
    try:
        return catalogue.find(name).name if name else ""
    except KeyError:
        return ""


def _changed(placed: Placed, beatmap: BeatMap, change: Change) -> Placed:
    if change.hit:
        there = parse_position(change.hit)
        assert isinstance(there, Seconds)
        if there.value < beatmap.duration:
            before = beatmap.time_of(placed.hit)
            away = beatmap.counts_between(before, there.value)
            hit = beatmap.position_at(there.value, 0.03)
            placed = replace(placed, hit=hit)
            if away is not None:
                by = Length(round(away, 2))
                times = [beatmap.shift(beatmap.time_of(again), by) for again in placed.again]
                placed = replace(
                    placed, again=tuple(beatmap.position_at(time, 0.03) for time in times)
                )
    if change.hold:
        placed = replace(placed, hold=parse_length(change.hold))
    if change.facing:
        placed = replace(placed, facing=Facing(change.facing))
    if change.pose:
        placed = replace(placed, pose=change.pose, say="")
    return placed


def _remark(item: MappingReader) -> Remark:
    text = plain_text(item.text("text", most=LONGEST))
    time = item.number("time", 0.0, 0.0, 36_000.0) if item.has("time") else None
    pose, move = item.value("pose", _name, ""), item.value("move", _name, "")
    change = Change()
    if (inside := item.inside("change", _CHANGES)) is not None:
        change = Change(
            inside.value("hit", _checked(_seconds), ""),
            inside.value("hold", _checked(length_of), ""),
            inside.value("facing", _checked(_facing), ""),
            plain_text(inside.text("pose", most=LONGEST_NAME)),
        )
    if [bool(pose), bool(move), time is not None].count(True) != 1:
        item.note_error("", _("is on no one pose, move or place"), _("have it written again"))
    if not text and not change:
        item.note_error("", _("says nothing"), _("delete it"))
    written = item.value("written", _moment, "")
    return Remark(item.value("id", _name, ""), text, pose, move, time, change, written=written)


def _row(remark: Remark) -> dict[str, object]:
    change = {name: value for name in _CHANGES if (value := getattr(remark.change, name))}
    row: dict[str, object] = {name: getattr(remark, name) for name in _KEPT if name != "change"}
    row["change"] = change or None
    return {name: value for name, value in row.items() if value not in ("", None)}


def _name(text: str) -> str:
    if not _ID.match(text):
        raise ValueError(_("{text!r} is no id; have the file saved again", text=text[:40]))
    return text


def _moment(text: str) -> str:
    try:
        return datetime.fromisoformat(text).isoformat()
    except ValueError:
        raise ValueError(
            _("{text!r} is no date; write it as 2027-04-17T18:30:00", text=text[:40])
        ) from None


def _seconds(text: str) -> None:
    if not isinstance(parse_position(text), Seconds):
        raise ValueError(_("{text!r} is no time; write seconds such as 12.345 s", text=text[:40]))


def _facing(text: str) -> None:
    if text not in list(Facing):
        raise ValueError(
            _(
                "{text!r} is no facing; write one of {facing}",
                text=text[:40],
                facing=", ".join(Facing),
            )
        )


def _checked(check: Callable[[str], object]) -> Callable[[str], str]:
    def convert(text: str) -> str:
        check(text)
        return text

    return convert
