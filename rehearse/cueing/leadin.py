"""The counts that lead to a hit: to one on 3:5 "1, 2, 3, 4", the hit on the beat that follows.

They are the music's own, as the stage display shows them and as a dancer counts; a cue track may
instead have "5, 6, 7, 8" before every hit.

Where nothing beats before the hit (free time) the last three seconds are counted down instead.
Between counts more than 1.5 s apart "and" is said too (Repp 2005, see `clicks`).
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Literal

from rehearse.cueing.clicks import SLOW_BEAT
from rehearse.music.beatmap import BeatMap

#: "eights": the counts as they stand in the eight; "in": always 5, 6, 7, 8 before a hit.
Counting = Literal["in", "eights"]
COUNTS_BEFORE = 4
_SECONDS_BEFORE = 3
_SAME = 1e-6


@dataclass(frozen=True)
class LeadInCount:
    """A count in the music: seconds of the track and what is said on it."""

    time: float
    label: str


def lead_in(
    beatmap: BeatMap, hit: float, after: float, tempo: float, counting: Counting = "eights"
) -> tuple[LeadInCount, ...]:
    """The counts that lead to `hit`, in order, each with what is said.

    Args:
        hit: seconds of the track.
        after: nothing is counted at or before this time (the hit before, or the pass's start).
        tempo: of the pass; decides where "and" is needed.
    """
    counted = _beats(beatmap, hit, counting) or _seconds(hit)
    kept = [c for c in counted if c.time > after + _SAME]
    result: list[LeadInCount] = []
    for this, following in itertools.pairwise([*kept, LeadInCount(hit, "")]):
        result.append(this)
        if (following.time - this.time) / tempo > SLOW_BEAT:
            result.append(LeadInCount((this.time + following.time) / 2, "and"))
    return tuple(result)


def _beats(beatmap: BeatMap, hit: float, counting: Counting) -> list[LeadInCount]:
    phase = beatmap.phase_at(hit)
    if phase is None:
        return []
    # A hit a rounding error after its beat is on that beat.
    last = math.ceil(phase - 1e-3) - 1
    first = next(f for f, n in beatmap.runs if f <= int(phase) < n)
    chosen = range(max(first, last - COUNTS_BEFORE + 1), last + 1)
    return [
        LeadInCount(
            beatmap.beats[k],
            str(beatmap.counts[k].count) if counting == "eights" else str(8 - (last - k)),
        )
        for k in chosen
    ]


def _seconds(hit: float) -> list[LeadInCount]:
    return [LeadInCount(hit - k, str(k)) for k in range(_SECONDS_BEFORE, 0, -1)]
