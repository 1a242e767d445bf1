"""Plain beat lists, as the open beat-tracking data sets use them: `time<TAB>place in the bar`.

A list without places (time only) is read as well; its places are counted in fours from 1.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from rehearse.files.atomic import fault_of, save_atomic
from rehearse.files.fault import Fault, Faults
from rehearse.music import maprows
from rehearse.music.beatmap import SAME_PLACE, BeatMap, Confidence


def export_beats(path: Path, beatmap: BeatMap) -> None:
    """Write the beats of `beatmap`, one a line, seconds with six decimals.

    Raises:
        Fault: the disk is full or refuses.
    """
    rows = zip(beatmap.beats, beatmap.places, strict=True)
    save_atomic(path, "".join(f"{time:.6f}\t{place}\n" for time, place in rows).encode())


def import_beats(path: Path, beatmap: BeatMap) -> BeatMap:
    """`beatmap` with its beats replaced by those of a plain list; free time they fill is lifted.

    Blank lines and lines that begin with `#` are skipped.

    Raises:
        Fault: unreadable, or no beat in it.
        Faults: every row that is wrong, with its line.
    """
    rows = _read(path, beatmap.duration)
    times = tuple(time for time, _ in rows)
    places = tuple(place or 1 + k % 4 for k, (_, place) in enumerate(rows))
    array = np.asarray(times)
    free = tuple(s for s in beatmap.free if not ((array >= s.start) & (array < s.end)).any())
    restarts = tuple(t for t in beatmap.restarts if abs(array - t).min() <= SAME_PLACE)
    return replace(
        beatmap,
        beats=times,
        places=places,
        free=free,
        restarts=restarts,
        confidence=(Confidence(0.0, beatmap.duration, 1.0),),
    )


def _read(path: Path, duration: float) -> list[tuple[float, int]]:
    try:
        text = path.read_text("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Fault("is not a beat list", where=path.name, do="choose a text file") from error
    except OSError as error:
        raise fault_of(error, path) from error
    faults, rows = [], list[tuple[float, int]]()
    for number, line in enumerate(text.splitlines(), start=1):
        cells = line.split()
        if not cells or cells[0].startswith("#"):
            continue
        try:
            time, place = _row(cells, duration)
            if rows and time <= rows[-1][0]:
                raise ValueError("comes before the beat above it; put the beats in order")
            rows.append((time, place))
        except ValueError as error:
            what, _, do = str(error).partition("; ")
            what, do = (what, do) if do else ("cannot be read", "write time, tab, place in the bar")
            faults.append(Fault(what, where=f"{path.name}, line {number}", do=do))
    if faults:
        raise Faults(faults)
    if not rows:
        raise Fault("holds no beat", where=path.name, do="write one beat a line")
    return rows


def _row(cells: list[str], duration: float) -> tuple[float, int]:
    if len(cells) == 1:
        return maprows.time(cells, duration), 0
    return maprows.beat(cells, duration)
