"""Poses shown more than once."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.shown import Shown


def check(case: Case) -> Iterator[Finding]:
    """The second showing of a pose, with the place of the first."""
    first: dict[tuple[str, str, str], Shown] = {}
    for shown in case.shown:
        key = (shown.pose.name, shown.facing, shown.level)
        if key in first:
            yield Finding.about(
                shown,
                "repeat",
                Severity.HINT,
                f"it was already shown at {first[key].placed.hit}",
                "show another one, or let it come back on purpose",
            )
        else:
            first[key] = shown
