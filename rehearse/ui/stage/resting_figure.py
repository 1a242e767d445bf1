"""Where the figure stands while nothing moves: at its place in the pass, or where it is largest.

Whoever rests reads words and a note, which take what room they need first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rehearse.cueing.cue_state import Cue
from rehearse.ui.stage.fit import Fitted, fit, start_of
from rehearse.ui.stage.layout import Box, Layout
from rehearse.ui.stage.still import COUNT, ROW, fit_name
from rehearse.ui.stage.text_cache import advance


def at_its_place(note: Layout, pose: Layout, cue: Cue, words: Sequence[str]) -> Layout | None:
    """`note` with name, sign and figure where they stand in the pass, all text beside the figure.

    Args:
        pose: the division of the same screen while counts lead to a hit.

    Returns:
        None where words and note have no room there whole.
    """
    name, cap, gap = pose.name, note.cap, note.gap
    if pose.figure.right > name.x + gap or pose.sign.y > name.y or pose.kind != "pose":
        return None
    if _body(pose.figure) <= _body(note.figure):
        return None
    right, top, wide = note.whole.right, name.bottom + gap, 1.8 * cap
    text = Box(name.x, top, right - wide - gap - name.x, note.whole.bottom - top)
    strip = Box(right - 0.9 * cap, text.bottom - ROW * cap, 0.9 * cap, cap)
    if text.width <= 0 or not _has_room(text.width - COUNT * cap, text.height, cue, words, cap):
        return None
    numeral = Box(right - wide, top, wide, cap)
    return replace(
        note,
        name=name,
        name_cap=pose.name_cap,
        sign=pose.sign,
        figure=pose.figure,
        numeral=numeral,
        strip=strip,
        text=text,
    )


def _has_room(width: float, height: float, cue: Cue, words: Sequence[str], cap: float) -> bool:
    """Whether words, the whole note and the last line go one under the other."""
    left = height - ROW * cap
    if words:
        taken = fit(words[:1], width, left, least=cap, most=cap, advance=advance)
        if taken is None:
            return False
        left -= taken.height
    note = cue.placed.note
    if not note:
        return left >= 0
    started = start_of(note, width, left, cap=cap, advance=advance)
    return started is not None and " ".join(started.lines) == " ".join(note.split())


def figure_in_room(layout: Layout, cue: Cue, words: Sequence[str]) -> Layout:
    """`layout` with the figure right of the name or of the words, where it is larger than beneath.

    Args:
        words: what the keys do now, as `waiting_words` has them.
    """
    name, beneath, cap = layout.name, layout.figure, layout.cap
    if beneath.y < name.bottom:
        return layout
    fitted = fit_name(layout, cue)
    rooms = [beneath, _right_of(fitted, layout, name.y, name.bottom)]
    text = layout.text
    taken = fit(words, text.width, text.height, least=cap, most=cap, advance=advance)
    if taken and not cue.placed.note:
        low = layout.sign.y - layout.gap
        rooms.append(_right_of(taken, layout, name.y + fitted.height, low))
    return replace(layout, figure=max(rooms, key=_body))


def _right_of(fitted: Fitted, layout: Layout, top: float, low: float) -> Box:
    left = layout.name.x + max(map(advance, fitted.lines)) * fitted.cap + 2 * layout.gap
    return Box(left, top, max(0.0, layout.whole.right - left), max(0.0, low - top))


def _body(box: Box) -> float:
    """How high a body stands in a box: with its arms out it is about as wide as high."""
    return min(box.height, box.width)
