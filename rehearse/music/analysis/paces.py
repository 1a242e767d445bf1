"""Counts keep to one octave of tempo all through a song.

The path that the bar-pointer model likes best may go from a tempo to twice or half of it within a
song, where one part is busier than another; nobody counts so. Where it does, the model is asked
for its best paths that stay in one octave, and they are compared with it by their score per count,
less a cost of changing, and less what their tempo is away from the one that people tap most
readily: the resonance near two a second of van Noorden & Moelants, "Resonance in the perception of
musical pulse" (Journal of New Music Research 28, 1999; from memory), taken as a parabola over
octaves. Both costs were chosen on scores that the network had never heard
(`resources/beat_network/card.md`); between half and one and a half of them it makes little
difference.
"""

from __future__ import annotations

import numpy as np

from rehearse.music.analysis.barpointer import FASTEST, SLOWEST
from rehearse.music.analysis.beatpath import Beats, Times, even_steps, follow_at, on_grid

#: Fewest counts of which a pace can be told.
FEWEST = 12
#: The tempo tapped most readily, counts a minute; scores per count that an octave from it, squared,
#: and that a change of octave within the song cost.
READILY, AWAY, CHANGE = 120.0, 0.7, 1.0
# How far (natural logarithm) a count may be from the length asked for; how far from the usual one,
# in octaves, before it is taken to be in another.
_REACH, _OTHER = 0.13, 0.75


def in_one_octave(found: Beats) -> Beats:
    """The best path, or a likelier one that keeps to one octave of tempo.

    Args:
        found: the best path of the bar-pointer model.
    """
    even = even_pace(found)
    if even is None:
        return found
    ways, count = [found], len(found.times)
    for ratio in (1.0, 2.0, 0.5):
        wanted = even * ratio
        if 0.95 * SLOWEST < 60.0 / float(np.median(wanted)) < 1.02 * FASTEST:
            way = follow_at(found.activation, wanted, _REACH)
            if way is not None and len(way.times) >= FEWEST:
                ways.append(way)
    scores = [way.score / count - away(way) for way in ways]
    scores[0] -= CHANGE
    return ways[int(np.argmax(scores))]


def away(beats: Beats) -> float:
    """What their tempo takes off their score per count."""
    tempo = 60.0 / float(np.median(np.diff(beats.times)))
    return AWAY * float(np.log2(tempo / READILY)) ** 2


def even_pace(beats: Beats) -> Times | None:
    """Seconds from count to count at every frame of the decoder's grid, brought into one octave.

    None where they are in one, or where there are too few counts to tell. A player who slows down
    at the end stays in it.
    """
    if len(beats.times) < FEWEST:
        return None
    steps = np.log2(even_steps(beats))
    octaves = np.zeros(len(steps))
    for k in range(1, len(steps)):
        off = steps[k] - np.median(steps) - octaves[k - 1]
        octaves[k] = octaves[k - 1] + (np.round(off) if abs(off) > _OTHER else 0.0)
    if not np.ptp(octaves):
        return None
    # The octave in which most of the song lies.
    lasting = [(float(np.sum(2.0 ** steps[octaves == o])), o) for o in set(octaves.tolist())]
    return on_grid(beats, 2.0 ** (steps - octaves + max(lasting)[1]), len(beats.activation.beat))
