"""Where everything on the stage display lies, as plain rectangles.

Two columns inside the edge light: the moving figure with tempo and pass beneath it, and beside
it the name with its sign over the numeral with what is held. The ribbon runs along the foot. The
least sizes come first: where the screen is too small for them the ribbon goes, then the layout
says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.ui.stage.fit import block_height
from rehearse.ui.stage.sight import GLANCE, LEAST, Sight


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
        unit: a hundredth of the height; rim: thickness of the edge light.
        name_cap, numeral_cap, small_cap: cap heights of name and numeral, of the rest.
        least_cap: 22′ of arc: neither name nor numeral is ever smaller.
        legible: False when the screen is too small for the distance.
    """

    unit: float
    rim: float
    figure: Box
    corner: Box
    name: Box
    sign: Box
    numeral: Box
    held: Box
    note: Box
    ribbon: Box | None
    name_cap: float
    numeral_cap: float
    small_cap: float
    least_cap: float
    legible: bool


def lay_out(width: float, height: float, sight: Sight) -> Layout:
    """Divide a screen of `width` × `height` pixels seen from `sight`."""
    unit = min(height, width * 0.625) / 100
    rim, gap = 2.4 * unit, 2.6 * unit
    inner = Box(rim + gap, rim + gap, width - 2 * (rim + gap), height - 2 * (rim + gap))
    least, small = sight.pixels(GLANCE), max(sight.pixels(LEAST), 5.5 * unit)
    name_cap = max(least, 15 * unit)
    name_height = block_height(2, name_cap)
    ribbon_height = 8 * unit
    numeral = inner.height - name_height - ribbon_height - 5 * unit - gap
    with_ribbon = numeral - 5 * unit >= max(least, 12 * unit)
    if not with_ribbon:
        numeral, ribbon_height = inner.height - name_height - gap, 0.0
    legible = numeral - 5 * unit >= least
    if not legible:
        name_cap = min(name_cap, inner.height / (1 + block_height(2, 1) + 0.2))
        small = min(small, name_cap * LEAST / GLANCE)
        name_height = block_height(2, name_cap)
        numeral = inner.height - name_height - gap
    foot = inner.bottom - ribbon_height - (gap if with_ribbon else 0)
    corner = small + 4.4 * unit
    left = inner.width * 0.32
    right = Box(inner.x + left + gap, inner.y, inner.width - left - gap, foot - inner.y)
    sign = Box(right.right - 22 * unit, right.y, 22 * unit, name_height)
    numeral_cap = min(numeral - 5 * unit, 34 * unit)
    numeral_top = foot - numeral_cap - 4.5 * unit
    numeral_width = numeral_cap * 1.7
    held_x = right.x + numeral_width + gap
    return Layout(
        unit=unit,
        rim=rim,
        figure=Box(inner.x - gap, inner.y, left + 2 * gap, foot - inner.y - corner - gap),
        corner=Box(inner.x, foot - small - 4.4 * unit, left - 2 * unit, small),
        name=Box(right.x, right.y, right.width - sign.width - gap, name_height),
        sign=sign,
        numeral=Box(right.x, numeral_top, numeral_width, numeral_cap),
        held=Box(held_x, numeral_top - 2.6 * unit, right.right - held_x, numeral_cap + 2.6 * unit),
        note=Box(right.x, foot - 4 * unit, right.width, 3.2 * unit),
        ribbon=Box(inner.x, inner.bottom - ribbon_height, inner.width, ribbon_height)
        if with_ribbon
        else None,
        name_cap=name_cap,
        numeral_cap=numeral_cap,
        small_cap=small,
        least_cap=least,
        legible=legible,
    )
