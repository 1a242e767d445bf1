"""The routine on one page of cards to cut out, for a wallet or a hem: 86 × 54 mm each.

As few cards as the type stays easy to read on, two of them as front and back; the poses are
spread evenly over them, as large as the longest line allows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from rehearse.cueing.moment import Cue
from rehearse.files.fault import Fault
from rehearse.handout.material import Material
from rehearse.handout.sheet import words
from rehearse.handout.sheet.letters import STRONG, shortened, text_width
from rehearse.handout.sheet.marks import draw_body
from rehearse.handout.sheet.paper import DIM, LINE, Paper
from rehearse.routine.model import Level

CARD = (85.6, 54.0)  # ISO/IEC 7810 ID-1, height rounded up
_PAD, _TOP = 3.0, 7.5
_HIGH = CARD[1] - _TOP - 2.0  # mm that the lines share
_MARGIN = 8.0  # mm of the page that printers may leave white
_LEADING = 0.42  # mm of a line for each point of its type
#: Points: never larger, for more cards rather than smaller, and never smaller.
_LARGEST, _EASY, _SMALL = 13.0, 8.0, 6.0
_NAME = 32
#: Lines as high as this have a figure, which is then still told from others.
_FIGURE = 4.4
_GAP = 1.0


@dataclass(frozen=True)
class _Plan:
    """How the poses lie on the cards."""

    columns: int
    lines: int
    size: float
    figures: bool

    @property
    def pitch(self) -> float:
        """Millimetres from line to line."""
        return min(_HIGH / self.lines, self.size * _LEADING * 1.4)

    @property
    def width(self) -> float:
        """Millimetres of a column."""
        return (CARD[0] - 2 * _PAD) / self.columns - (1.5 if self.columns > 1 else 0.0)

    @property
    def figure(self) -> float:
        """Millimetres a figure is wide; 0 where it would be too small."""
        return self.pitch if self.figures and self.pitch >= _FIGURE else 0.0


def draw_wallet(paper: Paper, material: Material, warn: Callable[[str], None]) -> None:
    """Draw the page.

    Args:
        warn: hears of pictures that cannot be read.

    Raises:
        Fault: the routine does not fit the cards of one page.
    """
    across = int((paper.width - 2 * _MARGIN) / CARD[0])
    down = int((paper.height - 2 * _MARGIN - 6.0) / CARD[1])
    plan = _plan(material, across * down)
    left = (paper.width - across * CARD[0]) / 2
    cues, each = material.sheet.cues, plan.lines * plan.columns
    cards = -(-len(cues) // each)
    for card in range(cards):
        row, column = divmod(card, across)
        x, y = left + column * CARD[0], _MARGIN + row * CARD[1]
        _draw_head(paper, material, x, y, f"{card + 1} / {cards}")
        for k, cue in enumerate(cues[card * each : (card + 1) * each]):
            inner, line = divmod(k, plan.lines)
            wide = (CARD[0] - 2 * _PAD) / plan.columns
            top = y + _TOP + line * plan.pitch
            _draw_line(paper, material, cue, x + _PAD + inner * wide, top, plan, warn)
    how = (
        "Cut along the outer line and fold in the middle." if cards == 2 else "Cut along the lines."
    )
    paper.text(left, _MARGIN + -(-cards // across) * CARD[1] + 5.0, how, 9, grey=DIM)
    paper.end_page()


def _draw_head(paper: Paper, material: Material, x: float, y: float, number: str) -> None:
    paper.box(x, y, *CARD, line=LINE, thick=0.15)
    title = shortened(material.routine.title, 9, CARD[0] - 24, STRONG)
    paper.text(x + _PAD, y + 5.2, title, 9, font=STRONG)
    length = f"{words.clock(material.length)}   {number}"
    paper.text(x + CARD[0] - _PAD, y + 5.2, length, 8, grey=DIM, align="right")


def _plan(material: Material, most: int) -> _Plan:
    """The fewest cards, up to `most`, on which the type is not too small; names are cut last."""
    cues = material.sheet.cues
    for cards, columns, least in (
        *((1, 1, _LARGEST), (2, 1, _EASY), (4, 1, _EASY), (most, 1, _EASY), (most, 2, _EASY)),
        *((2, 1, _SMALL), (4, 1, _SMALL), (most, 1, _SMALL), (most, 2, _SMALL)),
    ):
        lines = -(-len(cues) // (cards * columns))
        size = min(_LARGEST, _HIGH / lines / _LEADING)
        for figures in (True, False):
            plan = _Plan(columns, lines, size, figures)
            widest = max(_texts(material, cue, size) for cue in cues)
            fitting = size * min(1.0, (plan.width - plan.figure - 4 * _GAP) / widest)
            if fitting >= least:
                return replace(plan, size=fitting)
    if _HIGH / lines / _LEADING >= _SMALL:
        return _Plan(columns, lines, _SMALL, figures=False)
    raise Fault(
        f"{len(cues)} poses do not fit the cards of one page", do="print the routine sheet instead"
    )


def _indent(where: str, size: float) -> float:
    return max(size, text_width(where, size, STRONG))


def _texts(material: Material, cue: Cue, size: float) -> float:
    """Millimetres of a line's texts with nothing cut but names of more than `_NAME` letters."""
    where = words.place(material.beatmap, cue.hit)
    return _indent(where, size) + text_width(cue.name[:_NAME] + _tail(cue), size)


def _draw_line(
    paper: Paper,
    material: Material,
    cue: Cue,
    x: float,
    y: float,
    plan: _Plan,
    warn: Callable[[str], None],
) -> None:
    size, base = plan.size, y + plan.pitch / 2 + plan.size * 0.125
    where = words.place(material.beatmap, cue.hit)
    paper.text(x, base, where, size, font=STRONG)
    indent = _indent(where, size) + _GAP
    if plan.figure:
        box = (x + indent, y + 0.1, plan.figure, plan.pitch - 0.2)
        if sentence := draw_body(paper, cue, material.folder, *box):
            warn(sentence)
        indent += plan.figure + _GAP
    paper.text(x + plan.width, base, _tail(cue), size, grey=DIM, align="right")
    room = plan.width - indent - text_width(_tail(cue), size) - _GAP
    paper.text(x + indent, base, shortened(cue.name, size, room), size)


def _tail(cue: Cue) -> str:
    """Facing, level and hold: "left, lunge  hold 4"."""
    facing = cue.facing.value.removesuffix(" side")
    stance = facing if cue.level is Level.STANDING else f"{facing}, {cue.level.value}"
    hold = str(cue.placed.hold).removesuffix(" counts").removesuffix(" count")
    return f"{stance}  hold {hold}"
