"""Long stretches of music without a hit."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity


def check(case: Case) -> Iterator[Finding]:
    """From the start of the music to the first hit, between hits, and to the end."""
    if not case.shown:
        return
    end = min(case.stage.end, case.beatmap.duration)
    times = [case.stage.start, *(s.hit for s in case.shown), end]
    for start, stop in itertools.pairwise(times):
        if stop - start > case.thresholds.longest_gap + 1e-6:
            yield Finding(
                "gap",
                Severity.WARNING,
                f"no hit for {stop - start:.1f} s, from here to {case.place(stop)}",
                "put a pose in, or make the hold before it worth looking at",
                case.place(start),
                start,
            )
