"""Where did you lose it? on the stage display: the poses by their numbers, every name whole.

As large as everything that is read from where the athlete stands. A name too long for its line
goes on beneath it, its spoken short form first; how many poses are seen at once is what gives way,
and the clicker brings up the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPen

from rehearse.cueing.cue_state import Cue
from rehearse.ui.colours import DIM, INK, NEXT
from rehearse.ui.stage.fit import PITCH, Fitted, fit, fit_whole
from rehearse.ui.stage.layout import Box, Layout
from rehearse.ui.stage.stage_text import names_of
from rehearse.ui.stage.text_cache import advance, draw_lines, draw_words

#: Widths in cap heights: of two figures of a number, and of them with the space behind them.
_NUMBER, _BEFORE = 1.4, 1.8
#: Lines that a name takes at most before its letters become smaller.
_LINES = 3


@dataclass(frozen=True)
class Row:
    """One pose: its index, where number and name stand, and how the name is set.

    Args:
        hangs: the name hangs beside its number; from too far away for that it has the whole width,
            and the number is the first word of it, or left to the line below the stage.
    """

    index: int
    box: Box
    name: Fitted
    hangs: bool = True

    @property
    def room(self) -> Box:
        """What the name has, beside the number."""
        before = _BEFORE * self.cap if self.hangs else 0.0
        return Box(self.box.x + before, self.box.y, self.box.width - before, self.box.height)

    @property
    def cap(self) -> float:
        """Height of the number's capitals, in pixels."""
        return self.box.height


def paint_question(
    painter: QPainter, layout: Layout, question: str, cues: Sequence[Cue], pointed: int | None
) -> None:
    """The question, and under it the poses about the one pointed at."""
    asked, found = divide(layout, question, cues, pointed)
    if asked is not None:
        draw_lines(painter, layout.whole, asked, INK)
    for row in found:
        colour = NEXT if row.index == pointed else DIM
        number = Box(row.box.x, row.box.y, _NUMBER * layout.cap, layout.cap)
        draw_words(painter, number, f"{row.index + 1}", layout.cap, colour, strong=True, align=1.0)
        draw_lines(painter, row.room, row.name, colour)
        if row.index == pointed and row.hangs:
            painter.setPen(QPen(NEXT, max(2.0, layout.unit)))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            # Under the number, where no letter hangs below the line.
            under = row.box.bottom + 0.16 * layout.cap
            painter.drawLine(QPointF(row.box.x, under), QPointF(number.right, under))


def divide(
    layout: Layout, question: str, cues: Sequence[Cue], pointed: int | None
) -> tuple[Fitted | None, list[Row]]:
    """How the question is set, and the poses under it.

    From so far away that a name would have no room under it the question is None: it is asked in
    the line below the stage, too.
    """
    whole, cap = layout.whole, layout.cap
    asked = fit_whole(
        (question,), whole.width, whole.height, least=cap, most=cap, advance=advance, lines=4
    )
    found = _rows(layout, whole.y + asked.height + layout.gap, cues, pointed)
    if not cues or (found and _large(found, cap)):
        return asked, found
    found = _rows(layout, whole.y, cues, pointed)
    if not _large(found, cap):
        index = len(cues) - 1 if pointed is None else pointed
        found = [_alone(layout, index, names_of(cues[index]))]
    return None, found


def _large(found: Sequence[Row], cap: float) -> bool:
    return all(row.name.cap >= cap - 1e-6 for row in found)


def _alone(layout: Layout, index: int, texts: Sequence[str]) -> Row:
    """One pose over the whole width, with its number where that has room, too."""
    whole, cap = layout.whole, layout.cap
    numbered = (f"{index + 1} {text}" for text in texts)
    told = (*numbered, *texts)
    name = fit_whole(told, whole.width, whole.height, least=cap, most=cap, advance=advance)
    return Row(index, Box(whole.x, whole.y, whole.width, cap), name, hangs=False)


