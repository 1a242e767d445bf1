"""One pose of the sheet: its count, figure, words and eights, as high as its words need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from rehearse.cueing.cue_state import Cue
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.sheet import sheet_text
from rehearse.handout.sheet.drawings import (
    draw_body,
    draw_eight,
    draw_facing,
    draw_stage,
    draw_turn,
)
from rehearse.handout.sheet.eights import Eight
from rehearse.handout.sheet.movemarks import WIDE, draw_moves, moves_of
from rehearse.handout.sheet.paper import DIM, LINE, Paper
from rehearse.handout.sheet.typesetting import REGULAR, STRONG, fitted, shortened, text_width, wrap
from rehearse.routine.way import Done
from rehearse.words import _

#: Heights of lines over type size, in mm a point.
LEADING = 0.43
_MOST_NOTE = 24
_MOST_EIGHTS = 4


@dataclass(frozen=True)
class RowStyle:
    """Sizes of one kind of sheet; lengths in mm, type in points. Notes are as large as `body`."""

    count: float
    name: float
    body: float
    figure: float
    height: float
    cell: float
    gap: float = 3.0
    head: float = 1.0  # how many times as large the head of the first page is

    def scaled(self, times: float, least: float) -> RowStyle:
        """The same `times` as large, with type of at least `least` points."""
        return RowStyle(
            count=self.count * times,
            name=max(least + 2, self.name * times),
            body=max(least, self.body * times),
            figure=self.figure * times,
            height=self.height * times,
            cell=self.cell * times,
            gap=self.gap * times,
            head=self.head,
        )


#: From roomy to tight.
PAGES = tuple(
    RowStyle(count=23, name=15, body=10.5, figure=24, height=22, cell=5.4, gap=2.6).scaled(
        percent / 100, 8.5
    )
    for percent in range(120, 59, -4)
)
#: Read from across a room: no eights, everything else three times as large.
WALL = tuple(
    RowStyle(count=54, name=33, body=21, figure=54, height=50, cell=0.0, gap=4.5, head=1.25).scaled(
        percent / 100, 18.0
    )
    for percent in range(124, 87, -4)
)


@dataclass(frozen=True)
class PoseRow:
    """A row laid out in a given width, ready to be drawn."""

    source: HandoutSource
    cue: Cue
    style: RowStyle
    width: float
    height: float
    section: str
    name: tuple[str, ...]
    spans: tuple[str, ...]
    pictures: tuple[Done, ...]
    moves: tuple[str, ...]
    note: tuple[str, ...]
    eights: tuple[Eight, ...]

    @property
    def folder(self) -> Path:
        """Where own photos lie."""
        return self.source.folder


def lay_row(
    source: HandoutSource,
    cue: Cue,
    style: RowStyle,
    width: float,
    eights: tuple[Eight, ...],
    section: str = "",
) -> PoseRow:
    """Wrap the words of one pose into a row of `width` mm; a `section` stands above it."""
    room = _text_width(style, width)
    name = wrap(cue.name, style.name, room, STRONG, most=3)
    spans = _spans(source, cue, style, room)
    moves = wrap(sheet_text.moves(cue, source), style.body, room, REGULAR, most=_MOST_NOTE)
    pictures = moves_of(source, cue)
    pictures = pictures[: max(0, int(room / (_tall(style) * WIDE)))]
    note = wrap(cue.placed.note, style.body, room, REGULAR, most=_MOST_NOTE)
    eights = _few(eights) if style.cell else ()
    high = (
        len(name) * style.name + (len(spans) + len(moves) + len(note)) * style.body
    ) * LEADING + 0.1 * style.body
    high += _tall(style) + 0.9 if pictures else 0.0
    strip = (len(eights) * 1.35 + 0.6) * style.cell
    height = max(style.height, high, strip) + style.gap + (_head(style) if section else 0.0)
    return PoseRow(
        source, cue, style, width, height, section, name, spans, pictures, moves, note, eights
    )


def _tall(style: RowStyle) -> float:
    """Millimetres of the pictures of moves."""
    return style.body * 0.8


def _head(style: RowStyle) -> float:
    return style.body * LEADING + style.gap / 2


def _spans(source: HandoutSource, cue: Cue, style: RowStyle, room: float) -> tuple[str, ...]:
    """Facing, transition and hold on as few lines as they fit."""
    parts = (sheet_text.stance(cue), *sheet_text.how_long(cue, source))
    sign = _sign(style)
    for lines in ((parts,), (parts[:1], parts[1:])):
        joined = tuple("   ·   ".join(line) for line in lines)
        indents = (sign, *(0.0 for _unused in joined[1:]))
        wide = (text_width(t, style.body) + i for t, i in zip(joined, indents, strict=True))
        if max(wide) <= room:
            return joined
    return parts


def _sign(style: RowStyle) -> float:
    """Millimetres before the first line, for the sign of the facing."""
    return style.body * 0.11 * 5.0


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
    figure, text, strip, _unused = _columns(style, row.width)
    height = row.height
    if row.section:
        head, size = _head(style), style.body + 1
        name = shortened(row.section, size, row.width, STRONG)
        paper.text(x, y + head - style.gap / 3, name, size, font=STRONG)
        y, height = y + head, height - head
    paper.line([(x, y), (x + row.width, y)], grey=LINE, thick=0.15)
    y += style.gap / 2
    _draw_count(paper, row, x, y)
    tall = min(height - style.gap, style.height * 1.3)
    sentence = draw_body(paper, cue, row.folder, x + figure, y, style.figure, tall)
    if sentence:
        warn(sentence)
    _draw_words(paper, row, x + text, y, warn)
    if style.cell:
        _draw_strip(paper, row, x + strip, y)


def _draw_count(paper: Paper, row: PoseRow, x: float, y: float) -> None:
    style = row.style
    room = style.count * 0.70 - 1.0
    where = sheet_text.place(row.source, row.cue.hit)
    size = fitted(where, style.count, room, STRONG, 7.0)
    y += style.count * 0.32
    paper.text(x, y, where, size, font=STRONG)
    y += style.body * LEADING * 1.1
    begun = sheet_text.clock(row.cue.hit - row.source.sheet.start)
    if begun != where:
        paper.text(x, y, begun, style.body, grey=DIM)
        y += style.body * LEADING
    paper.text(x, y, f"#{row.cue.index + 1}", style.body, grey=DIM)
    size = style.body * 0.42
    if row.cue.placed.turn is not None:
        draw_turn(paper, row.cue.placed.turn, x + room * 0.72, y - size * 0.25, size * 0.34)
    stands = sheet_text.stage_place(row.cue, row.source)
    if stands is not None:
        draw_stage(paper, stands, x, y + size * 0.35, size * 1.3)


def _draw_words(
    paper: Paper, row: PoseRow, x: float, y: float, warn: Callable[[str], None]
) -> None:
    style, cue = row.style, row.cue
    for line in row.name:
        y += style.name * LEADING
        paper.text(x, y - style.name * 0.10, line, style.name, font=STRONG)
    radius, indent = style.body * 0.11, _sign(style)
    draw_facing(paper, cue.facing, x + radius * 1.7, y + style.body * (LEADING - 0.12), radius)
    for line in row.spans:
        y += style.body * LEADING
        size = fitted(line, style.body, _text_width(style, row.width) - indent, REGULAR, 5.0)
        paper.text(x + indent, y, line, size)
        indent = 0.0
    if row.pictures:
        tall, look = _tall(style), cue.pose.look
        sentence = draw_moves(paper, row.pictures, look, row.folder, x, y + 1.2, tall)
        if sentence:
            warn(sentence)
        y += tall + 0.9
    for line in (*row.moves, *row.note):
        y += style.body * LEADING
        paper.text(x, y, line, style.body)


def _draw_strip(paper: Paper, row: PoseRow, x: float, y: float) -> None:
    style, cell = row.style, row.style.cell
    y += cell * 0.35
    if not row.eights:
        quiet = any(row.cue.hit in stretch for stretch in row.source.beatmap.quiets)
        here = _("free time, quiet music") if quiet else _("free time")
        paper.text(x, y + cell * 0.7, here, style.body, grey=DIM)
        return
    previous = row.eights[0].number - 1
    for eight in row.eights:
        if eight.number != previous + 1:
            paper.text(x + cell * 0.2, y - cell * 0.1, "…", style.body, grey=DIM)
        draw_eight(paper, eight, x, y, cell)
        previous = eight.number
        y += cell * 1.35
