"""One thing to say about a routine."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rehearse.routine.shown import Shown


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
    """

    kind: str
    severity: Severity
    why: str
    do: str = ""
    place: str = ""
    time: float = -1.0
    pose_id: str = ""
    pose: str = ""

    @property
    def sentence(self) -> str:
        """All of it as one sentence."""
        where = " ".join(part for part in (self.place, self.pose) if part)
        head = f"{where}: {self.why}" if where else self.why[:1].upper() + self.why[1:]
        return f"{head} – {self.do}." if self.do else f"{head}."

    @staticmethod
    def about(shown: Shown, kind: str, severity: Severity, why: str, do: str = "") -> Finding:
        """A finding about one pose."""
        placed = shown.placed
        return Finding(
            kind, severity, why, do, str(placed.hit), shown.hit, placed.id, shown.pose.name
        )
