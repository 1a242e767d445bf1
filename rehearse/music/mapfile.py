"""`beats.yaml`: the beat map on disk, one row a line so that it can be read and mended by hand.

Conventions: times are seconds with six decimals, the song's length with as many as give its own
samples back; columns are separated by a tab (any blank is read). A newer format is refused
untouched; every fault of a file is found in one go.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TypeVar

from rehearse.files.atomic import save_atomic
from rehearse.files.user_error import UserError, UserErrorList, UserErrors, halves, shortened
from rehearse.files.yamlfile import Document, load_yaml
from rehearse.music import maprows as rows
from rehearse.music.beatmap import SAME_PLACE, BeatMap
from rehearse.music.settle import settle
from rehearse.music.track import Track
from rehearse.words import _, shown

#: The version of beats.yaml written by this program; a higher one is refused.
FORMAT = 1

_COLUMNS = {
    "beats": "time, place in the bar",
    "free": "start, end of free time",
    "restarts": "time of a beat at which a new eight begins",
    "accents": "time, strength 0 to 1",
    "builds": "start, end, time of the accent it leads to (- for none)",
    "quiets": "start, end",
    "parts": "start, end, label",
    "confidence": "start, end, value 0 to 1",
}
_HEAD = ("format", "track", "duration")
#: Rows of one list: half an hour at 600 beats a minute is 18,000.
MOST_ROWS = 20_000
#: Characters of one row, and what names a song: a hash.
_LONGEST_ROW = 1000
_HASH = re.compile(r"^[\w.:-]{0,200}$", re.ASCII)

Row = TypeVar("Row")


def save_map(path: Path, beatmap: BeatMap, *, versions: Path | None = None) -> None:
    """Write `beatmap` to `path`, whole or not at all; the replaced file goes to `versions`.

    Raises:
        UserError: the disk is full or refuses.
    """
    save_atomic(path, map_text(beatmap).encode(), versions=versions)


def map_text(beatmap: BeatMap) -> str:
    """The file's text; equal maps give equal text, and read again it gives the map settled."""
    beatmap = settle(beatmap)
    content: dict[str, Iterable[tuple[object, ...]]] = {
        "beats": zip(beatmap.beats, beatmap.places, strict=True),
        "free": ((s.start, s.end) for s in beatmap.free),
        "restarts": ((t,) for t in beatmap.restarts),
        "accents": ((a.time, a.strength) for a in beatmap.accents),
        "builds": ((b.start, b.end, "-" if b.accent is None else b.accent) for b in beatmap.builds),
        "quiets": ((s.start, s.end) for s in beatmap.quiets),
        "parts": ((p.start, p.end, p.label or "-") for p in beatmap.parts),
        "confidence": ((c.start, c.end, c.value) for c in beatmap.confidence),
    }
    lines = [
        f"format: {FORMAT}",
        f'track: "{beatmap.track_hash}"',
        f"duration: {_length(beatmap.duration)}",
    ]
    for name, columns in _COLUMNS.items():
        lines.append(f"# {columns}")
        lines.append(f"{name}: |")
        lines += ["  " + "\t".join(map(_cell, row)) for row in content[name]]
    return "\n".join(lines) + "\n"


def _cell(value: object) -> str:
    return f"{value:.6f}" if isinstance(value, float) else str(value)


def _length(seconds: float) -> str:
    """With six decimals where they are exact, else with all it takes."""
    text = f"{seconds:.6f}"
    return text if float(text) == seconds else repr(float(seconds))


def load_map(path: Path) -> BeatMap:
    """Read a beat map.

    Raises:
        UserError: unreadable, not YAML, or written by a newer version.
        UserErrors: everything else that is wrong with it, each with its line and what to write.
    """
    document = load_yaml(path)
    if not isinstance(document.data, dict):
        raise UserError(
            _("is not a beat map"), where=document.where(), do=_("restore it from versions/")
        )
    version = document.data.get("format")
    if isinstance(version, int) and version > FORMAT:
        raise UserError(
            _("was written by a newer version of Rehearse (format {version})", version=version),
            where=document.where("format"),
            do=_("update Rehearse; the file is left as it is"),
        )
    return _MapReader(document).read()


def check_track(beatmap: BeatMap, track: Track) -> UserError | None:
    """The fault when the map describes other sound than this track's, else None."""
    return check_sound(beatmap.track_hash, track)


def check_sound(mapped: str, track: Track) -> UserError | None:
    """The same, `mapped` being the map's `track_hash`."""
    if mapped == track.content_hash:
        return None
    return UserError(
        _("the beat map belongs to another song"),
        where=track.title,
        do=_("put the first song back, or map this one on the Music page"),
    )


