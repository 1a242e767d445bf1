"""The whole routine in eights, several columns of them, with pose numbers on their hits."""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.cueing.cue_state import Cue
from rehearse.cueing.cues import CueSheet
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.sheet import sheet_text
from rehearse.handout.sheet.drawings import draw_cell, draw_eight
from rehearse.handout.sheet.eights import Cell, Eight, eights
from rehearse.handout.sheet.paper import DIM, Paper
from rehearse.handout.sheet.typesetting import REGULAR, STRONG, fitted, shortened
from rehearse.music.position import Length
from rehearse.words import _


@dataclass(frozen=True)
class MoveLine:
    """What is begun in one eight, under its counts: the cell (0 to 8, with fraction) and words.

    `entries` are the same with their seconds.
    """

    time: float
    begun: tuple[tuple[float, str], ...]
    entries: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True)
class FreeLine:
    """A move begun, or a pose hit again, where there are no counts."""

    time: float
    name: str


#: One line of it: an eight, what is begun in it, or what is hit or begun in free time.
Line = Eight | MoveLine | FreeLine | Cue

#: Seconds within which two places in the music are the same.
_SAME = 0.001
CELL = 4.6
_PITCH = CELL * 1.4
_WIDE = CELL * 10.2
_HEAD = 9.0


@dataclass(frozen=True)
class ChartPart:
    """As many lines as one page holds, in columns from top to bottom; None is an empty one."""

    lines: tuple[Line | None, ...]
    rows: int
    first: bool

    @property
    def height(self) -> float:
        """Millimetres."""
        return _HEAD + self.rows * _PITCH + CELL * 0.4


def columns(width: float) -> int:
    """Columns of eights in `width` mm."""
    return max(1, int(width / _WIDE))


def part(
    lines: tuple[Line, ...], width: float, room: float, *, first: bool
) -> tuple[ChartPart, tuple[Line, ...]]:
    """What fits in `room` mm of height, and what is left for the next page."""
    most = max(0, int((room - _HEAD - CELL * 0.4) / _PITCH))
    across = columns(width)
    groups = _groups(lines)
    for rows in range(1, most + 1):
        filled = _filled(groups, rows)
        if len(filled) <= across:
            break
    else:
        rows, filled = most, _filled(groups, most) if most else []
    here = [line for column in filled[:across] for line in _padded(column, rows)]
    later = [line for column in filled[across:] for line in column] if most else list(lines)
    return ChartPart(tuple(here), rows, first), tuple(later)


def _groups(lines: tuple[Line, ...]) -> list[list[Line]]:
    """Each eight with what is begun in it, which stays in its column."""
    groups: list[list[Line]] = []
    for line in lines:
        if isinstance(line, MoveLine) and groups:
            groups[-1].append(line)
        else:
            groups.append([line])
    return groups


def _filled(groups: list[list[Line]], rows: int) -> list[list[Line]]:
    """Columns of at most `rows` lines; a group longer than a column is parted."""
    columns: list[list[Line]] = []
    for group in groups:
        if not columns or len(columns[-1]) + len(group) > rows:
            columns.append([])
        for line in group:
            if len(columns[-1]) == rows:
                columns.append([])
            columns[-1].append(line)
    return columns


def _padded(column: list[Line], rows: int) -> list[Line | None]:
    return [*column, *(None for _unused in range(rows - len(column)))]


def all_lines(sheet: CueSheet) -> tuple[Line, ...]:
    """The eights of the stage part with every pose's marks, poses in free time between them.

    Without any eight there is nothing that the rows of the poses do not tell.
    """
    counted = eights(sheet, sheet.start, sheet.end, sheet.cues)
    if not counted:
        return ()
    begun = [line for eight in counted if (line := _begun(sheet, eight)) is not None]
    told = {entry for line in begun for entry in line.entries}
    free = [cue for cue in sheet.cues if sheet.beatmap.phase_at(cue.hit) is None]
    rest = [
        FreeLine(time, name)
        for time, name in _all_begun(sheet)
        if (time, name) not in told and sheet.start - _SAME <= time < sheet.end
    ]
    return tuple(sorted([*counted, *begun, *free, *rest], key=_when))


def _when(line: Line) -> float:
    if isinstance(line, MoveLine | FreeLine):
        return line.time
    return line.hit if isinstance(line, Cue) else next(c.time for c in line.cells if c is not None)


def _all_begun(sheet: CueSheet) -> list[tuple[float, str]]:
    moves = [(m.start, m.text) for cue in sheet.cues for m in cue.moves]
    moves += [(m.start, m.text) for m in sheet.exit]
    moves += [(time, _("again")) for cue in sheet.cues for time in cue.again]
    return sorted(moves)


def _begun(sheet: CueSheet, eight: Eight) -> MoveLine | None:
    """The moves and the hits once more that begin in an eight; None where none does."""
    there = [(k, cell.time) for k, cell in enumerate(eight.cells) if cell is not None]
    end = sheet.beatmap.shift(there[-1][1], Length(1.0))
    begun, entries = [], []
    for time, name in _all_begun(sheet):
        if there[0][1] - _SAME <= time < end - _SAME:
            cell, start = next((k, t) for k, t in reversed(there) if t <= time + _SAME)
            part = sheet.beatmap.counts_between(start, time) or 0.0
            begun.append((cell + part, name))
            entries.append((time, name))
    return MoveLine(there[0][1] + 1e-4, tuple(begun), tuple(entries)) if begun else None


def _draw_begun(paper: Paper, line: MoveLine, x: float, y: float) -> None:
    """The words under their counts, each up to where the next begins."""
    left = x + CELL * 1.25
    ends = [cell for cell, _unused in line.begun[1:]] + [8.3]
    for (cell, name), end in zip(line.begun, ends, strict=True):
        room = (end - cell) * CELL - 0.4
        size = fitted(name, 8.0, room, REGULAR, 5.5)
        paper.text(left + cell * CELL, y + CELL * 0.45, shortened(name, size, room), size)


def draw_chart(paper: Paper, source: HandoutSource, chart: ChartPart, x: float, y: float) -> None:
    """Draw the columns with their top left at (x, y)."""
    title = _("Full count chart") if chart.first else _("Full count chart, continued")
    paper.text(x, y + 5.0, title, 12, font=STRONG)
    paper.text(x + 46, y + 5.0, "#1 is pose 1 on its hit", 9, grey=DIM)
    for k, line in enumerate(chart.lines):
        column, row = divmod(k, chart.rows)
        left, top = x + column * _WIDE, y + _HEAD + row * _PITCH
        if line is None:
            continue
        if isinstance(line, MoveLine):
            _draw_begun(paper, line, left, top)
        elif isinstance(line, Cue):
            _draw_free(paper, line, sheet_text.clock(line.hit - source.sheet.start), left, top)
        elif isinstance(line, FreeLine):
            told = f"{sheet_text.clock(line.time - source.sheet.start)}  {line.name}"
            size = fitted(told, 8.0, CELL * 8.0, REGULAR, 5.5)
            paper.text(left + CELL * 1.25, top + CELL * 0.7, told, size)
        else:
            draw_eight(paper, line, left, top, CELL, numbered=True)


def _draw_free(paper: Paper, cue: Cue, when: str, x: float, y: float) -> None:
    """A pose in free time: its number where the hits stand, and when it is hit."""
    left = x + CELL * 1.25
    draw_cell(paper, Cell(cue.hit, "", "hit", cue.index + 1), left, y, CELL, numbered=True)
    told = _("{when}, free time", when=when)
    paper.text(left + CELL * 1.25, y + CELL * 0.70, told, CELL * 1.9, grey=DIM)
