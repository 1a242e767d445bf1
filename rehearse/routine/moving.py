"""When each move of a routine is done: moves laid out in seconds, one after the other.

The moves of a transition follow each other from its start; what is left is the way into the pose.
The moves of the way off follow each other from the end of the last hold.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rehearse.music.beatmap import BeatMap
from rehearse.routine.model import Move, Placed, Routine

#: Less than this is no time, in seconds.
SAME = 1e-6


@dataclass(frozen=True)
class Timed:
    """A move and the seconds of the track it is done in, [start, end)."""

    move: Move
    start: float
    end: float


def chain(moves: Sequence[Move], start: float, beatmap: BeatMap) -> tuple[Timed, ...]:
    """The moves one after the other from `start` on, as long as each is written."""
    timed = []
    for move in moves:
        end = beatmap.shift(start, move.length)
        timed.append(Timed(move, start, end))
        start = end
    return tuple(timed)


def moves_before(
    placed: Placed, beatmap: BeatMap, times: tuple[float, float, float] | None = None
) -> tuple[Timed, ...]:
    """The moves of a transition, none past its hit; one with no time left is left out.

    Args:
        times: `placed.times(beatmap)` where they are known already.

    Raises:
        KeyError: the map has no such count.
    """
    start, hit, _ = times or placed.times(beatmap)
    timed = chain(placed.moves, start, beatmap)
    if not timed or timed[-1].end <= hit:
        return timed
    cut = (Timed(t.move, t.start, min(t.end, hit)) for t in timed)
    return tuple(t for t in cut if t.end - t.start > SAME)


def overrun(placed: Placed, beatmap: BeatMap) -> float:
    """Seconds by which the moves of a transition go on past its hit; 0 where they fit."""
    if not placed.moves:
        return 0.0
    start, hit, _ = placed.times(beatmap)
    return max(0.0, chain(placed.moves, start, beatmap)[-1].end - hit)


def way_off(routine: Routine, beatmap: BeatMap) -> tuple[Timed, ...]:
    """The moves after the last hold, none past the end of the music.

    Raises:
        KeyError: the map has no such count.
    """
    if not routine.exit or not routine.poses:
        return ()
    timed = chain(routine.exit, routine.poses[-1].times(beatmap)[2], beatmap)
    ends = beatmap.duration
    cut = (Timed(t.move, t.start, min(t.end, ends)) for t in timed)
    return tuple(t for t in cut if t.end - t.start > SAME)


def again_times(placed: Placed, beatmap: BeatMap) -> tuple[float, ...]:
    """Seconds at which the pose is hit once more; what lies outside its hold is left out.

    Raises:
        KeyError: the map has no count where the pose is hit.
    """
    _, hit, end = placed.times(beatmap)
    return tuple(t for t in _known(placed, beatmap) if hit + SAME < t < end - SAME)


def _known(placed: Placed, beatmap: BeatMap) -> Iterator[float]:
    for position in placed.again:
        try:
            yield beatmap.time_of(position)
        except KeyError:
            continue
