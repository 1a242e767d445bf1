"""The stage display on a screen that stands upright: a phone leaned against a dumbbell.

From its head to its foot: the move under way, the name across the whole width, the figure with
sign and countdown to its right, the counts of the eight, what is held, the ribbon. The name and
the figure keep their places whatever else is shown.
"""

from __future__ import annotations

from rehearse.ui.stage.fit import DESCENT, block_height
from rehearse.ui.stage.layout import Box, Kind, Layout
from rehearse.ui.stage.stage_options import GLANCE, ViewingDistance

_ROW = 1 + DESCENT
#: Lines of a name, and the part of the width that the figure takes.
_LINES, _FIGURE = 2, 0.64
#: Width of eight counts in cap heights at least, and of a numeral of two figures in its own.
_EIGHT, _TWO = 8 * 0.82, 1.36


def lay_out_upright(
    width: float, height: float, viewing: ViewingDistance, kind: Kind = "pose"
) -> Layout:
    """Divide a screen of `width` × `height` pixels, higher than wide, seen from `viewing`."""
    unit = width / 100
    rim, gap = 2.4 * unit, 2.2 * unit
    inner = Box(rim + gap, rim + gap, width - 2 * (rim + gap), height - 2 * (rim + gap))
    wish = viewing.pixels(GLANCE)
    cap = min(wish, inner.width / _EIGHT, inner.height / 14)
    ribbon = Box(inner.x, inner.bottom - 7 * unit, inner.width, 7 * unit)
    counts = 8 if kind in ("pose", "moving") else 1
    whole = Box(inner.x, inner.y, inner.width, ribbon.y - gap - inner.y)
    line = _ROW * cap
    name_cap = min(1.4 * cap, 15 * unit)
    name = Box(inner.x, inner.y + line, inner.width, block_height(_LINES, name_cap))
    foot = Box(inner.x, whole.bottom - _ROW * cap, inner.width, cap)
    strip = Box(inner.x, foot.y - 1.9 * cap, inner.width, cap)
    low = strip.y - 0.6 * cap
    figure = Box(inner.x, name.bottom, inner.width * _FIGURE, low - name.bottom)
    side = inner.right - figure.right - gap
    size = side / _TWO
    numeral = Box(figure.right + gap, low - size, side, size)
    sign = Box(numeral.x, name.bottom + gap, side / 1.16, side / 1.16)
    text = Box(inner.x, low + gap, inner.width, whole.bottom - low - gap)
    if counts == 1:
        strip = Box(inner.right - 0.9 * cap, whole.bottom - _ROW * cap, 0.9 * cap, cap)
    return Layout(
        kind=kind,
        unit=unit,
        rim=rim,
        gap=gap,
        cap=cap,
        name_cap=name_cap,
        whole=whole,
        figure=figure,
        name=name,
        sign=sign,
        numeral=numeral,
        strip=strip,
        counts=counts,
        text=text,
        small=None,
        words=None,
        move=Box(inner.x, inner.y, inner.width, cap) if kind == "moving" else None,
        foot=foot if counts == 8 else None,
        shares=False,
        ribbon=ribbon,
        legible=cap >= wish,
        roomy=True,
    )
