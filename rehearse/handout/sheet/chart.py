"""The whole routine in eights, several columns of them, with pose numbers on their hits."""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.cueing.cues import CueSheet
from rehearse.cueing.moment import Cue
from rehearse.handout.material import Material
from rehearse.handout.sheet import words
from rehearse.handout.sheet.eights import Cell, Eight, eights
from rehearse.handout.sheet.letters import STRONG
from rehearse.handout.sheet.marks import draw_cell, draw_eight
from rehearse.handout.sheet.paper import DIM, Paper

#: One line of it: an eight, or a pose hit in free time.
Line = Eight | Cue

CELL = 4.6
_PITCH = CELL * 1.4
_WIDE = CELL * 10.2
_HEAD = 9.0


@dataclass(frozen=True)
class ChartPart:
    """As many lines as one page holds, in columns from top to bottom."""

    lines: tuple[Line, ...]
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
    here, later = lines[: most * across], lines[most * across :]
    rows = -(-len(here) // across)
    return ChartPart(here, rows, first), later


def all_lines(sheet: CueSheet) -> tuple[Line, ...]:
    """The eights of the stage part with every pose's marks, poses in free time between them.

    Without any eight there is nothing that the rows of the poses do not tell.
    """
    counted = eights(sheet, sheet.start, sheet.end, sheet.cues)
    if not counted:
        return ()
    free = [cue for cue in sheet.cues if sheet.beatmap.phase_at(cue.hit) is None]
    return tuple(sorted([*counted, *free], key=_when))


def _when(line: Line) -> float:
    return line.hit if isinstance(line, Cue) else next(c.time for c in line.cells if c is not None)


def draw_chart(paper: Paper, material: Material, chart: ChartPart, x: float, y: float) -> None:
    """Draw the columns with their top left at (x, y)."""
    title = "Full count chart" if chart.first else "Full count chart, continued"
    paper.text(x, y + 5.0, title, 12, font=STRONG)
    paper.text(x + 46, y + 5.0, "#1 is pose 1 on its hit", 9, grey=DIM)
    for k, line in enumerate(chart.lines):
        column, row = divmod(k, chart.rows)
        left, top = x + column * _WIDE, y + _HEAD + row * _PITCH
        if isinstance(line, Cue):
            _draw_free(paper, line, words.clock(line.hit - material.sheet.start), left, top)
        else:
            draw_eight(paper, line, left, top, CELL, numbered=True)


def _draw_free(paper: Paper, cue: Cue, when: str, x: float, y: float) -> None:
    """A pose in free time: its number where the hits stand, and when it is hit."""
    left = x + CELL * 1.25
    draw_cell(paper, Cell(cue.hit, "", "hit", cue.index + 1), left, y, CELL, numbered=True)
    told = f"{when}, free time"
    paper.text(left + CELL * 1.25, y + CELL * 0.70, told, CELL * 1.9, grey=DIM)
