"""The routine sheet and its large-print version for the wall: rows flow from page to page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from rehearse.handout.material import Material
from rehearse.handout.sheet import chart, words
from rehearse.handout.sheet.eights import Cell
from rehearse.handout.sheet.letters import STRONG, fitted, shortened
from rehearse.handout.sheet.marks import draw_cell
from rehearse.handout.sheet.paper import DIM, Paper
from rehearse.handout.sheet.row import PoseRow, RowStyle, draw_row, lay_row

_MARGIN = 11.0
_HEAD = 25.0
_FOOT = 8.0
_NEXT_HEAD = 2.0


@dataclass
class _Page:
    top: float
    rows: list[PoseRow] = field(default_factory=list)
    chart: chart.ChartPart | None = None
    used: float = 0.0


def draw_pages(
    paper: Paper,
    material: Material,
    styles: Sequence[RowStyle],
    warn: Callable[[str], None],
    report: Callable[[float], None],
    *,
    with_chart: bool,
) -> None:
    """Draw all pages in the first of `styles` with which eight poses fit a page.

    Args:
        warn: hears of pictures that cannot be read. report: told how far it is, 0..1.
        with_chart: whether the whole routine in eights follows.
    """
    width = paper.width - 2 * _MARGIN
    pages = _fewest(paper, material, styles, width, with_chart)
    for number, page in enumerate(pages, 1):
        report(number / len(pages))
        y = _MARGIN
        if number == 1:
            _draw_head(paper, material, _MARGIN, y, width, page.top / _HEAD)
            if with_chart:
                _draw_legend(paper, _MARGIN + width - 54, y + 3.0)
        y += page.top
        for row in page.rows:
            draw_row(paper, row, _MARGIN, y, warn)
            y += row.height
        if page.chart:
            chart.draw_chart(paper, page.chart, _MARGIN, y)
        _draw_foot(paper, material, number, len(pages), width)
        paper.end_page()


def _fewest(
    paper: Paper, material: Material, styles: Sequence[RowStyle], width: float, with_chart: bool
) -> list[_Page]:
    enough = -(-len(material.sheet.cues) // 8)
    for named in (True, False) if with_chart else (False,):
        for style in styles:
            pages = _lay_out(paper, material, style, width, with_chart, named)
            if len(pages) <= enough:
                return pages
    return _lay_out(paper, material, styles[0], width, with_chart, named=with_chart)


def _lay_out(
    paper: Paper,
    material: Material,
    style: RowStyle,
    width: float,
    with_chart: bool,
    named: bool,
) -> list[_Page]:
    """The pages in one style; `named`: a section's name stands above its first pose."""
    room = paper.height - 2 * _MARGIN - _FOOT
    head = _HEAD * style.head
    pages = [_Page(head, used=head)]
    section = ""
    for cue in material.sheet.cues:
        before, section = section, words.section_of(material, cue) if named else ""
        row = lay_row(material, cue, style, width, section if section != before else "")
        if pages[-1].used + row.height > room and pages[-1].rows:
            pages.append(_Page(_NEXT_HEAD, used=_NEXT_HEAD))
        pages[-1].rows.append(row)
        pages[-1].used += row.height
    lines = chart.all_lines(material.sheet) if with_chart else ()
    first = True
    while lines:
        piece, later = chart.part(lines, width, room - pages[-1].used, first=first)
        # A few lines at the foot of a page help nobody: begin on a new one.
        if piece.lines and (not later or piece.rows >= 6 or not pages[-1].rows):
            pages[-1].chart, lines, first = piece, later, False
            pages[-1].used = room
        if lines:
            pages.append(_Page(_NEXT_HEAD, used=_NEXT_HEAD))
    return pages


def _draw_head(
    paper: Paper, material: Material, x: float, y: float, width: float, times: float
) -> None:
    """Title, occasion and facts, `times` as large as on the routine sheet."""
    room = width * 0.62 if times == 1.0 else width
    title = material.routine.title or "Routine"
    size = fitted(title, 26 * times, room, STRONG, 15 * times)
    paper.text(x, y + 8.0 * times, shortened(title, size, room, STRONG), size, font=STRONG)
    body = 11 * times
    occasion, facts = words.occasion(material), words.facts(material)
    paper.text(x, y + 14.0 * times, shortened(occasion, body, room), body)
    paper.text(x, y + 19.5 * times, shortened(facts, body, width), body, grey=DIM)


def _draw_legend(paper: Paper, x: float, y: float) -> None:
    rows = (
        (Cell(0, "1", "hit"), "hit"),
        (Cell(0, "1", "hold"), "hold"),
        (Cell(0, "1", "transition"), "transition"),
        (Cell(0, "1", accent=True), "accent"),
        (Cell(0, "1", quiet=True), "quiet music"),
    )
    for k, (cell, word) in enumerate(rows):
        column, row = divmod(k, 3)
        left, top = x + column * 28, y + row * 6.4
        draw_cell(paper, cell, left, top, 4.4)
        paper.text(left + 6.0, top + 3.2, word, 9.5)


def _draw_foot(paper: Paper, material: Material, number: int, pages: int, width: float) -> None:
    y = paper.height - _MARGIN
    paper.text(_MARGIN, y, "Left and right are the athlete's own.", 8.5, grey=DIM)
    where = f"{shortened(material.routine.title, 8.5, width / 2)}   {number} / {pages}"
    paper.text(_MARGIN + width, y, where, 8.5, grey=DIM, align="right")
