"""The rows of `beats.yaml`: cells of text to the values of a beat map.

Each reader takes the cells of one row and the song's length in seconds. It raises `ValueError`:
without words when the columns do not fit, else with "what is wrong; what to write". Times that lie
outside the song by less than a thousandth of a count, as earlier versions wrote them, are taken as
its ends; a stretch of which nothing is left is None.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from rehearse.music.beatmap import SAME_PLACE, Accent, Build, Confidence, Part, Stretch
from rehearse.music.settle import last_place
from rehearse.words import _

#: Largest place in a bar that is read.
LONGEST_BAR = 12
#: Letters of a part's label.
LONGEST_LABEL = 80


def _numbers(cells: Sequence[str], count: int, duration: float) -> list[float]:
    if len(cells) != count:
        raise ValueError
    values = [float(cell) for cell in cells]
    if not all(-SAME_PLACE < value < duration + SAME_PLACE for value in values):
        raise ValueError(
            _(
                "lies outside the song; write seconds between 0 and {duration:.6f}",
                duration=duration,
            )
        )
    last = last_place(duration) if duration < inf else duration
    return [min(max(0.0, value), last) for value in values]


def time(cells: Sequence[str], duration: float) -> float:
    """A place in the song."""
    return _numbers(cells, 1, duration)[0]


def beat(cells: Sequence[str], duration: float) -> tuple[float, int]:
    """A beat and its place in the bar."""
    if len(cells) != 2:
        raise ValueError
    if not 1 <= int(cells[1]) <= LONGEST_BAR:
        raise ValueError(
            _(
                "has no place in a bar; write a whole number from 1 to {longest_bar}",
                longest_bar=LONGEST_BAR,
            )
        )
    return _numbers(cells[:1], 1, duration)[0], int(cells[1])


def stretch(cells: Sequence[str], duration: float) -> Stretch | None:
    """A stretch, start before end."""
    start, end = _numbers(cells, 2, duration)
    if float(cells[1]) <= float(cells[0]):
        raise ValueError(_("ends before it begins; write start, then end"))
    return Stretch(start, end) if start < end else None


def _share(text: str) -> float:
    if not 0.0 <= float(text) <= 1.0:
        raise ValueError(_("is out of range; write a number from 0 to 1"))
    return float(text)


def accent(cells: Sequence[str], duration: float) -> Accent:
    """An accent."""
    if len(cells) != 2:
        raise ValueError
    return Accent(_numbers(cells[:1], 1, duration)[0], _share(cells[1]))


def build(cells: Sequence[str], duration: float) -> Build | None:
    """A build."""
    if len(cells) != 3:
        raise ValueError
    rise = stretch(cells[:2], duration)
    accent = None if cells[2] == "-" else _numbers(cells[2:], 1, duration)[0]
    return Build(rise.start, rise.end, accent) if rise else None


def part(cells: Sequence[str], duration: float) -> Part | None:
    """A part; its label may hold blanks."""
    if len(cells) < 3:
        raise ValueError
    part_of = stretch(cells[:2], duration)
    label = " ".join(cells[2:])
    if not label.isprintable() or len(label) > LONGEST_LABEL:
        raise ValueError(
            _(
                "has a label that cannot be shown; write {longest_label} letters at most",
                longest_label=LONGEST_LABEL,
            )
        )
    return Part(part_of.start, part_of.end, "" if label == "-" else label) if part_of else None


def confidence(cells: Sequence[str], duration: float) -> Confidence | None:
    """How sure the beats of a stretch are."""
    if len(cells) != 3:
        raise ValueError
    part_of = stretch(cells[:2], duration)
    value = _share(cells[2])
    return Confidence(part_of.start, part_of.end, value) if part_of else None
