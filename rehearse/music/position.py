"""Positions and lengths in music as dancers write them: `3:5&`, `12.40 s`, `4 counts`.

Conventions: eights and counts start at 1; eight 0 is a pick-up before the first eight. The
quarters of a count are written `e`, `&` and `a` after it. Seconds are seconds of the decoded
track (sample index / sample rate).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from rehearse.words import DECIMAL, _, ngettext

QUARTERS = ("", "e", "&", "a")
# Numbers of a stated length: one of hundreds of figures is infinite, or refused by Python itself.
_NUMBER = r"\d{1,12}(?:\.\d{1,20})?"
_COUNT = re.compile(r"^\s*(\d{1,6})\s*:\s*([1-8])\s*([e&a]?)\s*$", re.ASCII)
_SECONDS = re.compile(rf"^\s*(-?{_NUMBER})\s*s?\s*$", re.ASCII)
_COUNTS = re.compile(rf"^\s*({_NUMBER})\s*(?:counts?)\s*$", re.ASCII)


@dataclass(frozen=True, order=True)
class Count:
    """Count `count` (1–8) of eight `eight` (≥ 0), plus `quarter` (0–3) quarters of a count."""

    eight: int
    count: int
    quarter: int = 0

    def __str__(self) -> str:
        return f"{self.eight}:{self.count}{QUARTERS[self.quarter]}"


@dataclass(frozen=True, order=True)
class Seconds:
    """A place in free time, or off the counts: seconds of the track, ≥ 0."""

    value: float

    def __str__(self) -> str:
        text = f"{self.value:.6f}".rstrip("0")
        whole, _unused, fraction = text.partition(".")
        return f"{whole}.{fraction.ljust(2, '0')} s"

    @property
    def in_words(self) -> str:
        """As people read it, with their decimal sign."""
        return str(self).replace(".", DECIMAL)


Position = Count | Seconds


@dataclass(frozen=True, order=True)
class Length:
    """How long a hold or a transition lasts: in counts (steps of a quarter) or in seconds."""

    value: float
    in_counts: bool = True

    def __str__(self) -> str:
        number = f"{self.value:.3f}".rstrip("0").rstrip(".")
        if not self.in_counts:
            return f"{number} s"
        return f"{number} count" if self.value == 1 else f"{number} counts"

    @property
    def in_words(self) -> str:
        """As people read it, in their language."""
        number, _space, unit = str(self).partition(" ")
        number = number.replace(".", DECIMAL)
        if unit == "s":
            return f"{number} s"
        return ngettext("{number} count", "{number} counts", self.value, number=number)


def _rounded(text: str, places: int) -> float:
    # To what is written again: finer, or as minus nothing, it would be another one when saved.
    return round(float(text), places) + 0.0


def parse_position(text: str) -> Position:
    """Read `3:5`, `3:5&` or `12.40 s`.

    Raises:
        ValueError: with a message that says what to write instead.
    """
    if match := _COUNT.match(text):
        return Count(int(match[1]), int(match[2]), QUARTERS.index(match[3]))
    if match := _SECONDS.match(text):
        return Seconds(_rounded(match[1], 6))
    raise ValueError(
        _(
            "{text!r} is no position; write a count such as 3:5& or seconds such as 12.40 s",
            text=text[:60],
        )
    )


def parse_length(text: str) -> Length:
    """Read `4 counts`, `1 count`, `0.5 counts` or `2.5 s`.

    Raises:
        ValueError: with a message that says what to write instead.
    """
    if match := _COUNTS.match(text):
        return Length(_rounded(match[1], 3))
    if (match := _SECONDS.match(text)) and float(match[1]) >= 0:
        return Length(_rounded(match[1], 3), in_counts=False)
    raise ValueError(
        _(
            "{text!r} is no length; write counts such as 4 counts or seconds such as 2.5 s",
            text=text[:60],
        )
    )
