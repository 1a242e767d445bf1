"""Taking beats that were found again into a map: as few as needed, on from where they agree."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

import numpy as np

from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.correct import take_beats
from rehearse.music.position import Length

#: Beats of map and find closer than this are the same; this many in a row are agreement.
SAME, IN_A_ROW = 0.025, 4
#: Steps, in beats of the map, from which they are closer to its half, double, or to no tempo.
_CLOSE, _FAR, _GAP = 2**-0.5, 2**0.5, 2.9

Row = tuple[float, int, float]


def splice_around(beatmap: BeatMap, found: Sequence[Row], pin: float, within: Stretch) -> BeatMap:
    """The map with the beats found around `pin`, as far as map and find disagree.

    From the pin outward the map is replaced until `IN_A_ROW` beats stand where they stood, or to
    the ends of `within`. Of a tempo, its half and its double the one closest to the map's own is
    taken: songs change their tempo more often than they halve it.
    """
    found = _octave(found, beatmap, pin)
    times = np.asarray([row[0] for row in found])
    inside = (times >= within.start) & (times < within.end)
    rows = [row for row, keep in zip(found, inside.tolist(), strict=True) if keep]
    same = [_stands(beatmap, row[0]) for row in rows]
    at = min(int(np.searchsorted([row[0] for row in rows], pin - SAME)), max(0, len(rows) - 1))
    first, last = _disagreement(same, at)
    # Between a beat that stays and one that moves, so that no beat stands twice.
    start = within.start if first == 0 else (rows[first - 1][0] + rows[first][0]) / 2
    end = within.end if last >= len(rows) else (rows[last - 1][0] + rows[last][0]) / 2
    return splice(beatmap, found, Stretch(start, end))


def splice(beatmap: BeatMap, found: Sequence[Row], stretch: Stretch) -> BeatMap:
    """The map with the beats of `stretch` as found; bars count on from the beat before."""
    rows = _between(found, beatmap, stretch)
    before = int(np.searchsorted(beatmap.times, stretch.start)) - 1
    places = [row[1] for row in rows]
    if rows and before >= 0:
        gap = rows[0][0] - beatmap.beats[before]
        if gap < 1.6 * beatmap.interval(before):
            bar = max(beatmap.places)
            places = [(beatmap.places[before] + k) % bar + 1 for k in range(len(rows))]
    return take_beats(beatmap, stretch, [row[0] for row in rows], places)


def _between(found: Sequence[Row], beatmap: BeatMap, stretch: Stretch) -> list[Row]:
    """The rows of `stretch`, at its ends so that no beat stands twice and none is missing.

    A beat kept outside takes the place of a row less than half a step from it; a row that lies
    less than half a step outside fills the gap to the beat kept there.
    """
    inside = [row[0] for row in found if row[0] in stretch]
    if len(inside) < 2:
        return [row for row in found if row[0] in stretch]
    close = 0.5 * float(np.median(np.diff(inside)))
    kept = [*beatmap.beats[: bisect_left(beatmap.beats, stretch.start)][-1:]]
    kept += beatmap.beats[bisect_left(beatmap.beats, stretch.end) :][:1]
    return [
        row
        for row in found
        if stretch.start - close < row[0] < stretch.end + close
        and all(abs(row[0] - time) >= close for time in kept)
    ]


def _octave(found: Sequence[Row], beatmap: BeatMap, pin: float) -> list[Row]:
    """The rows, one more in the middle or every second left out where that is closer to the map."""
    at = min(range(len(found)), key=lambda k: abs(found[k][0] - pin), default=0)
    back = _walk(found[at::-1], beatmap)
    return [*reversed(back[1:]), *_walk(found[at:], beatmap)]


def _walk(rows: Sequence[Row], beatmap: BeatMap) -> list[Row]:
    result = list(rows[:1])
    for row in rows[1:]:
        last = result[-1]
        gap = abs(row[0] - last[0])
        step = beatmap.shift(last[0], Length(1)) - last[0]
        if gap < step * _CLOSE:
            continue
        if _FAR * step < gap < _GAP * step:
            result.append(((last[0] + row[0]) / 2, last[1], min(last[2], row[2])))
        result.append(row)
    return result


def _stands(beatmap: BeatMap, time: float) -> bool:
    return bool(len(beatmap.beats)) and float(np.abs(beatmap.times - time).min()) <= SAME


def _disagreement(same: Sequence[bool], at: int) -> tuple[int, int]:
    """Indices [first, last) around `at` up to the nearest agreement on either side."""
    first = at
    while first > 0 and not all(same[max(0, first - IN_A_ROW) : first]):
        first -= 1
    last = min(at + 1, len(same))
    while last < len(same) and not all(same[last : last + IN_A_ROW]):
        last += 1
    return first, last
