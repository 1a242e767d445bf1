"""The routine on one page of cards to cut out, for a wallet or a hem: 86 × 54 mm each.

As few cards as the type stays easy to read on, two of them as front and back; the poses are
spread evenly over them, as large as the longest line allows. A line has count and time, the pose,
the sign of its facing and its hold; what is the same in all lines stands once at the card's head.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from rehearse.cueing.cue_state import Cue
from rehearse.files.user_error import UserError
from rehearse.handout.handout_source import HandoutSource
from rehearse.handout.sheet import sheet_text
from rehearse.handout.sheet.drawings import draw_body, draw_facing
from rehearse.handout.sheet.paper import DIM, LINE, Paper
from rehearse.handout.sheet.typesetting import REGULAR, STRONG, shortened, text_width
from rehearse.routine.model import Level
from rehearse.words import _, number_text, shown

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
_HOLD = _("hold")
#: The time's size beside the line's; millimetres that the sign of the facing takes, a point.
_TIME, _SIGN = 0.86, 0.46


@dataclass(frozen=True)
class _Times:
    """The columns of counts and of times, in mm for each point of type."""

    count: float
    time: float

    @classmethod
    def of(cls, source: HandoutSource) -> _Times:
        told = [_when(source, cue) for cue in source.sheet.cues]
        counts = [text_width(where, 1.0, STRONG) for where, when in told if when]
        times = [text_width(when, _TIME) for _unused, when in told]
        alone = [text_width(where, 1.0, STRONG) for where, when in told if not when]
        count, time = max(counts, default=0.0), max(times, default=0.0)
        return cls(max(count, max(alone, default=0.0) - time), time)

    @property
    def both(self) -> float:
        return self.count + self.time


@dataclass(frozen=True)
class _CardPlan:
    """How the poses lie on the cards."""

    columns: int
    lines: int
    size: float
    figures: bool
    times: _Times

    @property
    def indent(self) -> float:
        """Millimetres of count and time before the figure or the name."""
        return self.times.both * self.size + 2 * _GAP

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


def draw_wallet(paper: Paper, source: HandoutSource, warn: Callable[[str], None]) -> None:
    """Draw the page.

    Args:
        warn: hears of pictures that cannot be read.

    Raises:
        UserError: the routine does not fit the cards of one page.
    """
    across = int((paper.width - 2 * _MARGIN) / CARD[0])
    down = int((paper.height - 2 * _MARGIN - 6.0) / CARD[1])
    plan = _plan(source, across * down)
    left = (paper.width - across * CARD[0]) / 2
    cues, each = source.sheet.cues, plan.lines * plan.columns
    cards = -(-len(cues) // each)
    for card in range(cards):
        row, column = divmod(card, across)
        x, y = left + column * CARD[0], _MARGIN + row * CARD[1]
        _draw_head(paper, source, x, y, f"{card + 1} / {cards}")
        for k, cue in enumerate(cues[card * each : (card + 1) * each]):
            inner, line = divmod(k, plan.lines)
            wide = (CARD[0] - 2 * _PAD) / plan.columns
            top = y + _TOP + line * plan.pitch
            _draw_line(paper, source, cue, x + _PAD + inner * wide, top, plan, warn)
    how = (
        _("Cut along the outer line and fold in the middle.")
        if cards == 2
        else _("Cut along the lines.")
    )
    base = _MARGIN + -(-cards // across) * CARD[1] + 5.0
    paper.text(left, base, f"{how} {sheet_text.CLOCK}", 9, grey=DIM)
    told = _(
        "Left and right are the athlete's own. The wedge is where the face looks, judges below."
    )
    paper.text(left, base + 4.0, told, 9, grey=DIM)
    paper.end_page()


def _draw_head(paper: Paper, source: HandoutSource, x: float, y: float, number: str) -> None:
    paper.box(x, y, *CARD, line=LINE, thick=0.15)
    first = number.startswith("1 ")
    told = f"{sheet_text.clock(source.length)}   {number}" if first else number
    right = x + CARD[0] - _PAD
    paper.text(right, y + 5.2, _HOLD, 8, grey=DIM, align="right")
    right -= text_width(_HOLD, 8) + 4.0
    paper.text(right, y + 5.2, told, 8, grey=DIM, align="right")
    if first:
        room = right - text_width(told, 8) - x - _PAD - 2.0
        title = shortened(source.routine.title, 9, room, STRONG)
        paper.text(x + _PAD, y + 5.2, title, 9, font=STRONG)


def _plan(source: HandoutSource, most: int) -> _CardPlan:
    """The fewest cards, up to `most`, on which the type is not too small; names are cut last."""
    cues, times = source.sheet.cues, _Times.of(source)
    for cards, columns, least in (
        *((1, 1, _LARGEST), (2, 1, _EASY), (4, 1, _EASY), (most, 1, _EASY), (most, 2, _EASY)),
        *((2, 1, _SMALL), (4, 1, _SMALL), (most, 1, _SMALL), (most, 2, _SMALL)),
    ):
        lines = -(-len(cues) // (cards * columns))
        size = min(_LARGEST, _HIGH / lines / _LEADING)
        for figures in (True, False):
            plan = _CardPlan(columns, lines, size, figures, times)
            widest = times.both * size + max(_texts(cue, size) for cue in cues)
            fitting = size * min(1.0, (plan.width - plan.figure - 5 * _GAP) / widest)
            if fitting >= least:
                return replace(plan, size=fitting)
    if _HIGH / lines / _LEADING >= _SMALL:
        return _CardPlan(columns, lines, _SMALL, figures=False, times=times)
    raise UserError(
        _("{number} poses do not fit the cards of one page", number=len(cues)),
        do=_("print the routine sheet instead"),
    )


def _texts(cue: Cue, size: float) -> float:
    """Millimetres of a line's texts with nothing cut but names of more than `_NAME` letters."""
    return text_width(cue.name[:_NAME] + _level(cue) + _hold(cue), size) + _SIGN * size


