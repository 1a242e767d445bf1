"""What the stage display shows beside the moment itself."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from rehearse.cueing.cue_options import Cueing
from rehearse.ui.stage.viewing_distance import ViewingDistance

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

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
