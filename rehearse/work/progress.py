"""How far a handout is, told to whoever waits for it; they may raise to stop it."""

from __future__ import annotations

from collections.abc import Callable

#: Takes 0..1 of the whole and words for what is being done.
Report = Callable[[float, str], None]


def between(report: Report, first: float, last: float) -> Report:
    """A report of a part of the work, told on as lying between `first` and `last` of the whole."""
    return lambda fraction, words: report(first + (last - first) * fraction, words)
