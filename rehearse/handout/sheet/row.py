"""One pose of the sheet: its count, figure, words and eights, as high as its words need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from rehearse.cueing.moment import Cue
from rehearse.handout.material import Material
from rehearse.handout.sheet import words
from rehearse.handout.sheet.eights import Eight, cue_eights
from rehearse.handout.sheet.letters import REGULAR, STRONG, fitted, shortened, text_width, wrap
from rehearse.handout.sheet.marks import draw_body, draw_eight, draw_facing
from rehearse.handout.sheet.paper import DIM, LINE, Paper

#: Heights of lines over type size, in mm a point.
LEADING = 0.43
_MOST_NOTE = 24
_MOST_EIGHTS = 4


@dataclass(frozen=True)
class RowStyle:
    """Sizes of one kind of sheet; lengths in mm, type in points."""

    count: float
    name: float
    body: float
    note: float
    figure: float
    height: float
    cell: float
    gap: float = 3.0
    head: float = 1.0  # how many times as large the head of the first page is


#: From roomy to tight: the first with which eight poses fit a page, on average, is taken.
PAGES = (
    RowStyle(count=23, name=15, body=10, note=9, figure=24, height=23.5, cell=5.4, gap=2.6),
    RowStyle(count=21, name=14, body=9.5, note=8.5, figure=22, height=21.0, cell=5.0, gap=2.3),
    RowStyle(count=19, name=13, body=9, note=8, figure=20, height=18.5, cell=4.6, gap=2.0),
)
#: Read from across a room: no eights, everything else three times as large.
WALL = (
    RowStyle(
        count=54, name=33, body=21, note=15, figure=54, height=50, cell=0.0, gap=4.5, head=1.2
    ),
)


@dataclass(frozen=True)
class PoseRow:
    """A row laid out in a given width, ready to be drawn."""

    material: Material
    cue: Cue
    style: RowStyle
    width: float
    height: float
    section: str
    name: tuple[str, ...]
    spans: tuple[str, ...]
    note: tuple[str, ...]
    eights: tuple[Eight, ...]

    @property
    def folder(self) -> Path:
        """Where own photos lie."""
        return self.material.folder


def lay_row(
    material: Material, cue: Cue, style: RowStyle, width: float, section: str = ""
) -> PoseRow:
    """Wrap the words of one pose into a row of `width` mm; a `section` stands above it."""
    room = _text_width(style, width)
    name = wrap(cue.name, style.name, room, STRONG, most=3)
    spans = _spans(material, cue, style, room)
    note = wrap(cue.placed.note, style.note, room, REGULAR, most=_MOST_NOTE)
    eights = _few(cue_eights(material.sheet, cue)) if style.cell else ()
    high = (
        len(name) * style.name + (1 + len(spans)) * style.body + len(note) * style.note
    ) * LEADING + 0.1 * style.body
    strip = (len(eights) * 1.35 + 0.6) * style.cell
    height = max(style.height, high, strip) + style.gap + (_head(style) if section else 0.0)
    return PoseRow(material, cue, style, width, height, section, name, spans, note, eights)


def _head(style: RowStyle) -> float:
    return style.body * LEADING + style.gap / 2


def _spans(material: Material, cue: Cue, style: RowStyle, room: float) -> tuple[str, ...]:
    """Transition and hold on one line where it fits, else on two."""
    both = words.how_long(cue, material.beatmap)
    joined = "   ·   ".join(both)
    return (joined,) if text_width(joined, style.body) <= room else both


def _few(eights: tuple[Eight, ...]) -> tuple[Eight, ...]:
    return eights if len(eights) <= _MOST_EIGHTS else (*eights[: _MOST_EIGHTS - 1], eights[-1])


def _columns(style: RowStyle, width: float) -> tuple[float, float, float, float]:
    """Left edges of figure, words and eights, and the width of the words."""
    figure = style.count * 0.70
    text = figure + style.figure + style.gap
    strip = width - style.cell * 9.2 + (0.0 if style.cell else style.gap)
    return figure, text, strip, strip - text - style.gap


def _text_width(style: RowStyle, width: float) -> float:
    return _columns(style, width)[3]


def draw_row(paper: Paper, row: PoseRow, x: float, y: float, warn: Callable[[str], None]) -> None:
    """Draw the row with its top left at (x, y)."""
    style, cue = row.style, row.cue
    figure, text, strip, _ = _columns(style, row.width)
    height = row.height
    if row.section:
        head, size = _head(style), style.body + 1
        name = shortened(row.section, size, row.width, STRONG)
        paper.text(x, y + head - style.gap / 3, name, size, font=STRONG)
        y, height = y + head, height - head
    paper.line([(x, y), (x + row.width, y)], grey=LINE, thick=0.15)
    y += style.gap / 2
    _draw_count(paper, row, x, y)
    tall = min(height - style.gap, style.height)
    sentence = draw_body(paper, cue, row.folder, x + figure, y, style.figure, tall)
    if sentence:
        warn(sentence)
    _draw_words(paper, row, x + text, y)
    if style.cell:
        _draw_strip(paper, row, x + strip, y)


def _draw_count(paper: Paper, row: PoseRow, x: float, y: float) -> None:
    style = row.style
    room = style.count * 0.70 - 1.0
    where = words.place(row.material.beatmap, row.cue.hit)
    size = fitted(where, style.count, room, STRONG, 7.0)
    y += style.count * 0.32
    paper.text(x, y, where, size, font=STRONG)
    y += style.body * LEADING * 1.1
    begun = row.cue.hit - row.material.sheet.start
    paper.text(x, y, words.clock(begun), style.body, grey=DIM)
    y += style.body * LEADING
    paper.text(x, y, f"#{row.cue.index + 1}", style.body, grey=DIM)


def _draw_words(paper: Paper, row: PoseRow, x: float, y: float) -> None:
    style, cue = row.style, row.cue
    for line in row.name:
        y += style.name * LEADING
        paper.text(x, y - style.name * 0.10, line, style.name, font=STRONG)
    y += style.body * LEADING
    radius = style.body * 0.11
    draw_facing(paper, cue.facing, x + radius * 1.7, y - style.body * 0.12, radius)
    paper.text(x + radius * 5.0, y, words.stance(cue), style.body)
    for line in row.spans:
        y += style.body * LEADING
        size = fitted(line, style.body, _text_width(style, row.width), REGULAR, 5.0)
        paper.text(x, y, line, size)
    for line in row.note:
        y += style.note * LEADING
        paper.text(x, y, line, style.note, grey=DIM)


def _draw_strip(paper: Paper, row: PoseRow, x: float, y: float) -> None:
    style, cell = row.style, row.style.cell
    y += cell * 0.35
    if not row.eights:
        quiet = any(row.cue.hit in stretch for stretch in row.material.beatmap.quiets)
        here = "free time, quiet music" if quiet else "free time"
        paper.text(x, y + cell * 0.7, here, style.body, grey=DIM)
        return
    previous = row.eights[0].number - 1
    for eight in row.eights:
        if eight.number != previous + 1:
            paper.text(x + cell * 0.2, y - cell * 0.1, "…", style.body, grey=DIM)
        draw_eight(paper, eight, x, y, cell)
        previous = eight.number
        y += cell * 1.35
