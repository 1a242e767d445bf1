"""The edge light: the screen's rim fills from the foot up both sides and is whole on the hit.

Symmetric, so that it reads the same in a mirror, upside down and from the corner of the eye. It
fills in steps, one a count, and each step brightens the lit part for a moment.

WCAG 2.2 SC 2.3.1 allows three flashes in any one second. A step is one flash (a pair of opposing
changes of more than 10 % of the maximum luminance), so above 180 counts a minute it steps on
every second count, and no step follows a hit within a third of a second.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass

from rehearse.cueing.cue_state import Cue, CueState
from rehearse.cueing.cues import CueSheet

#: Shortest time between the beginnings of two flashes, in seconds.
APART = 1 / 3
#: How long a step glows and a hit stays whole, then fades, in counts.
_GLOW, _WHOLE, _FADE = 0.55, 0.25, 0.5
_ROUNDING = 0.02
#: At 180 counts a minute all is a third of a second apart to the last digit, and a light would
#: flicker with that digit.
_LEAST = APART - 1e-6


@dataclass(frozen=True)
class Edge:
    """The light at one moment.

    Args:
        fill: 0..1, the lit part of the rim. glow: 0..1, brightness above its resting one.
        whole: 0..1, brightness of the hit's light around the whole rim.
        notches: parts of the rim at which it steps.
    """

    fill: float = 0.0
    glow: float = 0.0
    whole: float = 0.0
    notches: tuple[float, ...] = ()


def edge_at(cue_state: CueState, sheet: CueSheet, tempo: float, *, flash: bool = True) -> Edge:
    """The edge light at `cue_state` when the music plays at `tempo` (0.4–1.05) of its own.

    `flash` False leaves out glow; the rim still fills and is still whole on the hit.
    """
    hits = sheet.flashes
    last = bisect_right(hits, cue_state.time + 1e-9) - 1
    since = math.inf if last < 0 or cue_state.count_in else cue_state.time - hits[last]
    interval = cue_state.interval or 0.5
    whole = 0.0
    if last < 1 or (hits[last] - hits[last - 1]) / tempo >= _LEAST:
        whole = _fading(since / interval, _WHOLE, _FADE)
    cue, counts = cue_state.next, cue_state.counts
    if cue is None:
        return Edge(whole=whole)
    if counts is None:
        return Edge(cue_state.rim, 0.0, whole)
    step = 2 if _fast(cue, sheet, tempo) else 1
    ahead = step * max(1, math.ceil((counts - _ROUNDING) / step))
    if cue_state.rim <= 0.0:
        return Edge(whole=whole, notches=_notches(8.0, step))
    span = counts / max(1.0 - cue_state.rim, 1e-9)
    age = ahead - counts
    glow = 0.0
    if flash and ahead < span - 1e-6 and (since / tempo - age * interval / tempo) >= _LEAST:
        glow = _fading(max(age, 0.0), 0.0, _GLOW * step)
    return Edge(min(1.0, max(0.0, 1.0 - ahead / span)), glow, whole, _notches(span, step))


def lit(fill: float, width: float, height: float, rim: float) -> list[tuple[float, ...]]:
    """Rectangles (x, y, width, height) of the first `fill` (0..1) of the rim, from the foot up."""
    length = fill * (width + height)
    foot = min(length, width / 2)
    side = min(max(length - width / 2, 0.0), height)
    top = max(length - width / 2 - height, 0.0)
    boxes: list[tuple[float, ...]] = [(width / 2 - foot, height - rim, 2 * foot, rim)]
    if side > 0:
        boxes += [(0.0, height - side, rim, side), (width - rim, height - side, rim, side)]
    if top > 0:
        boxes += [(0.0, 0.0, top, rim), (width - top, 0.0, top, rim)]
    return boxes


def notch_boxes(
    part: float, width: float, height: float, rim: float, thick: float
) -> list[tuple[float, ...]]:
    """The two gaps of `thick` pixels in the rim at `part` of the way from its foot to its top."""
    length = part * (width + height)
    if length <= width / 2:
        return [(width / 2 + s * length - thick / 2, height - rim, thick, rim) for s in (-1, 1)]
    if length <= width / 2 + height:
        y = height - (length - width / 2) - thick / 2
        return [(0.0, y, rim, thick), (width - rim, y, rim, thick)]
    x = length - width / 2 - height - thick / 2
    return [(x, 0.0, thick, rim), (width - x - thick, 0.0, thick, rim)]


def _fast(cue: Cue, sheet: CueSheet, tempo: float) -> bool:
    """More than 180 counts a minute anywhere on the way to `cue`."""
    beatmap = sheet.beatmap
    begin = sheet.hits[cue.index - 1] if cue.index else cue.hit - 8.0
    first = max(0, bisect_right(beatmap.beats, begin) - 1)
    last = bisect_right(beatmap.beats, cue.hit)
    shortest = min((beatmap.interval(k) for k in range(first, last)), default=1.0)
    return shortest / tempo < _LEAST


def _notches(span: float, step: int) -> tuple[float, ...]:
    return tuple(1.0 - k / span for k in range(step, math.ceil(span), step))


def _fading(age: float, whole: float, fade: float) -> float:
    if age < 0 or age > whole + fade:
        return 0.0
    return 1.0 if age <= whole else 1.0 - (age - whole) / fade
