"""Plain beat lists, as the open beat-tracking data sets use them: `time<TAB>place in the bar`.

A list without places (time only) is read as well; its places are counted in fours from 1.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np

from rehearse.files.atomic import save_atomic
from rehearse.files.door import read_file
from rehearse.files.user_error import UserError, UserErrors, halves
from rehearse.music import maprows
from rehearse.music.beatmap import SAME_PLACE, BeatMap, Confidence
from rehearse.words import _

#: Wrong lines that are told one by one.
TOLD = 3
#: Half an hour of beats takes some 60 kB.
_MAX_BYTES = 2_000_000
#: What parts two cells; a comma followed by a blank parts them, one between figures is decimal.
_PARTED = re.compile(r"\s*[\t;]\s*|,?\s+")


def export_beats(path: Path, beatmap: BeatMap) -> None:
    """Write the beats of `beatmap`, one a line, seconds with six decimals.

    Raises:
        UserError: the disk is full or refuses.
    """
    rows = zip(beatmap.beats, beatmap.places, strict=True)
    save_atomic(path, "".join(f"{time:.6f}\t{place}\n" for time, place in rows).encode())


def import_beats(path: Path, beatmap: BeatMap) -> BeatMap:
    """`beatmap` with its beats replaced by those of a plain list; free time they fill is lifted.

    Blank lines, comments from a `#` on and a heading are skipped. Time and place may also be
    parted by a semicolon, blanks or a comma; where they are not, a comma is a decimal one.

    Raises:
        UserError: unreadable, or no beat in it.
        UserErrors: the rows that are wrong, each with its line; of many only the first.
    """
    rows = _read(path, beatmap.duration)
    times = tuple(time for time, _unused in rows)
    places = tuple(place or 1 + k % 4 for k, (_unused, place) in enumerate(rows))
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
    errors: list[UserError] = []
    rows: list[tuple[float, int]] = []
    for number, line in enumerate(_text(path).splitlines(), start=1):
        cells = _cells(line)
        if not cells or (not rows and not errors and _is_heading(cells)):
            continue
        try:
            time, place = _row(cells, duration)
            if rows and time <= rows[-1][0]:
                raise ValueError(_("comes before the beat above it; put the beats in order"))
            rows.append((time, place))
        except ValueError as error:
            what, do = halves(error)
            what, do = (
                (what, do) if do else (_("cannot be read"), _("write time, tab, place in the bar"))
            )
            errors.append(
                UserError(
                    what, where=_("{name}, line {number}", name=path.name, number=number), do=do
                )
            )
    if len(errors) > TOLD:
        first = errors[0]
        raise UserError(
            _(
                "{number} lines are wrong, the first of them {what}",
                number=len(errors),
                what=first.what,
            ),
            where=first.where,
            do=_("check that the list is this song's"),
        )
    if errors:
        raise UserErrors(errors)
    if not rows:
        raise UserError(_("holds no beat"), where=path.name, do=_("write one beat a line"))
    return rows


def _text(path: Path) -> str:
    data = read_file(path, _MAX_BYTES)
    if b"\0" in data:
        raise UserError(_("is not a beat list"), where=path.name, do=_("choose a text file"))
    # Only comments and headings hold more than figures, and those are not read.
    return data.decode("utf-8-sig", errors="replace")


def _cells(line: str) -> list[str]:
    """What stands in a line before any `#`, parted by tabs, semicolons, commas or blanks."""
    line = line.partition("#")[0].strip()
    if _PARTED.search(line):
        return [cell.replace(",", ".") for cell in _PARTED.split(line) if cell]
    return [cell for cell in line.split(",") if cell]


def _is_heading(cells: list[str]) -> bool:
    return not any(figure in cell for cell in cells for figure in "0123456789")


def _row(cells: list[str], duration: float) -> tuple[float, int]:
    if len(cells) == 1:
        return maprows.time(cells, duration), 0
    return maprows.beat([cells[0], *(cell.removesuffix(".0") for cell in cells[1:])], duration)
