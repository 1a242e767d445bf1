"""One time through a stretch of the routine, as it is kept for good.

Conventions: `start`, `end`, `reached` and `broke_at` are seconds of the decoded track; tempo is a
share of the music's own, 0.4..1.05. Ids are those of the routine's poses and sections and never
change; the names beside them are the names at the time of the pass, so that a pose or section
renamed or taken out later keeps its history.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

#: `drill`: a stretch of the routine; `run`: the whole of it.
Kind = Literal["drill", "run"]
#: What the athlete was shown and told: everything, names only on the hit, counts only, nothing.
Cueing = Literal["all", "names", "counts", "memory"]
Effort = Literal["full out", "marked"]
Verdict = Literal["clean", "missed"]

#: From this tempo on a pass counts as one at full tempo (0.995: room for rounding only).
FULL_TEMPO = 0.995


def new_pass_id() -> str:
    """A name for a pass, given before it is written so that writing twice keeps it once."""
    return secrets.token_hex(8)


@dataclass(frozen=True)
class PoseTaken:
    """One pose that a pass took in, from the start of its transition to the end of its hold.

    Args:
        pose, name: id and name of the placed pose.
        start, end: seconds of the track; `start` lies at the hit where the way in was left out.
        origin: id of the pose travelled from, "" for the way onto the stage, None where the pass
            began only at the hit.
        origin_name: its name at the time.
    """

    pose: str
    name: str
    start: float
    end: float
    origin: str | None = None
    origin_name: str = ""


@dataclass(frozen=True)
class Pass:
    """One pass, complete or broken off.

    Args:
        section: id of the section drilled; None for transitions, marked stretches and runs.
        transition: id of the pose arrived at when a single transition was drilled.
        started, ended: aware datetimes; `started` is the start of the music, not of the count-in.
        complete: False when it was broken off, at `reached`.
        verdict: None until judged; unjudged passes count as done, not as clean.
        broke_at: where the routine broke, when the athlete said so.
        dry_run: rendered without an athlete; listed, never counted as practice.
        taken: the poses it took in, in order, up to where it was broken off.
        plan, line: key of the day's plan it belongs to and id of its line, "" outside a plan.
    """

    kind: Kind
    start: float
    end: float
    started: datetime
    ended: datetime
    tempo: float = 1.0
    section: str | None = None
    section_name: str = ""
    transition: str | None = None
    transition_name: str = ""
    cueing: Cueing = "all"
    effort: Effort = "full out"
    complete: bool = True
    reached: float | None = None
    verdict: Verdict | None = None
    broke_at: float | None = None
    dry_run: bool = False
    taken: tuple[PoseTaken, ...] = ()
    plan: str = ""
    line: str = ""
    id: str = field(default_factory=new_pass_id)

    def __post_init__(self) -> None:
        if self.started.tzinfo is None or self.ended.tzinfo is None:
            raise ValueError("a pass needs aware datetimes")

    @property
    def what(self) -> str:
        """The stretch in words, as the logbook shows it."""
        if self.kind == "run":
            return "whole routine"
        return self.section_name or self.transition_name or "marked stretch"


@dataclass(frozen=True)
class Share:
    """What one pass says of one pose: `judged` 0..1 of a judgement, `clean` of it 0..1."""

    judged: float
    clean: float


def shares(
    taken: Sequence[PoseTaken], verdict: Verdict | None, broke_at: float | None
) -> tuple[Share, ...]:
    """What a verdict on the whole pass says of each pose in it.

    A clean pass is clean in every pose. Of a miss whose place is known, that pose is missed, those
    before it were clean, and nothing is known of those after it. A miss whose place is not known
    is shared out evenly: of n poses each gets 1/n of a miss.
    """
    if verdict is None or not taken:
        return tuple(Share(0.0, 0.0) for _ in taken)
    if verdict == "clean":
        return tuple(Share(1.0, 1.0) for _ in taken)
    if broke_at is None:
        return tuple(Share(1.0 / len(taken), 0.0) for _ in taken)
    broken = min(range(len(taken)), key=lambda k: (_distance(taken[k], broke_at), -k))
    before, after = Share(1.0, 1.0), Share(0.0, 0.0)
    rest = len(taken) - broken - 1
    return (*(before,) * broken, Share(1.0, 0.0), *(after,) * rest)


def _distance(pose: PoseTaken, time: float) -> float:
    return max(pose.start - time, time - pose.end, 0.0)
