"""The routine sheet and its large-print version for the wall: rows flow from page to page.

The type is as large as the number of pages allows, the rows are spread evenly over the pages,
and what is left of a page goes between its rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.sheet import chart, sheet_text
from rehearse.handout.sheet.drawings import draw_cell, draw_facing
from rehearse.handout.sheet.eights import Cell, Eight, cue_eights
from rehearse.handout.sheet.paper import DIM, Paper
from rehearse.handout.sheet.pose_row import PoseRow, RowStyle, draw_row, lay_row
from rehearse.handout.sheet.typesetting import STRONG, shortened, text_width, wrap
from rehearse.routine.model import Facing
from rehearse.words import _

_MARGIN = 11.0
_FOOT = 8.0
_NEXT_HEAD = 2.0
#: Poses that one page holds, and that each of several does.
_ALONE, _EACH = 8, 12
#: Of a row's height, what may be added to it to fill a page.
_STRETCH = 0.45
_LEGEND = 58.0
_TITLE, _TITLE_LINES = 26.0, 3


@dataclass
class _Page:
    top: float
    rows: list[PoseRow] = field(default_factory=list)
    chart: chart.ChartPart | None = None

    @property
    def used(self) -> float:
        """Millimetres."""
        rows = sum(row.height for row in self.rows)
        return self.top + rows + (self.chart.height if self.chart else 0.0)


@dataclass(frozen=True)
class _Head:
    """The head of the first page: title, occasion and facts, `times` as large as usual."""

    title: tuple[str, ...]
    occasion: tuple[str, ...]
    facts: tuple[str, ...]
    times: float
    legend: bool
    moves: bool = False

    @classmethod
    def lay(cls, source: HandoutSource, width: float, times: float, legend: bool) -> _Head:
        room = width - _LEGEND - 4.0 if legend else width
        title = source.routine.title or _("Routine")
        lines = wrap(title, _TITLE * times, room, STRONG, most=_TITLE_LINES)
        body = 11 * times
        occasion = wrap(sheet_text.occasion(source), body, room, most=3)
        facts = wrap(sheet_text.facts(source), body, room, most=3)
        moves = any(cue.moves or cue.again for cue in source.sheet.cues)
        return cls(lines, occasion, facts, times, legend, moves or bool(source.sheet.exit))

    @property
    def height(self) -> float:
        """Millimetres, with the room under it."""
        below = len(self.occasion) + len(self.facts)
        written = (1.0 + 9.4 * len(self.title) + 5.4 * below + 4.0) * self.times
        return max(written, 25.0 if self.legend else 0.0)

    def draw(self, paper: Paper, x: float, y: float, width: float) -> None:
        base = y - 0.8 * self.times
        for line in self.title:
            base += 9.4 * self.times
            paper.text(x, base, line, _TITLE * self.times, font=STRONG)
        for lines, grey in ((self.occasion, 0.05), (self.facts, DIM)):
            for line in lines:
                base += 5.4 * self.times
                paper.text(x, base, line, 11 * self.times, grey=grey)
        if self.legend:
            _draw_legend(paper, x + width - _LEGEND, y + 3.0, moves=self.moves)


def draw_pages(
    paper: Paper,
    source: HandoutSource,
    styles: Sequence[RowStyle],
    warn: Callable[[str], None],
    report: Callable[[float], None],
    *,
    with_chart: bool,
) -> None:
    """Draw all pages in the first of `styles`, the largest, that takes no more pages than needed.

    Args:
        warn: hears of pictures that cannot be read. report: told how far it is, 0..1.
        with_chart: whether the whole routine in eights follows, and its legend.
    """
    width = paper.width - 2 * _MARGIN
    head = _Head.lay(source, width, styles[0].head, with_chart)
    room = paper.height - 2 * _MARGIN - _FOOT
    pages = _filled(_largest(source, styles, width, room, head.height, with_chart), room)
    for number, page in enumerate(pages, 1):
        report(number / len(pages))
        y = _MARGIN
        if number == 1:
            head.draw(paper, _MARGIN, y, width)
        y += page.top
        for row in page.rows:
            draw_row(paper, row, _MARGIN, y, warn)
            y += row.height
        if page.chart:
            chart.draw_chart(paper, source, page.chart, _MARGIN, y)
        _draw_foot(paper, source, number, len(pages), width)
        paper.end_page()


def _largest(
    source: HandoutSource,
    styles: Sequence[RowStyle],
    width: float,
    room: float,
    head: float,
    with_chart: bool,
) -> list[_Page]:
    """The pages in the largest style that needs no more of them than the smallest one does.

    The routine sheet is content with the pages that its number of poses asks for, and leaves the
    sections' names out before it takes one more.
    """

    eights = [cue_eights(source.sheet, cue) for cue in source.sheet.cues]
    whole = chart.all_lines(source.sheet) if with_chart else ()

    def laid(style: RowStyle, named: bool) -> list[_Page]:
        rows = _rows(source, style, width, eights, named)
        return _lay_out(rows, whole, width, room, head)

    poses = len(source.sheet.cues)
    wanted = 1 if poses <= _ALONE else max(2, -(-poses // _EACH))
    named = with_chart
    least = len(laid(styles[-1], named))
    if with_chart and least > wanted and len(laid(styles[-1], False)) <= wanted:
        named, least = False, wanted
    enough = max(least, wanted) if with_chart else least
    low, high = 0, len(styles) - 1
    while low < high:
        middle = (low + high) // 2
        if len(laid(styles[middle], named)) <= enough:
            high = middle
        else:
            low = middle + 1
    return laid(styles[low], named)


def _rows(
    source: HandoutSource,
    style: RowStyle,
    width: float,
    eights: Sequence[tuple[Eight, ...]],
    named: bool,
) -> Iterator[PoseRow]:
    """The rows in one style; `named`: a section's name stands above its first pose."""
    section = ""
    for cue, lines in zip(source.sheet.cues, eights, strict=True):
        before, section = section, sheet_text.section_of(source, cue) if named else ""
        head = section if section != before else ""
        yield lay_row(source, cue, style, width, lines, head)


