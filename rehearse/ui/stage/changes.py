"""Which parts of the display differ from the last frame, so that only they are painted."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rehearse.cueing.cue_state import CueState
from rehearse.ui.stage.edge import Edge, lit
from rehearse.ui.stage.layout import Box, Layout

#: How much further than its own thickness the rim reaches on the hit.
WIDER = 0.8


@dataclass(frozen=True)
class PaintState:
    """All that a frame's look follows from; equal looks need no painting.

    Args:
        still: what stands still between two hits. figure: the picture of the figure.
        move: the counts of a move, and whether they lead to an `again` instead.
        place: pixel of the position in the ribbon.
    """

    still: tuple[object, ...]
    edge: Edge
    numeral: str
    move: tuple[str, bool]
    counted: str
    figure: tuple[object, ...]
    place: int


def changed(
    before: PaintState | None, now: PaintState, layout: Layout, width: float, height: float
) -> tuple[Box, ...] | None:
    """The boxes to paint; None for the whole display, empty when nothing changed."""
    if before is None or before.still != now.still:
        return None
    boxes: list[Box] = []
    if before.edge != now.edge:
        boxes += _rim(before.edge, now.edge, layout, width, height)
    if before.numeral != now.numeral:
        boxes.append(_grown(layout.numeral, 0.06 * layout.numeral.height))
    if before.counted != now.counted:
        boxes.append(_grown(layout.strip, 1.5 * layout.unit))
    if before.move != now.move and (place := move_numeral(layout, again=now.move[1])):
        boxes.append(_grown(place, 0.08 * layout.cap))
    if before.figure != now.figure:
        boxes.append(layout.figure)
    if before.place != now.place and layout.ribbon:
        reach = layout.ribbon.height * 0.12
        for x in (before.place, now.place):
            boxes.append(Box(x - reach, layout.ribbon.y, 2 * reach, layout.ribbon.height))
    return tuple(boxes)


def move_numeral(layout: Layout, *, again: bool) -> Box | None:
    """Where the counts of a move stand, or those to an `again`: before the words."""
    if again:
        foot = layout.foot
        return (
            Box(foot.x + 1.5 * layout.cap, foot.y, 0.8 * layout.cap, layout.cap) if foot else None
        )
    move = layout.move
    return Box(move.x, move.y, 0.8 * layout.cap, layout.cap) if move else None


def place_of(cue_state: CueState, layout: Layout) -> int:
    """Pixel of the position in the ribbon."""
    return round(layout.ribbon.x + cue_state.progress * layout.ribbon.width) if layout.ribbon else 0


def _rim(before: Edge, now: Edge, layout: Layout, width: float, height: float) -> list[Box]:
    """Where the rim differs: between two counts only its lit part glows."""
    wide = max(before.whole, now.whole) > 0
    if wide or before.notches != now.notches:
        rim = math.ceil(layout.rim * (1 + WIDER if wide else 1)) + 1
        return [
            Box(0, 0, width, rim),
            Box(0, height - rim, width, rim),
            Box(0, 0, rim, height),
            Box(width - rim, 0, rim, height),
        ]
    parts = lit(max(before.fill, now.fill), width, height, math.ceil(layout.rim))
    return [_grown(Box(*part), 1) for part in parts if part[2] > 0]


def _grown(box: Box, by: float) -> Box:
    return Box(box.x - by, box.y - by, box.width + 2 * by, box.height + 2 * by)
