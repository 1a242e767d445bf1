"""The routine on one page of cards to cut out, for a wallet or a hem: 86 × 54 mm each.

The largest type is chosen at which the routine fits two cards (front and back); a longer one
takes more cards of the page in the smallest type.
"""

from __future__ import annotations

from rehearse.cueing.cues import Cue
from rehearse.files.fault import Fault
from rehearse.handout.material import Material
from rehearse.handout.sheet import words
from rehearse.handout.sheet.letters import REGULAR, STRONG, shortened, text_width
from rehearse.handout.sheet.paper import DIM, LINE, Paper
from rehearse.routine.model import Level

CARD = (85.6, 54.0)  # ISO/IEC 7810 ID-1, height rounded up
_SIZES = (10.0, 9.0, 8.0, 7.0, 6.0)
_PAD, _TOP = 3.0, 8.0


def draw_wallet(paper: Paper, material: Material) -> None:
    """Draw the page.

    Raises:
        Fault: the routine does not fit the cards of one page.
    """
    across = int((paper.width - 16) / CARD[0])
    down = int((paper.height - 16) / CARD[1])
    size, columns, each = _choose(len(material.sheet.cues), across * down)
    left = (paper.width - across * CARD[0]) / 2
    top = (paper.height - down * CARD[1]) / 2
    cues = material.sheet.cues
    cards = max(1, -(-len(cues) // (each * columns)))
    for card in range(cards):
        row, column = divmod(card, across)
        x, y = left + column * CARD[0], top + row * CARD[1]
        paper.box(x, y, *CARD, line=LINE, thick=0.15)
        title = shortened(material.routine.title, 9, CARD[0] - 22, STRONG)
        paper.text(x + _PAD, y + 5.2, title, 9, font=STRONG)
        length = f"{words.clock(material.length)}   {card + 1} / {cards}"
        paper.text(x + CARD[0] - _PAD, y + 5.2, length, 7, grey=DIM, align="right")
        first = card * each * columns
        for k in range(first, min(len(cues), first + each * columns)):
            inner, line = divmod(k - first, each)
            wide = (CARD[0] - 2 * _PAD) / columns
            base = y + _TOP + (line + 0.8) * size * 0.42
            _draw_line(paper, material, k, x + _PAD + inner * wide, base, wide - 1.5, size)
    paper.end_page()


def _choose(poses: int, cards: int) -> tuple[float, int, int]:
    """Type size, columns on a card, lines in a column."""
    for columns in (1, 2):
        for size in _SIZES if columns == 1 else _SIZES[-1:]:
            each = int((CARD[1] - _TOP - 2.0) / (size * 0.42))
            wanted = 2 if columns == 1 else cards
            if each * columns * wanted >= poses:
                return size, columns, each
    raise Fault(
        f"{poses} poses do not fit the cards of one page", do="print the routine sheet instead"
    )


def _draw_line(
    paper: Paper, material: Material, k: int, x: float, y: float, width: float, size: float
) -> None:
    cue = material.sheet.cues[k]
    where = words.place(material.beatmap, cue.hit)
    paper.text(x, y, where, size, font=STRONG)
    indent = max(size * 1.25, text_width(where, size, STRONG) + 1.0)
    tail = f"{_stance(cue)}  {_brief(str(cue.placed.hold))}"
    paper.text(x + width, y, tail, size, font=REGULAR, grey=DIM, align="right")
    room = width - indent - text_width(tail, size) - 1.0
    paper.text(x + indent, y, shortened(cue.name, size, room), size)


def _stance(cue: Cue) -> str:
    facing = cue.facing.value.removesuffix(" side")
    return facing if cue.level is Level.STANDING else f"{facing}, {cue.level.value}"


def _brief(hold: str) -> str:
    return f"hold {hold.removesuffix(' counts').removesuffix(' count')}"