def _draw_line(
    paper: Paper,
    source: HandoutSource,
    cue: Cue,
    x: float,
    y: float,
    plan: _CardPlan,
    warn: Callable[[str], None],
) -> None:
    size, base = plan.size, y + plan.pitch / 2 + plan.size * 0.125
    where, when = _when(source, cue)
    paper.text(x, base, where, size, font=STRONG)
    indent = plan.indent
    paper.text(x + indent - _GAP, base, when, size * _TIME, grey=DIM, align="right")
    if plan.figure:
        box = (x + indent, y + 0.1, plan.figure, plan.pitch - 0.2)
        if sentence := draw_body(paper, cue, source.folder, *box):
            warn(sentence)
        indent += plan.figure + _GAP
    right = x + plan.width
    paper.text(right, base, _hold(cue), size, align="right")
    right -= max(text_width(_hold(cue), size), size * 0.3) + _SIGN * size / 2
    draw_facing(paper, cue.facing, right, base - size * 0.12, size * 0.1)
    right -= _SIGN * size / 2
    if level := _level(cue):
        paper.text(right, base, level, size, grey=DIM, align="right")
        right -= text_width(level, size) + _GAP
    paper.text(x + indent, base, shortened(cue.name, size, right - x - indent, REGULAR), size)


def _when(source: HandoutSource, cue: Cue) -> tuple[str, str]:
    """Count and time; in free time the time alone."""
    where, when = sheet_text.place(source, cue.hit), sheet_text.clock(cue.hit - source.sheet.start)
    return where, "" if where == when else when


def _level(cue: Cue) -> str:
    """The level where neither the figure's usual one nor the pose's name tells it."""
    word = shown(cue.level)
    return "" if cue.level is Level.STANDING or word in cue.name.split() else word


def _hold(cue: Cue) -> str:
    """The hold: counts as a bare number, seconds with their unit."""
    hold = cue.placed.hold
    return number_text(hold.value, ".6g") if hold.in_counts else sheet_text.lasting(hold)
