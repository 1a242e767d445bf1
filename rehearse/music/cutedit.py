"""Changing the parts of a cut by hand; each a pure function from parts to parts.

The joins of what comes out are found anew (`joins.join_all`); parts that touch are one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import SAME_PLACE, BeatMap
from rehearse.music.cut import FARTHEST, MOST_PARTS, SHORTEST, CutPart
from rehearse.words import _

Parts = tuple[CutPart, ...]
#: Counts within which an end put by hand is drawn onto the first of an eight.
_NEAR = 1.5


def on_eight(beatmap: BeatMap, time: float) -> float:
    """The first of an eight near `time`, so that the eights stay whole; else the nearest beat.

    `time` itself where there is no beat within a count.
    """
    index = beatmap.nearest(time)
    if index < 0 or abs(beatmap.beats[index] - time) > beatmap.intervals[index]:
        return time
    ones = [k for k, count in enumerate(beatmap.counts) if count.count == 1]
    one = min(ones, key=lambda k: abs(beatmap.beats[k] - time), default=index)
    near = abs(beatmap.beats[one] - time) <= _NEAR * beatmap.intervals[one]
    return beatmap.beats[one if near else index]


def with_part(parts: Parts, start: float, end: float) -> Parts:
    """The parts and one more, at its place in the song; with those that it overlaps it is one.

    Raises:
        UserError: it is too short, or there are too many.
    """
    if end - start < SHORTEST:
        raise UserError(
            _("the part is too short"), do=_("choose {shortest:g} s or more", shortest=SHORTEST)
        )
    start, end = round(start, 6), round(end, 6)
    apart: list[CutPart] = []
    for part in parts:
        if part.start <= end + SAME_PLACE and start <= part.end + SAME_PLACE:
            start, end = min(start, part.start), max(end, part.end)
        else:
            apart.append(part)
    if len(apart) >= MOST_PARTS:
        raise UserError(
            _("a cut has {most_parts} parts at most", most_parts=MOST_PARTS),
            do=_("take one out first"),
        )
    place = next((k for k, p in enumerate(apart) if p.start > start), len(apart))
    return (*apart[:place], CutPart(start, end), *apart[place:])


def without_part(parts: Parts, index: int) -> Parts:
    """The parts less one.

    Raises:
        UserError: it is the only one.
    """
    if len(parts) < 2:
        raise UserError(_("a cut has one part at least"), do=_("add another part first"))
    return merged((*parts[:index], *parts[index + 1 :]))


def with_edge(parts: Parts, index: int, end: str, time: float) -> Parts:
    """The parts, the "start" or "end" of one at another time of the song.

    Raises:
        UserError: the part would be too short.
    """
    part, time = parts[index], round(time, 6)
    part = replace(part, start=time, shift=0) if end == "start" else replace(part, end=time)
    if part.end - part.start < SHORTEST:
        raise UserError(_("the part would be too short"), do=_("move its other end first"))
    changed = [*parts[:index], part, *parts[index + 1 :]]
    if end == "end" and index + 1 < len(changed):
        changed[index + 1] = replace(changed[index + 1], shift=0)
    return merged(tuple(changed))


def with_shift(parts: Parts, index: int, counts: int, beatmap: BeatMap) -> Parts:
    """The join before part `index` moved by counts, both parts alike.

    Raises:
        UserError: it lies two counts off already, or in free time.
    """
    before, part = parts[index - 1], parts[index]
    i, j = (beatmap.nearest(time) for time in (before.end, part.start))
    on_beats = min(i, j) >= 0 and all(
        abs(beatmap.beats[k] - time) <= SAME_PLACE for k, time in ((i, before.end), (j, part.start))
    )
    if not on_beats:
        raise UserError(_("this join lies in free time"), do=_("move the ends of its parts"))
    shift = part.shift + counts
    last = len(beatmap.beats) - 1
    if abs(shift) > FARTHEST or not (0 <= i + counts <= last and 0 <= j + counts <= last):
        raise UserError(
            _("a join lies {farthest} counts off at most", farthest=FARTHEST),
            do=_("move the ends of its parts"),
        )
    moved = replace(before, end=beatmap.beats[i + counts])
    part = replace(part, start=beatmap.beats[j + counts], shift=shift)
    return (*parts[: index - 1], moved, part, *parts[index + 1 :])


def merged(parts: Parts) -> Parts:
    """Parts that follow each other in the song made one."""
    made: list[CutPart] = []
    for part in parts:
        if made and abs(part.start - made[-1].end) <= SAME_PLACE:
            made[-1] = replace(made[-1], end=part.end)
        else:
            made.append(part)
    return tuple(made)


def part_at(parts: Sequence[CutPart], time: float) -> int:
    """Index of the part that has `time` of the song, or of the nearest one."""

    def away(k: int) -> float:
        return max(parts[k].start - time, time - parts[k].end, 0.0)

    return min(range(len(parts)), key=away)


def broken_eights(beatmap: BeatMap) -> int:
    """Eights of a map that have fewer counts than the others, but for its first and its last."""
    lengths: dict[int, int] = {}
    for count in beatmap.counts:
        lengths[count.eight] = lengths.get(count.eight, 0) + 1
    inner = list(lengths.values())[1:-1]
    return sum(1 for length in inner if length != max(inner, default=8))
