"""What stands still on the stage display between two hits: name, sign, held pose, state, tempo."""

from __future__ import annotations

from PySide6.QtGui import QColor, QPainter

from rehearse.cueing.moment import Cue, Moment
from rehearse.ui.stage.fit import Fitted, fit
from rehearse.ui.stage.layout import Box, Layout
from rehearse.ui.stage.letters import advance, draw_lines, draw_words
from rehearse.ui.stage.options import StageOptions
from rehearse.ui.stage.sign import draw_sign
from rehearse.ui.stage.tones import DIM, FAULT, HELD, INK, LINE, NEXT

_MARKS = {"clean": "✓ ", "missed": "✕ ", "no sound": "▲ "}
_TOLD_LINES = 4
#: Shares of the least size tried for a name that would be cut at it.
_SMALLER = (1.0, 0.8, 0.6, 0.45)


def state_words(moment: Moment, options: StageOptions) -> str:
    """What the rehearsal is doing, where that is not plain to see."""
    if options.question:
        return options.question
    if options.state == "playing":  # a verdict is a mark beside the pass, the pose stays
        return "count-in" if moment.count_in else ""
    return options.verdict or options.state


def still_key(moment: Moment, options: StageOptions) -> tuple[object, ...]:
    """Moments with equal keys look the same as far as `paint_still` goes."""
    return (
        id(moment.next),
        id(moment.held),
        state_words(moment, options),
        options.words,
        options.cueing,
        options.tempo,
        options.passes,
        options.verdict,
    )


def paint_still(painter: QPainter, moment: Moment, layout: Layout, options: StageOptions) -> None:
    """Paint all of it."""
    if options.state == "stopped":
        _paint_told(painter, layout, options.words)
        return
    words = state_words(moment, options)
    if options.cueing == "all":
        if moment.next:
            _paint_name(painter, layout, moment.next, upcoming=True)
        elif moment.held:
            _paint_name(painter, layout, moment.held, upcoming=False)
        if moment.held and moment.next and not words:
            _paint_held(painter, layout, moment.held)
    elif options.cueing == "names" and moment.held:
        _paint_name(painter, layout, moment.held, upcoming=False)
    if words:
        _paint_state(painter, layout, words, options)
    _paint_corner(painter, layout, options)


def _paint_told(painter: QPainter, layout: Layout, text: str) -> None:
    """Nothing but a sentence, as large as there is room."""
    box = _told_box(layout)
    draw_lines(painter, box, fit_told(layout, text), INK)


def _told_box(layout: Layout) -> Box:
    return Box(layout.name.x, layout.name.y, layout.sign.right - layout.name.x, layout.held.bottom)


def fit_told(layout: Layout, text: str) -> Fitted:
    """How a sentence is set that stands alone: smaller rather than cut, its end may be help."""
    box = _told_box(layout)
    return fit(
        text,
        box.width,
        box.height,
        least=0.4 * layout.small_cap,
        most=layout.name_cap,
        advance=advance,
        lines=_TOLD_LINES,
    )


def _paint_name(painter: QPainter, layout: Layout, cue: Cue, *, upcoming: bool) -> None:
    box, colour = layout.name, NEXT if upcoming else HELD
    draw_lines(painter, box, fit_name(layout, cue.name), colour)
    draw_sign(painter, layout.sign, cue.facing, cue.level, colour, LINE)
    if cue.placed.note:
        draw_words(painter, layout.note, cue.placed.note, 2.3 * layout.unit, INK)


def fit_name(layout: Layout, name: str) -> Fitted:
    """How a name is set: rather smaller than it should be read from afar than cut."""
    least = layout.least_cap if layout.legible else layout.name_cap
    words = sentence(name)
    fitted: Fitted | None = None
    for times in _SMALLER:
        fitted = fit(
            words,
            layout.name.width,
            layout.name.height,
            least=least * times,
            most=layout.name_cap * 1.35,
            advance=advance,
        )
        if " ".join(fitted.lines) == words:
            break
    assert fitted is not None
    return fitted


def _paint_held(painter: QPainter, layout: Layout, cue: Cue) -> None:
    _paint_lines(painter, layout, sentence(cue.name), HELD)


def _paint_lines(painter: QPainter, layout: Layout, text: str, colour: QColor) -> None:
    """A text on two lines where the held pose stands."""
    box = layout.held
    place = Box(box.x, box.y, box.width, box.height - 5.2 * layout.unit)
    fitted = fit(
        text,
        place.width,
        place.height,
        least=0.55 * min(layout.small_cap, place.height / 1.4),
        most=layout.small_cap,
        advance=advance,
        lines=2,
    )
    draw_lines(painter, place, fitted, colour)


def _paint_state(painter: QPainter, layout: Layout, words: str, options: StageOptions) -> None:
    if options.question:
        _paint_lines(painter, layout, sentence(words), INK)
        return
    box, top = layout.held, layout.numeral.y
    cap = layout.small_cap
    if options.words:  # both lines must find room beside the numeral
        cap = min(cap, (box.bottom - top) / 1.8)
    colour = FAULT if words == "no sound" else INK
    line = Box(box.x, top, box.width, cap)
    draw_words(painter, line, f"{_MARKS.get(words, '')}{words}", cap, colour, strong=True)
    if options.words:
        foot = Box(box.x, line.bottom, box.width, cap * 0.75)
        draw_words(painter, foot, options.words, cap * 0.42, DIM)


def _paint_corner(painter: QPainter, layout: Layout, options: StageOptions) -> None:
    box = layout.corner
    left = Box(box.x, box.y, box.width * 0.62, box.height)
    right = Box(box.x + box.width * 0.66, box.y, box.width * 0.34, box.height)
    entries = [(left, "tempo", f"{round(options.tempo * 100)} %")]
    mark = _MARKS.get(options.verdict, "").strip() if options.state == "playing" else ""
    # Beside a verdict there is no room for how many there are to be, only for which one it is.
    passes = f"{options.passes.partition('/')[0]} {mark}" if mark else options.passes
    if passes.strip():
        entries.append((right, "pass", passes.strip()))
    for place, label, text in entries:
        draw_words(painter, place, text, layout.small_cap, INK if mark in text and mark else DIM)
        foot = Box(place.x, place.y, place.width, place.height + 3.4 * layout.unit)
        draw_words(painter, foot, label, 1.8 * layout.unit, DIM)


def sentence(name: str) -> str:
    """A name with a capital at its head."""
    return name[:1].upper() + name[1:]
