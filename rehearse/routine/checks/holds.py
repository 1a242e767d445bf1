"""Holds too short to read."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity, seconds
from rehearse.routine.checks.transitions import SLACK, wanted_between


def check(case: Case) -> Iterator[Finding]:
    """Fewer than two seconds do not read from the judges' table (common practice)."""
    shortest = case.thresholds.shortest_hold
    for index, shown in enumerate(case.shown):
        held = shown.end - shown.hit
        if held < shortest - SLACK:
            yield Finding.about(
                shown,
                "hold",
                Severity.WARNING,
                f"held {seconds(held, shortest)} s, less than {shortest:g} s does not read",
                _what_to_do(case, index, shortest - held),
                shortest - held,
            )


def _what_to_do(case: Case, index: int, missing: float) -> str:
    """Hold it longer, where that takes nothing from the next pose that it needs."""
    shown = case.shown[index]
    longer = f"hold it {case.counts_for(shown.end, missing)} longer"
    if index + 1 == len(case.shown):
        return longer
    after = case.shown[index + 1]
    room = after.start - shown.end
    spare = after.hit - after.start - wanted_between(shown, after, case.thresholds)
    if missing <= room + SLACK:
        return longer
    if missing <= max(0.0, room) + spare + SLACK:
        return f"{longer} and begin the transition to {after.pose.name} later"
    return f"hit {after.pose.name} later, or take one of the two out"
