"""Where everything on the stage display lies, as plain rectangles.

All letters are `cap` pixels high or more: 22′ of arc from where the athlete stands. What has no
room at that size is left out, in this order: words of facing, the counts of the eight but the one
that sounds, tempo and pass, the ribbon, the name of what is held. Two columns while a name has
room in the right one; from farther away the name takes the whole width.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from rehearse.ui.stage.fit import DESCENT, PITCH, block_height
from rehearse.ui.stage.stage_options import GLANCE, ViewingDistance

#: "pose": name, numeral, what is held. "moving": a line for the move above the name. "note": the
#: name over lines of text, for whoever stands still and reads. "ask": lines over the ribbon, which
#: takes a click as an answer.
Kind = Literal["pose", "moving", "note", "ask"]

#: Widths in cap heights: of the column a name needs, of one that has room for the sign, too.
_COLUMN, _WITH_SIGN = 7.25, 9.7
#: Width of the figure's column, as a part of the whole.
_FIGURE = 0.31
#: Heights in cap heights: of one line, of the least numeral.
_ROW, _NUMERAL = 1 + DESCENT, 1.1
#: Room for one count of the strip, and for two figures of the numeral, in their cap heights.
_PITCH, _TWO = 0.82, 1.36
#: Rows and columns that the smallest screen must have, in cap heights.
_LEAST = (block_height(2, 1.0) + _NUMERAL + 0.1, _COLUMN)


@dataclass(frozen=True)
class Box:
    """A rectangle in pixels."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Lower edge."""
        return self.y + self.height


@dataclass(frozen=True)
class Layout:
    """The places, and the heights of capitals that are kept to, in pixels.

    Args:
        unit: a hundredth of the height; rim: thickness of the edge light; gap: between two things.
        cap: 22′ of arc; nothing is ever smaller. name_cap: what a name may grow to.
        whole: all inside the rim. figure, name, sign: of the next pose. move: the move under way.
        numeral: the countdown.
        strip, counts: the counts of the eight, and how many of them have room: 8, 4 or 1.
        words: facing and level in words, or between numeral and sign that it is a mirror; foot:
            the last line, what is held with tempo and pass; small: the figure of what is held
            where there is no such line; text: lines of text under the name; ribbon. None where
            there is no room.
        shares: numeral and figure reach into the last line, whose words go.
        legible: False when the screen is too small for the distance; `cap` is smaller then.
        roomy: whether the line of the move takes nothing from the rest.
    """

    kind: Kind
    unit: float
    rim: float
    gap: float
    cap: float
    name_cap: float
    whole: Box
    figure: Box
    name: Box
    sign: Box
    numeral: Box
    strip: Box
    counts: int
    text: Box
    small: Box | None
    words: Box | None
    move: Box | None
    foot: Box | None
    shares: bool
    ribbon: Box | None
    legible: bool
    roomy: bool


@dataclass(frozen=True)
class _Screen:
    unit: float
    rim: float
    gap: float
    cap: float
    inner: Box
    ribbon: float
    wide: bool
    legible: bool


def lay_out(width: float, height: float, viewing: ViewingDistance, kind: Kind = "pose") -> Layout:
    """Divide a screen of `width` × `height` pixels seen from `viewing`."""
    screen = _measure(width, height, viewing, keeps_ribbon=kind == "ask")
    cap, gap, inner, unit = screen.cap, screen.gap, screen.inner, screen.unit
    foot = inner.bottom - (screen.ribbon + gap if screen.ribbon else 0.0)
    high = foot - inner.y
    name_cap = max(cap, min(15 * unit, high / 5.6))
    two = block_height(2, name_cap)
    row = (_ROW + 0.16) * cap
    roomy = high - two - gap >= 2 * row + 1.9 * cap + gap
    has_row = high >= two + row + _NUMERAL * cap + gap
    if kind == "moving" and high < block_height(3, name_cap) + 0.95 * cap:
        kind = "pose"  # from so far away the name and its countdown are all there is room for
    line = (row if roomy else PITCH * cap) if kind == "moving" else 0.0
    left = 0.0 if screen.wide else inner.width * _FIGURE + gap
    column = Box(inner.x + left, inner.y + line, inner.width - left, high - line)
    beside = kind in ("pose", "moving") and column.width >= _WITH_SIGN * cap and high >= 6.0 * cap
    size = min(1.9 * cap, two)
    sign = Box(column.right - 1.16 * size, column.y, size, size) if beside else None
    name = Box(column.x, column.y, column.width - (1.16 * size + gap if beside else 0.0), two)
    bottom = Box(inner.x, foot - _ROW * cap, inner.width, cap) if has_row else None
    if kind in ("note", "ask"):
        parts = _note(screen, name, foot)
    else:
        keeps = has_row and (kind == "pose" or roomy)
        parts = _counted(screen, name, foot - (row if keeps else 0.0), sign)
        if not screen.wide:
            # Where the numeral reaches into the last line, so does the figure.
            end = bottom.y - gap if bottom and keeps else foot
            parts["figure"] = Box(inner.x - gap, column.y, left + gap, end - column.y)
    return Layout(
        kind=kind,
        unit=unit,
        rim=screen.rim,
        gap=gap,
        cap=cap,
        name_cap=name_cap,
        whole=Box(inner.x, inner.y, inner.width, high),
        name=name,
        move=Box(inner.x, inner.y, inner.width, cap) if line else None,
        foot=bottom if kind in ("pose", "moving") else None,
        shares=kind == "moving" and not roomy,
        ribbon=Box(inner.x, inner.bottom - screen.ribbon, inner.width, screen.ribbon)
        if screen.ribbon
        else None,
        legible=screen.legible,
        roomy=roomy,
        **parts,
    )


