"""Clicks, the count-in of a pass, and the counts that lead to a hit inside it.

They are the music's own, as a dancer counts: "5, 6, 7, 8" to a 1, "1, 2, 3, 4" to a 5; a cue track
may have "5, 6, 7, 8" before every hit instead. A count-in scales with the tempo, as a
choreographer would count it (common practice, no source). Where nothing beats before a hit (free
time) the last three seconds are counted down. Between counts more than 1.5 s apart the "&" sounds
too: beyond about 1.5–2 s people lose the beat (Repp 2005, Psychonomic Bulletin & Review 12,
969–992).
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from rehearse.music.beatmap import BeatMap

if TYPE_CHECKING:
    from rehearse.music.track import Samples

SLOW_BEAT = 1.5
_FREE_TIME_COUNT = 1.0


@dataclass(frozen=True)
class CountInBeat:
    """A count heard before the start: seconds of output relative to it (< 0) and what is said."""

    at: float
    label: str


def count_length(beatmap: BeatMap, start: float) -> float:
    """Seconds of one count at full tempo for a count-in to `start`.

    The beat that follows the start, or else the one before it; one second in free time.
    """
    for time in (start, start + 0.02, start - 0.02):
        beat = beatmap.beat_at(time)
        if beat is not None:
            return beatmap.interval(beat)
    return _FREE_TIME_COUNT


def count_before(beatmap: BeatMap, start: float, back: int) -> int:
    """The count heard `back` (≥ 1) counts before `start`; in free time 8 is the last.

    Counted back from the beat at the start, or from the first one behind it.
    """
    phase = beatmap.phase_at(start + 0.02)
    if phase is None:
        return (8 - back) % 8 + 1
    beat = beatmap.counts[min(math.ceil(phase - 0.05), len(beatmap.counts) - 1)]
    return (beat.count - 1 - back) % 8 + 1


def count_in(
    beatmap: BeatMap, start: float, tempo: float = 1.0, counts: int = 4
) -> tuple[CountInBeat, ...]:
    """The counts before a pass that begins at `start` and plays at `tempo`.

    Args:
        start: seconds of the track.
        tempo: 0.4–1.05 of the music's own.
        counts: how many, 0–8.
    """
    step = count_length(beatmap, start) / tempo
    heard: list[CountInBeat] = []
    for k in range(counts, 0, -1):
        heard.append(CountInBeat(-k * step, str(count_before(beatmap, start, k))))
        if step > SLOW_BEAT:
            heard.append(CountInBeat(-(k - 0.5) * step, "&"))
    return tuple(heard)


@functools.lru_cache(maxsize=16)
def click(sample_rate: int, *, strong: bool = False, soft: bool = False) -> Samples:
    """One click, shape (n,): a 45 ms sine burst, 1760 Hz when strong, 1320 Hz otherwise.

    Starts at full level within 1 ms, so its onset is the beat itself; `soft` is 10 dB lower.
    """
    import numpy as np  # the cues are shown before there is a need for it

    length = int(0.045 * sample_rate)
    time = np.arange(length) / sample_rate
    tone = np.sin(2 * np.pi * (1760.0 if strong else 1320.0) * time)
    shape = np.minimum(1.0, time / 0.001) * np.exp(-time / 0.009)
    tail = length // 8
    shape[-tail:] *= np.linspace(1.0, 0.0, tail)
    level = 0.5 if not soft else 0.16
    made = np.asarray(level * tone * shape, np.float32)
    made.setflags(write=False)  # everyone who asks for it gets the same
    return made


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
