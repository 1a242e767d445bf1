"""Clicks and the count-in: the counts that lead to the start, the last one beat before it.

They are the music's own, as a dancer counts: "5, 6, 7, 8" to a 1, "1, 2, 3, 4" to a 5.

The count-in scales with the tempo, as a choreographer would count it (common practice, no
source). Where beats are more than 1.5 s apart the "&" sounds too: beyond about 1.5–2 s people
lose the beat (Repp 2005, Psychonomic Bulletin & Review 12, 969–992).
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

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
