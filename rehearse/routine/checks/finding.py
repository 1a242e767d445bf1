"""One thing to say about a routine, and many of one kind told as a few."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import StrEnum

from rehearse.routine.timed_pose import TimedPose
from rehearse.words import DECIMAL


class Severity(StrEnum):
    """How much a finding matters."""

    FAULT = "fault"  #: against the rules, or it cannot be done
    WARNING = "warning"  #: it will cost something on stage
    HINT = "hint"  #: worth a thought

    @property
    def rank(self) -> int:
        """0 for the worst."""
        return list(Severity).index(self)


@dataclass(frozen=True)
class Finding:
    """One thing to say: what kind, how much it matters, where, why, and what to do.

    Args:
        kind: name of the check ("length", "hold", …), stable for scripts.
        severity: see `Severity`.
        why: a clause without a full stop.
        do: what to do, in the imperative; may be empty.
        place: position as written ("3:5", "12.40 s"), empty when it concerns the whole.
        time: seconds of the track; -1 when it concerns the whole.
        pose_id, pose: the placed pose it concerns, or empty.
        amount: how far off it is, in seconds; 0 where that says nothing.
    """

    kind: str
    severity: Severity
    why: str
    do: str = ""
    place: str = ""
    time: float = -1.0
    pose_id: str = ""
    pose: str = ""
    amount: float = 0.0

    @property
    def sentence(self) -> str:
        """All of it as one sentence."""
        where = " ".join(part for part in (self.place, self.pose) if part)
        head = f"{where}: {self.why}" if where else self.why[:1].upper() + self.why[1:]
        return f"{head} – {self.do}." if self.do else f"{head}."

    @staticmethod
    def about(
        timed_pose: TimedPose,
        kind: str,
        severity: Severity,
        why: str,
        do: str = "",
        amount: float = 0.0,
    ) -> Finding:
        """A finding about one pose."""
        placed, name = timed_pose.placed, timed_pose.pose.name
        return Finding(
            kind, severity, why, do, str(placed.hit), timed_pose.hit, placed.id, name, amount
        )


def seconds(value: float, than: float = 0.0) -> str:
    """Seconds with one digit, or with as many as tell them from `than`: a reason must show."""
    for digits in (1, 2, 3):
        text = f"{value:.{digits}f}"
        if float(text) != round(than, digits):
            break
    return text.replace(".", DECIMAL)


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
