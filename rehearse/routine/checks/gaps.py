"""Long stretches of music without a hit."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity, seconds


def check(case: Case) -> Iterator[Finding]:
    """From the start of the stage part to the first hit in it, between hits, and to its end."""
    if not case.timed_poses:
        return
    first, end = case.stage.start, min(case.stage.end, case.beatmap.duration)
    times = [first, *(s.hit for s in case.timed_poses if first <= s.hit <= end), end]
    longest = case.thresholds.longest_gap
    for start, stop in itertools.pairwise(times):
        if stop - start > longest + 1e-6:
            other = "make the hold before it worth looking at"
            if start == first:
                other = "begin the stage part later"
            elif stop == end:
                other = "end the stage part earlier"
            yield Finding(
                "gap",
                Severity.WARNING,
                f"no hit for {seconds(stop - start, longest)} s, from here to {case.place(stop)}",
                f"add a pose, or {other}",
                case.place(start),
                start,
                amount=stop - start - longest,
            )
