"""Many findings of one kind told as a few: those that matter first, the rest as one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from rehearse.routine.checks.finding import Finding, Severity

#: So many of one kind are told one by one.
FEW = 4

Kind = tuple[Severity, str]


@dataclass(frozen=True)
class Rest:
    """Findings of one kind and severity that are left after the first few, by time."""

    severity: Severity
    kind: str
    findings: tuple[Finding, ...]

    @property
    def places(self) -> str:
        """Where they are, in one line."""
        return ", ".join(f.place for f in self.findings if f.place)


def grouped(
    findings: Sequence[Finding], opened: Collection[Kind] = ()
) -> tuple[Finding | Rest, ...]:
    """Findings in their order; of a kind with more than a few only the ones farthest off.

    What is left of a kind follows the last finding of its severity, as one.

    Args:
        findings: the worst severity first. opened: kinds that are told one by one all the same.
    """
    kinds: dict[Kind, list[Finding]] = defaultdict(list)
    for finding in findings:
        kinds[finding.severity, finding.kind].append(finding)
    rests = {}
    for kind, members in kinds.items():
        if len(members) > FEW + 1 and kind not in opened:
            first = sorted(members, key=lambda f: -f.amount)[:FEW]
            rest = tuple(f for f in members if f not in first)
            rests[kind] = Rest(*kind, rest)
    told: list[Finding | Rest] = []
    for severity in Severity:
        left = {f for kind, rest in rests.items() if kind[0] is severity for f in rest.findings}
        told += [f for f in findings if f.severity is severity and f not in left]
        told += [rest for kind, rest in rests.items() if kind[0] is severity]
    return tuple(told)