def _rows(layout: Layout, top: float, cues: Sequence[Cue], pointed: int | None) -> list[Row]:
    """The poses that have room below `top`, the one pointed at among them, else the last.

    In two columns where all names have room on one line there.
    """
    whole, cap = layout.whole, layout.cap
    if not cues or whole.bottom - top < cap:
        return []
    half = (whole.width - cap) / 2
    two = [_on_one_line(cue, _room(half, cap), cap) for cue in cues]
    columns = [fitted for fitted in two if fitted is not None]
    if len(columns) == len(cues):
        return _in_columns(layout, top, columns, pointed, half)
    names = [_fitted(layout, cue, _room(whole.width, cap), whole.bottom - top) for cue in cues]
    first, end = _seen(names, whole.bottom - top, pointed, cap)
    found, y = [], top
    for index in range(first, end):
        found.append(Row(index, Box(whole.x, y, whole.width, cap), names[index]))
        y += _high(names[index], PITCH - 1) + _between(names[index], cap)
    return found


def _in_columns(
    layout: Layout, top: float, names: Sequence[Fitted], pointed: int | None, wide: float
) -> list[Row]:
    whole, cap = layout.whole, layout.cap
    deep = max(1, int((whole.bottom - top - cap) / (cap * PITCH)) + 1)
    first, end = _about(len(names), 2 * deep, pointed)
    deep = min(deep, -(-(end - first) // 2)) if end - first > deep else deep
    found = []
    for place, index in enumerate(range(first, end)):
        column, line = divmod(place, deep)
        x, y = whole.x + column * (wide + cap), top + line * cap * PITCH
        found.append(Row(index, Box(x, y, wide, cap), names[index]))
    return found


def _about(number: int, most: int, pointed: int | None) -> tuple[int, int]:
    """The stretch of `most` of `number` places about one of them; the last where it is None."""
    end = number if pointed is None else min(number, max(most, pointed + 1 + most // 2))
    return max(0, end - most), end


def _seen(names: Sequence[Fitted], room: float, pointed: int | None, cap: float) -> tuple[int, int]:
    """From which name to before which there is room, by turns before and behind `pointed`."""
    at = len(names) - 1 if pointed is None else min(pointed, len(names) - 1)
    first, end = at, at + 1
    while True:
        wider = [
            (a, b)
            for a, b in ((first - 1, end), (first, end + 1))
            if a >= 0 and b <= len(names) and _height(names[a:b], cap) <= room
        ]
        if not wider:
            return first, end
        first, end = min(wider, key=lambda edges: abs(sum(edges) - 1 - 2 * at))


def _height(names: Sequence[Fitted], cap: float) -> float:
    """Pixels from the first capitals to the foot of the last ones."""
    steps = sum(_high(name, PITCH - 1) + _between(name, cap) for name in names[:-1])
    return steps + _high(names[-1], 0.0)


def _between(name: Fitted, cap: float) -> float:
    """More room under a name of several lines, so that each keeps to its number."""
    return 0.3 * cap if len(name.lines) > 1 else 0.0


def _high(name: Fitted, under: float) -> float:
    """Pixels from the first capitals to `under` cap heights below the last base line."""
    return name.cap * (1 + (len(name.lines) - 1) * PITCH + under)


def _room(width: float, cap: float) -> float:
    return width - _BEFORE * cap


def _on_one_line(cue: Cue, width: float, cap: float) -> Fitted | None:
    texts = (text for text in names_of(cue) if advance(text) * cap <= width)
    return next((Fitted((text,), cap) for text in texts), None)


def _fitted(layout: Layout, cue: Cue, width: float, height: float) -> Fitted:
    """On one line if a form of the name has room there, else on as few as it takes."""
    cap, texts = layout.cap, names_of(cue)
    if one := _on_one_line(cue, width, cap):
        return one
    for lines in range(2, _LINES + 1):
        found = fit(texts, width, height, least=cap, most=cap, advance=advance, lines=lines)
        if found is not None:
            return found
    # A word longer than the screen is wide goes on after a hyphen.
    return fit_whole(texts[::-1], width, height, least=cap, most=cap, advance=advance)
