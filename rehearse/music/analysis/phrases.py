"""Where eights begin: with the music's phrases, which are four and eight bars long.

Counting from the first bar would be right if every song began with its first phrase. Many have a
bar or three before it. So all bars of a run vote: a bar on which a part begins, or a strong hit
falls, would rather be the first of an eight. Only a clear vote moves the eights; then the bars
before the first phrase are an eight of their own, shorter than the others.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

from rehearse.music.beatmap import STRONG, BeatMap

#: What a part's start is worth against a hit of full strength; votes that are needed, and by how
#: many times they must outweigh those for the first bar.
PART, FEWEST, CLEAR = 2.0, 4.0, 2.5
_ON, _NEAR = 0.06, 0.5


def phrase_starts(beatmap: BeatMap) -> tuple[float, ...]:
    """Beats on which eights must restart so that they begin where phrases do."""
    found = []
    for first, last in beatmap.runs:
        ones = [k for k in range(first, last) if beatmap.places[k] == 1]
        bar = max(beatmap.places[first:last])
        every = {2: 4, 3: 2, 4: 2}.get(bar, 0)
        if not every or len(ones) < 2 * every:
            continue
        votes = [0.0] * every
        for number, index in enumerate(ones):
            votes[number % every] += _vote(beatmap, index)
        best = max(range(every), key=votes.__getitem__)
        if best and votes[best] >= max(FEWEST, CLEAR * votes[0]):
            found.append(beatmap.beats[ones[best]])
    return tuple(found)


def _vote(beatmap: BeatMap, index: int) -> float:
    """How much the music begins on a beat."""
    time, step = beatmap.beats[index], beatmap.interval(index)
    parts = [part.start for part in beatmap.parts[1:]]
    vote = PART if _has(parts, time, _NEAR * step) else 0.0
    strong = [a.time for a in beatmap.accents if a.strength >= STRONG]
    return vote + (1.0 if _has(strong, time, _ON) else 0.0)


def _has(times: Sequence[float], time: float, reach: float) -> bool:
    at = bisect_left(times, time - reach)
    return at < len(times) and times[at] <= time + reach