def _measure(
    width: float, height: float, viewing: ViewingDistance, *, keeps_ribbon: bool
) -> _Screen:
    unit = min(height, width * 0.625) / 100
    rim, gap = 2.4 * unit, 1.6 * unit
    inner = Box(rim + gap, rim + gap, width - 2 * (rim + gap), height - 2 * (rim + gap))
    cap = viewing.pixels(GLANCE)
    ribbon = 5.2 * unit
    legible = cap <= min(inner.height / _LEAST[0], inner.width / _LEAST[1])
    if not legible:  # part of a window: whoever reads it sits before it, and may click the ribbon
        most = min((inner.height - ribbon - gap) / _LEAST[0], inner.width / _LEAST[1])
        cap = min(cap, most)
    elif (
        not keeps_ribbon and inner.height - ribbon - gap < (block_height(2, 1.0) + _ROW + 1.4) * cap
    ):
        ribbon = 0.0
    return _Screen(
        unit,
        rim,
        gap,
        cap,
        inner,
        ribbon,
        inner.width * (1 - _FIGURE) - gap < _COLUMN * cap,
        legible,
    )


def _counted(screen: _Screen, name: Box, foot: float, sign: Box | None) -> dict[str, Any]:
    """What lies beneath the name while counts lead to a hit."""
    cap, gap = screen.cap, screen.gap
    top = name.bottom + gap * 0.5
    x, high = name.x, foot - top
    figure = Box(x, top, 0.0, high)
    if screen.wide:  # the figure stands beneath the name
        figure = Box(screen.inner.x, top, min(screen.inner.width * 0.28, high * 0.85), high)
        x = figure.right + gap
    right = screen.inner.right
    size = min(high, 34 * screen.unit, (right - x) * 0.3)
    size = max(size, min(cap, high + 0.1 * cap))
    # Two figures are set smaller where the counts need the room, but never below the least.
    two = min(_TWO, max(1.02, _TWO * cap / size)) if sign is None else _TWO
    numeral = Box(x, foot - size - min(gap * 0.25, max(0.0, high - size)), size * two, size)
    left = numeral.right + gap
    if sign is None:
        wide = min(size, (1.1 if screen.wide else 1.4) * cap, (right - left - 2 * gap) / 2)
        # Between numeral and counts, which would else read as one row: 4 5 6 7 8.
        sign = Box(left, numeral.y, wide, wide)
        left = sign.x + wide * 1.16 + 1.5 * gap
    words = None
    if size >= 2 * cap + DESCENT * cap + 2 * gap:
        words = Box(left, numeral.bottom - cap - (_ROW * cap + 1.5 * gap), right - left, cap)
    if screen.wide:
        words = Box(left, numeral.bottom - cap, right - left, cap)
    small = None
    if screen.wide and right - left >= 2.2 * cap + gap:
        small = Box(left, numeral.y, 1.1 * cap, size)
        left = small.right + gap
    room = (right - left) / (_PITCH * cap)
    counts = 8 if room >= 8 else 4 if room >= 4 else 1
    pitch = min(1.2 * cap, (right - left) / counts)
    strip = Box(right - counts * pitch, numeral.bottom - cap, counts * pitch, cap)
    return {
        "figure": figure,
        "sign": sign,
        "numeral": numeral,
        "strip": strip,
        "counts": counts,
        "words": words,
        "small": small,
        "text": Box(x, foot, 0.0, 0.0),
    }


def _note(screen: _Screen, name: Box, foot: float) -> dict[str, Any]:
    """Beside the name the figure, a small numeral and the sign; beneath, lines of text."""
    cap, gap, inner = screen.cap, screen.gap, screen.inner
    top = name.bottom
    if screen.wide:
        size = min(1.2 * cap, foot - top)
        if foot - top > (_ROW + 1) * cap:  # a line of text over the last one
            size = max(cap, foot - top - (_ROW + 1) * cap)
        numeral = Box(inner.x, foot - size, size * _TWO, size)
        sign = Box(inner.right - 1.16 * size, foot - size, size, size)
        figure = Box(numeral.right + gap, foot - size, size * 1.2, size)
        text = Box(inner.x, top, inner.width, foot - size - top)
        strip = Box(sign.x - gap - 0.9 * cap, foot - cap, 0.9 * cap, cap)
    else:
        room = name.x - inner.x - gap
        size = min(name.height - cap - gap, room * 0.33, 1.9 * cap)
        sign = Box(name.x - 2.5 * gap - 1.16 * size, top - size, size, size)
        wide = 1.8 * cap  # "12", or "5.3" in free time
        numeral = Box(name.x - gap - wide, name.y, wide, cap)
        figure = Box(inner.x, inner.y, min(numeral.x, sign.x) - inner.x, top - inner.y)
        text = Box(inner.x, top + gap, inner.width, foot - top - gap)
        strip = Box(inner.right - 0.9 * cap, text.bottom - _ROW * cap, 0.9 * cap, cap)
    return {
        "figure": figure,
        "sign": sign,
        "numeral": numeral,
        "strip": strip,
        "counts": 1,
        "words": None,
        "small": None,
        "text": text,
    }


__all__ = ["PITCH", "Box", "Kind", "Layout", "lay_out"]
