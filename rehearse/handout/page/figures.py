"""The figures of the coach's page as numbers, from which its script draws the same outlines.

Each frame is the number of its masses, then for each: tone, gap, place in the order from far to
near, and four balls (x, y, radius), all as 16-bit integers; lengths in `UNIT`ths of a body height.
A frame takes a tenth of what its outlines would, and frames between two frames cost nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from rehearse.cueing.cue_state import Cue
from rehearse.cueing.cues import CueSheet
from rehearse.routine.anatomy import figure_parts
from rehearse.routine.bones import Figure
from rehearse.routine.look import Look
from rehearse.routine.motion import body_at

#: Numbers of one body height.
UNIT = 20_000
TONES = ("ink", "shade", "hair", "accent", "gap")
#: Frames a second of a way at most; fewer where the page would grow too large.
RATE = 12.0


@dataclass
class PageFigures:
    """The frames of a routine, numbered.

    Attributes:
        stills: the frame of each cue. ways: of each cue its first frame and how many there are;
            None: it stands still.
    """

    frames: list[npt.NDArray[np.int16]] = field(default_factory=list)
    stills: list[int] = field(default_factory=list)
    ways: list[tuple[int, int] | None] = field(default_factory=list)

    @property
    def data(self) -> bytes:
        """All frames, little-endian."""
        return b"".join(frame.astype("<i2").tobytes() for frame in self.frames)


def figures_of(sheet: CueSheet, most: int) -> PageFigures:
    """Every pose and every way between them, in `most` bytes as far as that goes.

    At least two frames a second are kept, whatever they take.
    """
    made = PageFigures()
    for cue in sheet.cues:
        figure = cue.pose.seen(cue.facing, cue.level)
        made.stills.append(len(made.frames))
        made.frames.append(_frame(figure, cue.pose.look))
    seconds = sum(cue.way.end - cue.way.start for cue in sheet.cues if cue.way and _moves(cue))
    size = max((frame.nbytes for frame in made.frames), default=1)
    room = most - sum(frame.nbytes for frame in made.frames)
    rate = max(2.0, min(RATE, room / max(seconds * size, 1.0)))
    for cue in sheet.cues:
        made.ways.append(_way(made, cue, rate))
    return made


def _moves(cue: Cue) -> bool:
    return cue.way is not None and (cue.way.before is not None or bool(cue.way.moves))


def _way(made: PageFigures, cue: Cue, rate: float) -> tuple[int, int] | None:
    way = cue.way
    if way is None or not _moves(cue) or way.end - way.start < 1e-3:
        return None
    first, count = len(made.frames), max(2, round(rate * (way.end - way.start)) + 1)
    for time in np.linspace(way.start, way.end, count):
        made.frames.append(_frame(body_at(way, float(time)).figure, cue.pose.look))
    return first, count


def _frame(figure: Figure, look: Look) -> npt.NDArray[np.int16]:
    parts = figure_parts(figure, look)
    count = len(parts.tones)
    rows = np.zeros((count, 15))
    rows[:, 0] = [TONES.index(tone) for tone in parts.tones]
    rows[:, 1] = parts.gaps * UNIT
    rows[parts.order, 2] = np.arange(count)
    balls = np.concatenate([parts.centres, parts.radii[..., None]], axis=2) * UNIT
    rows[:, 3:] = balls.reshape(count, 12)
    numbers = np.clip(np.round(rows), -32768, 32767).astype(np.int16).ravel()
    return np.concatenate([np.array([count], np.int16), numbers])
