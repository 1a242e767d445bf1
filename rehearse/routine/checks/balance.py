"""The balance of front, sides and back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from rehearse.routine.checks.case import Case
from rehearse.routine.checks.finding import Finding, Severity
from rehearse.routine.model import Facing

#: What the judges see of each facing; three quarters of the front still show the front.
_SIDES = {facing: facing.split()[-1] for facing in Facing}


def check(case: Case) -> Iterator[Finding]:
    """A side that is never shown, or one that is shown nearly always (common practice)."""
    total = len(case.timed_poses)
    if total < case.thresholds.balance_from:
        return
    shares = Counter(_SIDES[s.facing] for s in case.timed_poses)
    for side in ("front", "side", "back"):
        count = shares[side]
        if count == 0:
            yield Finding(
                "balance",
                Severity.WARNING,
                f"none of the {total} poses shows the {side}",
                f"add a {side} pose",
            )
        elif count > case.thresholds.one_facing * total:
            yield Finding(
                "balance",
                Severity.HINT,
                f"{count} of {total} poses show the {side}",
                "turn one of them, or swap one for another side",
            )
