"""The recipe of a cut as it stands in `routine.yaml`, under `cut:`."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rehearse.files.mapping_reader import MappingReader
from rehearse.music.cut import (
    FARTHEST,
    LONGEST_FADE,
    MOST_LEVEL,
    MOST_PARTS,
    MOST_SLIP,
    MOST_SONGS,
    SHORTEST,
    Cut,
    CutPart,
    SourceSong,
)
from rehearse.music.position import Seconds, parse_position
from rehearse.words import _

_CUT = ("song", "hash", "beats", "parts", "songs")
_SONG = ("song", "hash", "start", "end")
_PART = ("start", "end", "shift", "slip", "fade", "ahead", "level")
_HASH = re.compile(r"^[\w.:-]{1,200}$", re.ASCII)
#: No song is longer, in seconds.
_LONGEST = 36_000.0


def cut_data(cut: Cut) -> dict[str, Any]:
    """Plain data of a recipe; of the first part nothing is told about a join."""
    names = {"song": cut.song, "hash": cut.hash, "beats": cut.beats}
    data = {**names, "parts": [_part_data(part, k > 0) for k, part in enumerate(cut.parts)]}
    if cut.songs:
        data["songs"] = [
            {
                **{"song": each.song, "hash": each.hash},
                **{"start": str(Seconds(each.start)), "end": str(Seconds(each.end))},
            }
            for each in cut.songs
        ]
    return data


def _part_data(part: CutPart, joined: bool) -> dict[str, Any]:
    data: dict[str, Any] = {"start": str(Seconds(part.start)), "end": str(Seconds(part.end))}
    if not joined:
        return data
    if part.shift:
        data["shift"] = f"{part.shift} counts"
    for name in ("slip", "fade", "ahead"):
        data[name] = str(Seconds(getattr(part, name)))
    if part.level:
        data["level"] = f"{part.level:.2f} dB"
    return data


def read_cut(top: MappingReader, folder: Path) -> Cut | None:
    """The recipe under `cut:`; None where there is none. Faults are noted in `top`."""
    item = top.inside("cut", _CUT)
    if item is None:
        return None
    parts = [_part(each) for each in item.items("parts", _PART, most=MOST_PARTS)]
    if not parts:
        item.note_error(
            "parts", _("the cut has no parts"), _("write parts: with start: and end: of each")
        )
        return None
    parts[0] = CutPart(parts[0].start, parts[0].end)  # there is no join before it
    hash_ = item.text("hash", None)
    if hash_ and not _HASH.match(hash_):
        item.note_error("hash", _("hash names no song"), _("cut the song again"))
    song, beats = (item.reference(name, folder, None) for name in ("song", "beats"))
    songs = tuple(_song(each, folder) for each in item.items("songs", _SONG, most=MOST_SONGS))
    if songs and (len(songs) < 2 or any(a.end > b.start for a, b in itertools.pairwise(songs))):
        item.note_error(
            "songs", _("the songs do not follow each other"), _("add the other song again")
        )
    return Cut(song, hash_, beats, tuple(parts), songs)


def _song(item: MappingReader, folder: Path) -> SourceSong:
    start, end = item.value("start", _seconds, 0.0), item.value("end", _seconds, 0.0)
    if end - start < SHORTEST:
        item.note_error("end", _("the song ends before it begins"), _("add the other song again"))
    hash_ = item.text("hash", None)
    if hash_ and not _HASH.match(hash_):
        item.note_error("hash", _("hash names no song"), _("cut the song again"))
    return SourceSong(item.reference("song", folder, None), hash_, start, end)


def _part(item: MappingReader) -> CutPart:
    start, end = item.value("start", _seconds, 0.0), item.value("end", _seconds, 0.0)
    if not item.has("end"):
        item.note_error("end", _("end is missing"), _("write end: and seconds of the song"))
    elif end - start < SHORTEST:
        item.note_error(
            "end",
            _("the part is shorter than {shortest:g} s", shortest=SHORTEST),
            _("write a later end"),
        )
    shift = item.value("shift", _within("counts", FARTHEST), 0.0)
    return CutPart(
        start,
        max(end, start + SHORTEST),
        round(shift),
        item.value("slip", _within("s", MOST_SLIP), 0.0),
        abs(item.value("fade", _within("s", LONGEST_FADE), 0.02)),
        abs(item.value("ahead", _within("s", LONGEST_FADE), 0.008)),
        round(item.value("level", _within("dB", MOST_LEVEL), 0.0), 2),  # as it is written
    )


def _seconds(text: str) -> float:
    position = parse_position(text)
    if not isinstance(position, Seconds) or not 0 <= position.value <= _LONGEST:
        raise ValueError(
            _("{text!r} is no time; write seconds of the song such as 12.40 s", text=text)
        )
    return position.value


def _within(unit: str, most: float) -> Callable[[str], float]:
    """Reads a number with its unit, from −`most` to `most`."""

    def read(text: str) -> float:
        number, _unused, told = text.strip().partition(" ")
        try:
            value = float(number)
        except ValueError:
            value = math.nan
        if told not in (unit, unit.removesuffix("s")) or not abs(value) <= most:
            raise ValueError(
                _(
                    "{text!r} cannot be used; write −{most:g} to {most:g} {unit}",
                    text=text,
                    most=most,
                    unit=unit,
                )
            )
        return round(value, 6)

    return read
