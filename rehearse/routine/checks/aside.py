"""What lost its music when the song was cut."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.follow import names_aside


def check_aside(case: Case) -> Iterator[Finding]:
    """One hint for all that is set aside."""
    names = names_aside(case.routine.aside)
    if not names:
        return
    yield Finding(
        "aside",
        Severity.HINT,
        f"without music in this cut, set aside: {names}",
        "they come back when their part of the song does: cut it otherwise",
    )
