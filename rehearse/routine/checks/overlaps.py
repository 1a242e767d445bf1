"""Poses that ask for the same moment."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity

_SLACK = 0.02


def check(case: Case) -> Iterator[Finding]:
    """A hold that lasts into the next hit, or only into the transition to it."""
    for one, other in itertools.pairwise(case.shown):
        if one.end > other.hit + _SLACK or other.hit - one.hit < _SLACK:
            over = max(one.end, one.hit) - other.hit
            yield Finding.about(
                other,
                "overlap",
                Severity.FAULT,
                f"{one.pose.name} is still held {over:.1f} s after this is hit",
                f"hold {one.pose.name} shorter or move one of them",
            )
        elif one.end > other.start + _SLACK:
            over = one.end - other.start
            yield Finding.about(
                other,
                "overlap",
                Severity.WARNING,
                f"its transition begins {over:.1f} s before the hold of {one.pose.name} is over",
                f"make the transition or that hold {case.counts_for(other.start, over)} shorter",
            )
