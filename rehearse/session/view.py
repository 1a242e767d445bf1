"""What is going on in a rehearsal right now, for whoever shows it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from rehearse.cueing.clicks import count_length
from rehearse.cueing.cues import CueSheet, Moment
from rehearse.practice.passes import Verdict
from rehearse.practice.passplan import PassPlan

State = Literal["idle", "count-in", "music", "rest", "paused", "over"]


@dataclass(frozen=True)
class View:
    """One look at the rehearsal.

    Args:
        state: "idle" before anything was started, "over" when all is done or stopped.
        moment: what the music is doing and which pose comes; None while nothing is open.
        plan: the pass in progress, or the next one.
        rest: seconds of rest left.
        verdict: the verdict taken for the pass in progress, or in rest and count-in for the last.
        asks: "where did it break?" waits for an answer.
        heard: second of the track that is heard now.
        sentence: why the sound stopped, if it did; empty otherwise.
    """

    state: State = "idle"
    moment: Moment | None = None
    plan: PassPlan | None = None
    rest: float = 0.0
    verdict: Verdict | None = None
    asks: bool = False
    heard: float = 0.0
    sentence: str = ""


def lead_moment(sheet: CueSheet, plan: PassPlan, elapsed: float) -> Moment:
    """The moment `elapsed` (< 0) seconds of output before the music of a pass begins."""
    interval = count_length(sheet.beatmap, plan.start)
    left = -elapsed * plan.tempo / interval
    moment = sheet.before(plan.start, left, interval)
    # Before the count-in itself something may be announced: no count is shown then.
    return moment if math.ceil(left - 0.02) <= plan.count_in else replace(moment, count_in="")
