"""The whole routine in eights, several columns of them, with pose numbers on their hits."""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.cueing.cues import CueSheet
from rehearse.handout.sheet.eights import Eight, eights
from rehearse.handout.sheet.letters import STRONG
from rehearse.handout.sheet.marks import draw_eight
from rehearse.handout.sheet.paper import DIM, Paper

CELL = 4.6
_PITCH = CELL * 1.4
_WIDE = CELL * 10.2
_HEAD = 9.0


@dataclass(frozen=True)
class ChartPart:
    """As many eights as one page holds, in columns from top to bottom."""

    eights: tuple[Eight, ...]
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
    lines: tuple[Eight, ...], width: float, room: float, *, first: bool
) -> tuple[ChartPart, tuple[Eight, ...]]:
    """What fits in `room` mm of height, and what is left for the next page."""
    most = max(0, int((room - _HEAD - CELL * 0.4) / _PITCH))
    across = columns(width)
    here, later = lines[: most * across], lines[most * across :]
    rows = -(-len(here) // across)
    return ChartPart(here, rows, first), later


def all_eights(sheet: CueSheet) -> tuple[Eight, ...]:
    """The eights of the stage part with every pose's marks."""
    return eights(sheet, sheet.start, sheet.end, sheet.cues)


def draw_chart(paper: Paper, chart: ChartPart, x: float, y: float) -> None:
    """Draw the columns with their top left at (x, y)."""
    title = "The whole in eights" if chart.first else "The whole in eights, continued"
    paper.text(x, y + 5.0, title, 12, font=STRONG)
    paper.text(x + 46, y + 5.0, "#1 is pose 1 on its hit", 9, grey=DIM)
    for k, eight in enumerate(chart.eights):
        column, row = divmod(k, chart.rows)
        draw_eight(paper, eight, x + column * _WIDE, y + _HEAD + row * _PITCH, CELL, numbered=True)
