"""How large a letter must be to be read from where the athlete stands.

ISO 9241-3: characters of at least 16′ of arc, 20–22′ preferred (from a copy of the standard).
NUREG-0700 rev. 2, 1.3.1-4: height = 6.283 · distance · minutes of arc / 21600.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from rehearse.cueing.cue_options import Cueing

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

#: Minutes of arc of what must be taken in at a glance, and of what may be read at leisure.
GLANCE, LEAST = 22.0, 16.0
#: A 14 inch screen of 1920 × 1080 dots: what is assumed where the screen does not say.
USUAL_PIXEL_MM = 309.4 / 1920


def height_mm(distance: float, minutes: float) -> float:
    """Height in millimetres that spans `minutes` of arc at `distance` metres."""
    return 6.283 * distance * 1000 * minutes / 21600


@dataclass(frozen=True)
class ViewingDistance:
    """Where the athlete stands and what one pixel measures.

    Args:
        distance: metres from eye to screen, 0.5–10.
        pixel_mm: height of one logical pixel on the glass, in millimetres.
    """

    distance: float = 4.0
    pixel_mm: float = USUAL_PIXEL_MM

    def pixels(self, minutes: float) -> float:
        """Logical pixels that span `minutes` of arc."""
        return height_mm(self.distance, minutes) / self.pixel_mm


#: What the rehearsal is doing: the words are those shown.
State = Literal["ready", "playing", "count-in", "rest", "paused", "done", "no sound", "stopped"]

#: States in which time runs on the display.
LIVE = ("playing", "count-in")


@dataclass(frozen=True)
class StageOptions:
    """How and in what state to show a moment.

    Args:
        viewing: distance and size of the screen.
        cueing: how much to show.
        state: what the rehearsal is doing. words: what follows, one line ("Space: resume"); after a
            stop for dizziness, cramp or pain ("stopped") all there is.
        cause: why there is no sound, a clause; empty for not known.
        question: what is asked after a run, in place of the state; empty for nothing.
        pointed: the index of the pose pointed at meanwhile.
        tempo: 0.4–1.05 of the music's own. is_round: a comparison round, which has none to show.
        passes: the pass under way ("3/8"); empty for none.
        verdict: "clean" or "missed" once one was taken, else empty.
        rest: seconds of rest left.
        loudness: shape (n,), 0..1, evenly along the part used on stage; None: not known yet.
        drilled: passes today by section id.
        reduced_motion: nothing moves between counts. reduced_flash: no pulse; the edge light
            only fills, darker than what counts as a flash.
        mirrored: figure and sign as in a mirror, and a word that says so; a view only.
        folder: the routine's, where photos of own poses lie; None: figures only.
    """

    viewing: ViewingDistance = field(default_factory=ViewingDistance)
    cueing: Cueing = "all"
    state: State = "playing"
    words: str = ""
    cause: str = ""
    question: str = ""
    pointed: int | None = None
    tempo: float = 1.0
    is_round: bool = False
    passes: str = ""
    verdict: str = ""
    rest: float = 0.0
    loudness: npt.NDArray[np.float32] | None = field(default=None, compare=False)
    drilled: dict[str, int] = field(default_factory=dict, hash=False)
    reduced_motion: bool = False
    reduced_flash: bool = False
    mirrored: bool = False
    folder: Path | None = None
