"""The counts in eights as a choreographer writes them: one line an eight, marks on its counts."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from rehearse.cueing.cue_state import Cue
from rehearse.cueing.cues import CueSheet
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import QUARTERS, Count

Mark = Literal["", "transition", "hit", "hold"]
_SAME = 1e-6


@dataclass(frozen=True)
class Cell:
    """One count of an eight.

    Args:
        time: seconds of the track.
        label: "5", or "5&" when the hit falls between counts.
        mark: what the body does on it. pose: number of the pose hit here, 0 for none.
        accent: the music has an accent on it. quiet: the music is quiet.
        begins: a move begins on it, or the pose is hit again.
    """

    time: float
    label: str
    mark: Mark = ""
    pose: int = 0
    accent: bool = False
    quiet: bool = False
    begins: bool = False


@dataclass(frozen=True)
class Eight:
    """One eight: its number and eight cells, None where the music has no such count."""

    number: int
    cells: tuple[Cell | None, ...]


def eights(sheet: CueSheet, start: float, end: float, cues: Sequence[Cue]) -> tuple[Eight, ...]:
    """The eights that sound in [start, end] seconds of the track, with the marks of `cues`."""
    beatmap = sheet.beatmap
    rows: dict[int, list[Cell | None]] = {}
    for index, time in enumerate(beatmap.beats):
        if not start - _SAME <= time <= end + _SAME:
            continue
        count = beatmap.counts[index]
        row = rows.setdefault(count.eight, [None] * 8)
        row[count.count - 1] = _cell(beatmap, index, count, cues)
    return tuple(Eight(number, tuple(cells)) for number, cells in sorted(rows.items()))


def cue_eights(sheet: CueSheet, cue: Cue) -> tuple[Eight, ...]:
    """The whole eights touched by one pose, from its transition to the end of its hold."""
    beatmap = sheet.beatmap
    # A transition or hold may begin or end between counts: take in the counts it stands on.
    first = beatmap.beat_at(cue.start)
    begin = beatmap.beats[first] if first is not None else cue.start
    inside = [
        c.eight
        for t, c in zip(beatmap.beats, beatmap.counts, strict=True)
        if begin - _SAME <= t < max(cue.end, cue.hit + _SAME)
    ]
    if not inside:
        return ()
    times = [
        t
        for t, c in zip(beatmap.beats, beatmap.counts, strict=True)
        if inside[0] <= c.eight <= inside[-1]
    ]
    # What sounds before or behind the stage music is not the athlete's concern.
    return eights(sheet, max(times[0], sheet.start), min(times[-1], sheet.end), [cue])


def _cell(beatmap: BeatMap, index: int, count: Count, cues: Sequence[Cue]) -> Cell:
    time = beatmap.beats[index]
    after = time + beatmap.interval(index)
    mark: Mark = ""
    pose, begins = 0, False
    label = str(count.count)
    k = bisect_right([c.start for c in cues], after - 0.001)
    for cue in cues[max(0, k - 3) : k]:
        starts = (*(move.start for move in cue.moves), *cue.again)
        begins = begins or any(time - 0.001 <= t < after - 0.001 for t in starts)
        if time - 0.001 <= cue.hit < after - 0.001:
            quarter = round(4 * (cue.hit - time) / (after - time))
            label, mark, pose = label + QUARTERS[min(3, max(0, quarter))], "hit", cue.index + 1
        elif mark == "hit":
            continue
        elif cue.hit < time < cue.end - 0.001:
            mark = "hold"
        elif cue.start < after - 0.001 and time < cue.hit:
            mark = "transition"
    near = (after - time) / 4
    accent = any(time - near <= a.time < after - near for a in beatmap.marked)
    quiet = any(time in stretch for stretch in beatmap.quiets)
    return Cell(time, label, mark, pose, accent, quiet, begins)
