"""How far long work is, told to whoever waits for it; they may raise to stop it."""

from __future__ import annotations

from collections.abc import Callable

#: Takes 0..1 of the whole and words for what is being done.
Report = Callable[[float, str], None]


def between(report: Report, first: float, last: float, words: str = "") -> Report:
    """A report of a part of the work, told on as lying between `first` and `last` of the whole.

    Args:
        words: what is told instead of the part's own words.
    """
    return lambda done, own: report(first + (last - first) * min(1.0, max(0.0, done)), words or own)
