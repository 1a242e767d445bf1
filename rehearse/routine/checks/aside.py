"""What lost its music when the song was cut."""

from __future__ import annotations

from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity

#: Names told one by one; the rest are counted.
_TOLD = 5


def check_aside(case: Case) -> Iterator[Finding]:
    """One hint for all that is set aside."""
    aside = case.routine.aside
    names = [f"{p.pose} (song {p.hit})" for p in aside.poses]
    names += [f"section {s.name}" for s in aside.sections]
    if not names:
        return
    more = f" and {len(names) - _TOLD} more" if len(names) > _TOLD else ""
    yield Finding(
        "aside",
        Severity.HINT,
        f"without music in this cut, set aside: {', '.join(names[:_TOLD])}{more}",
        "they come back when their part of the song does: cut it otherwise",
    )
