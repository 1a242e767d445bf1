"""One thing to say about a routine."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rehearse.routine.timed_pose import TimedPose


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
    return text
