"""Hits off the beat, and hits that stand beside an accent instead of on it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from rehearse.music.position import Seconds
from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.shown import Shown
from rehearse.routine.snapping import place_of_accent


def check(case: Case) -> Iterator[Finding]:
    """Where a hit misses the music, by how many milliseconds."""
    times = np.array([accent.time for accent in case.beatmap.accents])
    for shown in case.shown:
        beside = _beside(case, shown, times)
        if beside is not None:
            yield beside
        elif not (times.size and np.min(np.abs(times - shown.hit)) < case.thresholds.beside_accent):
            yield from _off_the_beat(case, shown)


def _beside(case: Case, shown: Shown, times: np.ndarray) -> Finding | None:
    if not times.size:
        return None
    accent = float(times[int(np.argmin(np.abs(times - shown.hit)))])
    off = shown.hit - accent
    if not case.thresholds.beside_accent <= abs(off) <= case.thresholds.near_accent:
        return None
    taken = any(abs(s.hit - accent) < case.thresholds.beside_accent for s in case.shown)
    if taken:
        return None
    return Finding.about(
        shown,
        "accent",
        Severity.HINT,
        f"it is hit {abs(off) * 1000:.0f} ms {'after' if off > 0 else 'before'} the accent",
        f"hit it at {place_of_accent(case.beatmap, accent)}",
        abs(off),
    )


def _off_the_beat(case: Case, shown: Shown) -> Iterator[Finding]:
    index = case.beatmap.beat_at(shown.hit)
    if index is None or not isinstance(shown.placed.hit, Seconds):
        return
    half = case.beatmap.interval(index) / 2
    steps = (shown.hit - case.beatmap.beats[index]) / half
    off = (steps - round(steps)) * half
    if abs(off) >= case.thresholds.off_beat:
        yield Finding.about(
            shown,
            "off the beat",
            Severity.WARNING,
            f"it is hit {abs(off) * 1000:.0f} ms {'after' if off > 0 else 'before'} "
            f"{case.place(shown.hit)}",
            f"hit it at {case.place(shown.hit)}",
            abs(off),
        )