def _lay_out(
    rows: Iterable[PoseRow],
    lines: tuple[chart.Line, ...],
    width: float,
    room: float,
    head: float,
) -> list[_Page]:
    """The rows and then the chart, page after page."""
    pages = [_Page(head)]
    for row in rows:
        if pages[-1].used + row.height > room and pages[-1].rows:
            pages.append(_Page(_NEXT_HEAD))
        pages[-1].rows.append(row)
    first = True
    while lines:
        piece, later = chart.part(lines, width, room - pages[-1].used, first=first)
        # A few lines at the foot of a page help nobody: begin on a new one.
        if piece.lines and (not later or piece.rows >= 6 or not pages[-1].rows):
            pages[-1].chart, lines, first = piece, later, False
        if lines:
            pages.append(_Page(_NEXT_HEAD))
    return pages


def _filled(pages: list[_Page], room: float) -> list[_Page]:
    """The same rows spread evenly over the pages, and each page's rows over its height."""
    charts = [page.chart for page in pages if page.chart]
    if len(charts) <= 1 and len(pages) > 1:
        pages = _even(pages, room, charts[0] if charts else None)
    for page in pages:
        left = room - page.used
        if page.rows and left > 0:
            page.rows = [
                replace(row, height=row.height + min(left / len(page.rows), _STRETCH * row.height))
                for row in page.rows
            ]
    return pages


def _even(pages: list[_Page], room: float, last: chart.ChartPart | None) -> list[_Page]:
    """As many pages, none fuller than needed; `last` stays behind all rows."""
    rows = [row for page in pages for row in page.rows]

    def spread(most: float) -> list[_Page]:
        found = [_Page(pages[0].top)]
        for row in rows:
            if found[-1].used + row.height > most and found[-1].rows:
                found.append(_Page(_NEXT_HEAD))
            found[-1].rows.append(row)
        if last:
            if found[-1].used + last.height > most:
                found.append(_Page(_NEXT_HEAD))
            found[-1].chart = last
        return found

    low, high = room / 2, room
    for _unused in range(12):
        middle = (low + high) / 2
        fits = spread(middle)
        if len(fits) <= len(pages) and all(page.used <= room for page in fits):
            high = middle
        else:
            low = middle
    found = spread(high)
    return found if len(found) <= len(pages) else pages


def _draw_legend(paper: Paper, x: float, y: float, *, moves: bool) -> None:
    cells: tuple[tuple[Cell, str], ...] = (
        (Cell(0, "1", "hit"), _("hit")),
        (Cell(0, "1", "hold"), _("hold")),
        (Cell(0, "1", "transition"), _("transition")),
        (Cell(0, "1", "transition", begins=True), _("move begins")),
        (Cell(0, "1", accent=True), _("accent")),
        (Cell(0, "1", quiet=True), _("quiet music")),
    )
    cells = cells if moves else tuple(c for c in cells if not c[0].begins)
    high = (len(cells) + 2) // 2
    for k in range(len(cells) + 1):
        column, row = divmod(k, high)
        left, top = x + column * 24, y + row * 19.2 / high
        if k < len(cells):
            cell, word = cells[k]
            draw_cell(paper, cell, left, top, 4.4)
        else:
            word = _("face, judges below")
            draw_facing(paper, Facing.RIGHT, left + 1.8, top + 2.0, 1.15)
        paper.text(left + 6.0, top + 3.2, word, 9.5)


def _draw_foot(paper: Paper, source: HandoutSource, number: int, pages: int, width: float) -> None:
    y = paper.height - _MARGIN
    told = _("Left and right are the athlete's own. {clock}", clock=sheet_text.CLOCK)
    paper.text(_MARGIN, y, told, 8.5, grey=DIM)
    page = f"   {number} / {pages}"
    room = width - text_width(told, 8.5) - text_width(page, 8.5) - 8.0
    where = f"{shortened(source.routine.title, 8.5, room)}{page}"
    paper.text(_MARGIN + width, y, where, 8.5, grey=DIM, align="right")
