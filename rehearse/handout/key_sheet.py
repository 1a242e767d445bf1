"""All keys on paper, by page of the program; A4 or Letter, two columns, to hang beside the mirror.

The lists come from whoever asks: the handouts know no keys.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rehearse.handout.sheet.paper import DIM, INK, LINE, PAPERS, Paper
from rehearse.handout.sheet.typesetting import REGULAR, STRONG, text_width, wrap
from rehearse.words import _

#: A heading and its rows: keys, words.
Group = tuple[str, Sequence[tuple[str, str]]]
#: Millimetres: margin, between columns, between keys and words, above a heading.
_MARGIN, _GUTTER, _GAP, _ABOVE = 13.0, 9.0, 2.5, 3.2
#: Points of headings and rows; millimetres from line to line, and those of the title.
_HEAD, _SIZE, _LINE, _TITLE = 11.0, 9.0, 3.75, 13.0
#: Share of a column that keys have at most.
_KEYS = 0.36
#: Millimetres between a heading's line and its first row.
_UNDER = 1.2


@dataclass(frozen=True)
class _Row:
    """A row as it is set; a heading has no words."""

    keys: tuple[str, ...]
    words: tuple[str, ...]

    @property
    def height(self) -> float:
        return _LINE * max(len(self.keys), len(self.words)) + (0 if self.words else _ABOVE + _UNDER)


def make_key_sheet(title: str, groups: Sequence[Group], paper: str = "a4") -> bytes:
    """The sheet as a PDF.

    Args:
        groups: in their order; a heading never stands alone at the foot of a column.
        paper: "a4" or "letter".
    """
    sheet = Paper(PAPERS[paper], title, "keys")
    width = (sheet.width - 2 * _MARGIN - _GUTTER) / 2
    wide = _key_width(groups, width)
    columns = list(_columns(list(_laid(groups, width, wide)), sheet.height - 2 * _MARGIN - _TITLE))
    pages = [columns[k : k + 2] for k in range(0, len(columns), 2)]
    for number, page in enumerate(pages, 1):
        of = _("{number} of {number2}", number=number, number2=len(pages))
        sheet.text(_MARGIN, _MARGIN + 4, title, 15, font=STRONG)
        sheet.text(sheet.width - _MARGIN, _MARGIN + 4, of, _SIZE, grey=DIM, align="right")
        for place, rows in enumerate(page):
            _draw(sheet, rows, _MARGIN + place * (width + _GUTTER), width, wide)
        sheet.end_page()
    return sheet.finish()


def _key_width(groups: Sequence[Group], width: float) -> float:
    longest = max(text_width(k, _SIZE, STRONG) for _unused, rows in groups for k, _unused in rows)
    return min(longest, _KEYS * width)


def _laid(groups: Sequence[Group], width: float, wide: float) -> Iterator[_Row]:
    for title, rows in groups:
        yield _Row((title,), ())
        for keys, words in rows:
            room = width - wide - _GAP
            yield _Row(wrap(keys, _SIZE, wide, STRONG), wrap(words, _SIZE, room, REGULAR))


def _columns(rows: list[_Row], room: float) -> Iterator[list[_Row]]:
    column: list[_Row] = []
    used = 0.0
    for number, row in enumerate(rows):
        following = rows[number + 1].height if not row.words and number + 1 < len(rows) else 0.0
        if column and used + row.height + following > room:
            yield column
            column, used = [], 0.0
        column.append(row)
        used += row.height
    if column:
        yield column


def _draw(sheet: Paper, rows: list[_Row], x: float, width: float, wide: float) -> None:
    y = _MARGIN + _TITLE
    for row in rows:
        if not row.words:
            y += _ABOVE
            sheet.text(x, y, row.keys[0], _HEAD, font=STRONG, grey=INK)
            sheet.line([(x, y + 1.2), (x + width, y + 1.2)], grey=LINE, thick=0.2)
            y += _LINE + _UNDER
            continue
        for line, text in enumerate(row.keys):
            sheet.text(x, y + line * _LINE, text, _SIZE, font=STRONG)
        for line, text in enumerate(row.words):
            sheet.text(x + wide + _GAP, y + line * _LINE, text, _SIZE)
        y += row.height
