"""What stands still on the stage display between two counts: names, signs, notes, state, tempo."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter

from rehearse.cueing.cue_state import Cue, CueState, TimedMove
from rehearse.ui.colours import DIM, FAULT, HELD, INK, LINE, NEXT, fill
from rehearse.ui.stage.facing_icon import draw_facing_icon
from rehearse.ui.stage.fit import DESCENT, Fitted, fit, fit_whole, start_of
from rehearse.ui.stage.layout import Box, Kind, Layout
from rehearse.ui.stage.question import paint_question
from rehearse.ui.stage.stage_options import LIVE, StageOptions
from rehearse.ui.stage.stage_text import facing_words, names_of, sentence, way_words
from rehearse.ui.stage.text_cache import advance, draw_lines, draw_words
from rehearse.words import _

MARKS = {"clean": "✓", "missed": "✕", "no sound": "▲"}
#: Height of a line, and width that the count that is heard takes, in cap heights.
ROW, COUNT = 1 + DESCENT, 1.3
_VERDICTS = "✓✕"
#: Says that figure and sign are as in a mirror.
MIRROR = _("Mirror")
_TITLES = {"paused": _("Paused"), "done": _("Done"), "no sound": _("No sound")}


@dataclass(frozen=True)
class Held:
    """The small figure of what is held, painted by whoever has figures."""

    cue: Cue
    box: Box


def kind_of(cue_state: CueState, options: StageOptions, *, roomy: bool) -> Kind:
    """Which division of the screen a moment needs."""
    if options.question:
        return "ask"
    if options.state in ("rest", "ready", "paused", "done", "no sound"):
        return "note"
    if options.state == "count-in" or cue_state.count_in:
        note = cue_state.next is not None and bool(cue_state.next.placed.note)
        return "note" if note and options.cueing == "all" else "pose"
    if options.cueing != "all":
        return "pose"
    following = cue_state.next is not None and bool(cue_state.next.moves)
    return "moving" if cue_state.moving or (roomy and following) else "pose"


def still_key(cue_state: CueState, options: StageOptions) -> tuple[object, ...]:
    """Moments with equal keys look the same as far as `paint_still` goes."""
    return (
        id(cue_state.next),
        id(cue_state.held),
        cue_state.move,
        cue_state.moving,
        cue_state.again,
        bool(cue_state.count_in),
        options.state,
        options.question,
        options.pointed,
        options.words,
        options.cause,
        options.cueing,
        options.tempo,
        options.is_round,
        options.passes,
        options.verdict,
    )


def paint_still(
    painter: QPainter,
    cue_state: CueState,
    layout: Layout,
    options: StageOptions,
    cues: Sequence[Cue] = (),
) -> Held | None:
    """Paint all of it; returns where the figure of what is held belongs, if anywhere.

    Args:
        cues: those of the routine, told by their numbers where one is asked for.
    """
    if options.state == "stopped":
        paint_told(painter, layout, options.words)
    elif layout.kind in ("note", "ask"):
        _paint_note(painter, cue_state, layout, options, cues)
    else:
        return _paint_pose(painter, cue_state, layout, options)
    return None


# -- in the music ----------------------------------------------------------------------------


def _paint_pose(
    painter: QPainter, cue_state: CueState, layout: Layout, options: StageOptions
) -> Held | None:
    coming, held = cue_state.next, cue_state.held
    if options.cueing != "all":
        if options.cueing == "names" and held:
            _paint_name(painter, layout, held, HELD, options)
        _paint_foot(painter, layout, [], INK, options)
        return None
    if coming is None:
        if held:
            _paint_name(painter, layout, held, HELD, options)
        elif cue_state.move:
            off = tuple(sentence(t) for t in (cue_state.move.text, cue_state.move.short) if t)
            draw_lines(painter, layout.name, _fitted_name(layout, off), INK)
        _paint_foot(painter, layout, [], INK, options)
        return None
    if cue_state.move and layout.move:
        draw_lines(painter, move_box(layout), fit_move(layout, cue_state.move), INK)
    _paint_name(painter, layout, coming, NEXT, options)
    if layout.words and layout.words.bottom < layout.strip.y:
        _paint_line(painter, layout.words, facing_words(coming), layout.cap, NEXT, align=1.0)
    if held and not cue_state.count_in:
        return _paint_held(painter, layout, held, cue_state.again, options)
    told = [] if cue_state.count_in or layout.shares else way_words(coming)
    _paint_foot(painter, layout, told, INK, options)
    return None


def _paint_name(
    painter: QPainter, layout: Layout, cue: Cue, colour: QColor, options: StageOptions
) -> float:
    """The name and its sign; returns where the name ends."""
    fitted = fit_name(layout, cue)
    draw_lines(painter, layout.name, fitted, colour)
    sign = layout.sign
    draw_facing_icon(painter, sign, cue.facing, cue.level, colour, LINE, mirrored=options.mirrored)
    return layout.name.y + fitted.height


def fit_name(layout: Layout, cue: Cue) -> Fitted:
    """How a name is set: its short form before it would be smaller than can be read."""
    return _fitted_name(layout, names_of(cue))


def _fitted_name(layout: Layout, texts: Sequence[str]) -> Fitted:
    box = layout.name
    return fit_whole(
        texts,
        box.width,
        box.height,
        least=layout.cap,
        most=layout.name_cap * 1.35,
        advance=advance,
    )


def fit_move(layout: Layout, move: TimedMove) -> Fitted:
    """How a move is set on its line, beside its counts; smaller before it would be cut."""
    box = move_box(layout)
    return fit_whole(
        tuple(sentence(text) for text in (move.text, move.short) if text),
        box.width,
        layout.cap * ROW,
        least=layout.cap,
        most=layout.cap,
        advance=advance,
        lines=1,
    )


def move_box(layout: Layout) -> Box:
    """Where the words of a move stand: its counts come before them."""
    assert layout.move is not None
    wide, line = 0.95 * layout.cap, layout.move
    return Box(line.x + wide, line.y, line.width - wide, line.height)


def _paint_held(
    painter: QPainter, layout: Layout, cue: Cue, again: bool, options: StageOptions
) -> Held | None:
    """A bar, the figure and the name of what is held, or that it is hit again."""
    foot, bar = layout.foot, max(3.0, 0.6 * layout.unit)
    place = layout.small
    if foot is None and options.mirrored:  # the word that says so has its place
        _paint_foot(painter, layout, [], INK, options)
        return None
    if foot and not layout.shares:
        place = Box(foot.x, foot.y - 0.2 * layout.cap, 1.35 * layout.cap, 1.5 * layout.cap)
        texts = (_("Again"),) if again else names_of(cue)
        _paint_foot(
            painter, layout, texts, HELD, options, left=(2.4 if again else 1.5) * layout.cap
        )
    if place is None:
        return None
    fill(painter, QRectF(place.x, place.y, bar, place.height), HELD)
    return Held(cue, Box(place.x + 2 * bar, place.y, place.width - 2 * bar, place.height))


def _paint_foot(
    painter: QPainter,
    layout: Layout,
    texts: Sequence[str],
    colour: QColor,
    options: StageOptions,
    *,
    left: float = 0.0,
) -> None:
    """The last line: the first of `texts` that has room, `left` pixels in, then pass and tempo."""
    foot, cap = layout.foot, layout.cap
    if foot is None or layout.shares:  # numeral and figure reach into it
        if options.mirrored and layout.words:
            _paint_line(painter, layout.words, (MIRROR,), cap, INK)
        return
    room = Box(foot.x + left, foot.y, foot.width - left, cap)
    used = _paint_line(painter, room, texts, cap, colour)
    free = room.width - used - (0.6 * cap if used else 0.0)
    x = room.right
    for text, ink in corner_texts(options):
        width = advance(text) * cap
        if width > free and text[-1] in _VERDICTS:
            text = text[-1]
            width = advance(text) * cap
        if width > free:
            continue
        draw_words(painter, Box(x - width, room.y, width, cap), text, cap, ink, strong=True)
        x -= width + 0.5 * cap
        free -= width + 0.5 * cap


def _paint_line(
    painter: QPainter,
    box: Box,
    texts: Sequence[str],
    cap: float,
    colour: QColor,
    *,
    align: float = 0.0,
) -> float:
    """The first of `texts` that has room on one line, or nothing; returns the width it took."""
    for text in texts:
        if text and advance(text) * cap <= box.width:
            return draw_words(painter, box, text, cap, colour, strong=True, align=align)
    return 0.0


def corner_texts(options: StageOptions) -> list[tuple[str, QColor]]:
    """Pass, tempo: the first that have room are shown."""
    mark = MARKS.get(options.verdict, "") if options.state in LIVE else ""
    texts: list[tuple[str, QColor]] = []
    if options.mirrored:
        texts.append((MIRROR, INK))
    if mark:  # beside a verdict: which pass, not of how many
        texts.append((f"{options.passes.partition('/')[0]} {mark}".strip(), INK))
    elif options.passes:
        texts.append((options.passes, DIM))
    if not options.is_round:
        texts.append((f"{round(options.tempo * 100)} %", DIM))
    return texts


# -- standing still ---------------------------------------------------------------------------


def _paint_note(
    painter: QPainter,
    cue_state: CueState,
    layout: Layout,
    options: StageOptions,
    cues: Sequence[Cue],
) -> None:
    """What comes, what is going on, and the note in as many words as have room."""
    whole, state = layout.whole, options.state
    if options.question:
        paint_question(painter, layout, options.question, cues, options.pointed)
        return
    if state == "no sound" and _paint_cause(painter, layout, options):
        return
    if state in ("done", "no sound"):
        title, colour = title_of(options)
        y = _paint_lines(painter, layout, whole, [title], colour) + layout.gap
        room = Box(whole.x, y, whole.width, whole.bottom - y)
        told = options.words  # from far away what Space does is enough
        _paint_lines(painter, layout, room, [told, told.partition(",")[0]], INK)
        return
    coming = cue_state.next
    if coming and options.cueing == "all":
        _paint_name(painter, layout, coming, NEXT, options)
    room = layout.text
    if cue_state.count_in:  # the count that is heard stands at the right
        room = Box(room.x, room.y, room.width - COUNT * layout.cap, room.height)
    if words := waiting_words(options):
        taken = fit(
            words, room.width, room.height, least=layout.cap, most=layout.cap, advance=advance
        )
        if taken:
            draw_lines(painter, room, taken, INK)
            room = _under(room, taken)
    if coming and coming.placed.note and options.cueing == "all":
        note = coming.placed.note
        started = start_of(note, room.width, room.height, cap=layout.cap, advance=advance)
        if started:
            draw_lines(painter, room, started, INK)
            room = _under(room, started)
    foot = Box(room.x, layout.text.bottom - layout.cap * ROW, room.width, layout.cap)
    if room.bottom - room.y >= layout.cap * ROW:
        _paint_left(painter, foot, resting_texts(options), layout.cap)


def _paint_cause(painter: QPainter, layout: Layout, options: StageOptions) -> bool:
    """Why there is no sound, over what the keys do; False where not even its shortest has room."""
    if not options.cause:
        return False
    title, colour = title_of(options)
    heads = (f"{title} – {options.cause}", f"{MARKS['no sound']} {sentence(options.cause)}")
    # A screen too small for the distance is read from nearer by anyway.
    sizes = (1.2, 1.0) if layout.legible else (1.2, 1.0, 0.9, 0.8, 0.7)
    told = (options.words, options.words.partition(",")[0])
    for keys, grown, head in itertools.product(told, sizes, heads):
        above = _set(layout, head, layout.whole, grown)
        if above is None:
            continue
        under = _under(layout.whole, above)
        room = replace(under, y=under.y + layout.gap, height=under.height - layout.gap)
        if beneath := _set(layout, keys, room, grown):
            draw_lines(painter, layout.whole, above, colour)
            draw_lines(painter, room, beneath, INK)
            return True
    return False


def _set(layout: Layout, text: str, room: Box, grown: float) -> Fitted | None:
    cap = layout.cap * grown
    return fit((text,), room.width, room.height, least=cap, most=cap, advance=advance, lines=4)


def _under(room: Box, fitted: Fitted) -> Box:
    return Box(room.x, room.y + fitted.height, room.width, room.height - fitted.height)


def waiting_words(options: StageOptions) -> list[str]:
    """What the keys do now, from all of it to the least."""
    if not options.words:
        return []
    title = title_of(options)[0]
    return [f"{title} – {options.words}", options.words] if title else [options.words]


def title_of(options: StageOptions) -> tuple[str, QColor]:
    """What is going on, in a word with its mark."""
    if options.state == "no sound":
        return _("{marks} No sound", marks=MARKS["no sound"]), FAULT
    return _TITLES.get(options.state, ""), INK


def resting_texts(options: StageOptions) -> list[tuple[str, QColor]]:
    """The verdict on the last pass, that it is a rest, which pass comes and at which tempo."""
    told: list[tuple[str, QColor]] = []
    if options.verdict and options.state in ("rest", "count-in"):
        told.append((f"{MARKS[options.verdict]} {sentence(options.verdict)}", INK))
    if options.state == "rest":
        told.append((_("Rest"), DIM))
    return told + [pair for pair in corner_texts(options) if pair[0][-1:] not in _VERDICTS]


def _paint_left(
    painter: QPainter, box: Box, texts: Sequence[tuple[str, QColor]], cap: float
) -> None:
    x = box.x
    for text, colour in texts:
        width = advance(text) * cap
        if x + width <= box.right:
            draw_words(painter, Box(x, box.y, width, cap), text, cap, colour, strong=True)
            x += width + 0.6 * cap


def _paint_lines(
    painter: QPainter,
    layout: Layout,
    room: Box,
    texts: Sequence[str],
    colour: QColor,
    grown: float = 1.2,
) -> float:
    """Words at the top of `room`, a little larger than the least; returns where they end."""
    cap = layout.cap
    fitted = fit_whole(
        texts, room.width, room.height, least=cap, most=cap * grown, advance=advance, lines=4
    )
    draw_lines(painter, room, fitted, colour)
    return room.y + fitted.height


# -- alone on the screen ----------------------------------------------------------------------


def paint_told(painter: QPainter, layout: Layout, text: str) -> None:
    """Nothing but a sentence, as large as there is room."""
    draw_lines(painter, layout.whole, fit_told(layout, text), INK)


def fit_told(layout: Layout, text: str) -> Fitted:
    """How a sentence is set that stands alone."""
    whole = layout.whole
    return fit_whole(
        (text,),
        whole.width,
        whole.height,
        least=layout.cap,
        most=layout.cap * 2,
        advance=advance,
        lines=4,
    )


def paint_memory(painter: QPainter, layout: Layout, options: StageOptions) -> None:
    """A dark screen that says what it is: nothing on it moves, nothing prompts."""
    whole, cap = layout.whole, layout.cap
    fitted = fit_whole(
        (_("From memory"),),
        whole.width,
        whole.height * 0.5,
        least=cap,
        most=cap * 1.6,
        advance=advance,
    )
    top = whole.y + (whole.height - fitted.height) / 2 - 0.6 * cap
    draw_lines(painter, Box(whole.x, top, whole.width, fitted.height), fitted, INK)
    foot = Box(whole.x, top + fitted.height + layout.gap, whole.width, cap)
    _paint_left(painter, foot, corner_texts(options), cap)