class _MapReader:
    """Reads a document row by row and collects what is wrong."""

    def __init__(self, document: Document) -> None:
        self.document, self.data = document, document.data
        self.errors = UserErrorList()

    def read(self) -> BeatMap:
        self._head()
        beats = self._rows("beats", rows.beat)
        beatmap = BeatMap(
            track_hash=str(self.data.get("track", "")),
            duration=self.duration,
            beats=tuple(b[0] for b in beats),
            places=tuple(b[1] for b in beats),
            free=self._rows("free", rows.stretch),
            restarts=self._rows("restarts", rows.time),
            accents=self._rows("accents", rows.accent),
            builds=self._rows("builds", rows.build),
            quiets=self._rows("quiets", rows.stretch),
            parts=self._rows("parts", rows.part),
            confidence=self._rows("confidence", rows.confidence),
        )
        if not self.errors:
            self._agreement(beatmap)
        if self.errors:
            raise UserErrors(self.errors)
        return beatmap

    def _note_error(self, what: str, do: str, *keys: str | int, row: int = -1) -> None:
        line = self.document.lines.get(keys, 1)
        where = _(
            "{name}, line {line}",
            name=self.document.path.name,
            line=line + row + 1 if row >= 0 else line,
        )
        self.errors.append(UserError(what, where=where, do=do))

    def _head(self) -> None:
        if self.data.get("format") != FORMAT:
            self._note_error(
                _("has no format that is known"),
                _("write format: {format}", format=FORMAT),
                "format",
            )
        track = self.data.get("track")
        if not isinstance(track, str) or not _HASH.match(track):
            self._note_error(
                _("does not say which song it maps"), _("find its beats again"), "track"
            )
        duration = self.data.get("duration")
        # Without a length nothing is outside: one fault, not one a row.
        number = isinstance(duration, int | float) and not isinstance(duration, bool)
        self.duration = float(duration) if number else math.inf
        if not 0.0 < self.duration < 1e6:
            self._note_error(
                _("has no length"),
                _("write the song's seconds, such as duration: 75.0"),
                "duration",
            )
        for key in self.data:
            if key not in _COLUMNS and key not in _HEAD:
                self._note_error(
                    _("has {key!r}, which means nothing here", key=shortened(key, 60)),
                    _("remove it"),
                    key,
                )

    def _rows(
        self, name: str, make: Callable[[Sequence[str], float], Row | None]
    ) -> tuple[Row, ...]:
        """The rows of one list, ordered by their first column."""
        text = self.data.get(name)
        if text in (None, [], ""):
            return ()
        if not isinstance(text, str):
            self._note_error(
                _("{name} is no list of rows", name=name),
                _("write {name}: | and rows below it", name=name),
                name,
            )
            return ()
        lines = text.splitlines()
        if len(lines) > MOST_ROWS:
            what = _(
                "{name} has {number:,} rows, {most_rows:,} at most can be used",
                name=name,
                number=len(lines),
                most_rows=MOST_ROWS,
            )
            self._note_error(what, _("find its beats again"), name)
            return ()
        result, last = [], -1.0
        for number, line in enumerate(lines):
            if not line.strip():
                continue
            try:
                if len(line) > _LONGEST_ROW:
                    raise ValueError
                cells = line.split()
                row = make(cells, self.duration)
                result += [] if row is None else [row]
                first = float(cells[0])
                if first < last or (first == last and name == "beats"):
                    raise ValueError(_("comes before the row above it; put the rows in order"))
                last = first
            except ValueError as error:
                what, do = halves(error)
                if not do:
                    what, do = (
                        _("cannot be read"),
                        _("write {columns}", columns=shown(_COLUMNS[name])),
                    )
                self._note_error(
                    _(
                        "{name} row {strip!r} {what}",
                        name=name,
                        strip=shortened(line.strip(), 60),
                        what=what,
                    ),
                    do,
                    name,
                    row=number,
                )
        return tuple(result)

    def _agreement(self, beatmap: BeatMap) -> None:
        """What only shows when the lists are read together."""
        for number, (a, b) in enumerate(zip(beatmap.free, beatmap.free[1:], strict=False)):
            if b.start < a.end:
                self._note_error(
                    _("free time overlaps the stretch before"),
                    _("join the two"),
                    "free",
                    row=number + 1,
                )
        free = iter(beatmap.free)
        stretch = next(free, None)
        for number, beat in enumerate(beatmap.beats):
            while stretch is not None and stretch.end <= beat:
                stretch = next(free, None)
            if stretch is not None and beat in stretch:
                self._note_error(
                    _("the beat at {beat:.6f} stands in free time", beat=beat),
                    _("remove the beat or shorten the free time"),
                    "beats",
                    row=number,
                )
        for number, time in enumerate(beatmap.restarts):
            if not beatmap.beats or abs(beatmap.times - time).min() > SAME_PLACE:
                self._note_error(
                    _("the eight at {time:.6f} restarts off the beats", time=time),
                    _("write the time of a beat"),
                    "restarts",
                    row=number,
                )
