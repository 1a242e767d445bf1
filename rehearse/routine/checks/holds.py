"""Holds too short to read."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity


def check(case: Case) -> Iterator[Finding]:
    """Fewer than two seconds do not read from the judges' table (common practice)."""
    shortest = case.thresholds.shortest_hold
    for shown in case.shown:
        held = shown.end - shown.hit
        if held < shortest - 1e-6:
            more = case.counts_for(shown.end, shortest - held)
            yield Finding.about(
                shown,
                "hold",
                Severity.WARNING,
                f"held {held:.1f} s, less than {shortest:g} s does not read",
                f"hold it {more} longer",
            )
