"""Poses the rules ask for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.poses import plain


def check(case: Case) -> Iterator[Finding]:
    """Required poses that are missing, and mandatory ones the routine does not show."""
    names = [plain(s.pose.name) for s in case.shown]
    for name in _missing(case.rules.required, names):
        yield Finding(
            "required",
            Severity.FAULT,
            f"{case.rules.name} requires {name}, the routine has none",
            f"put one in, or {case.rules.note}",
        )
    if missing := _missing(case.rules.mandatory, names):
        yield Finding(
            "mandatory",
            Severity.WARNING,
            f"of the mandatory poses of {case.rules.name} the routine does not show "
            f"{', '.join(missing)}",
            f"show them if they are strong, and {case.rules.note}",
        )


def _missing(wanted: Iterable[str], names: list[str]) -> list[str]:
    # A family ("side chest") is shown by any of its sides.
    return [w for w in wanted if not any(n.startswith(plain(w)) for n in names)]
