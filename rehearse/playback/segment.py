"""What can be asked of playback and what it tells back.

Conventions: `source` times are seconds of the track; `elapsed` is seconds of what is heard,
counted from the music's start of the pass (negative in the count-in). Tempo 0.7 means 70 % of
the music's own. A pass is one time through a segment.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from rehearse.playback.stretch import FASTEST, SLOWEST

Kind = Literal["music", "click", "speech"]
KINDS: tuple[Kind, ...] = ("music", "click", "speech")
State = Literal["stopped", "lead", "music", "rest", "paused", "lost"]


@dataclass(frozen=True, eq=False)
class Clip:
    """A sound laid over the music at an exact frame.

    Args:
        at: seconds of what is heard, from the music's start of the pass; negative: in the lead.
        samples: float32 at the track's rate, shape (n,) or (n, 2); any length, it may ring on
            into the next pass.
        kind: `click` or `speech`; under speech the music steps back.
    """

    at: float
    samples: npt.NDArray[np.float32]
    kind: Literal["click", "speech"] = "click"


@dataclass(frozen=True, eq=False)
class Segment:
    """What one pass plays.

    Args:
        key: the caller's name for it, given back in events.
        start, end: seconds of the track, start < end.
        tempo: 0.25–1.05 of the music's own.
        lead: seconds heard before the music (count-in): silent but for clips.
        clips: sounds laid over it.
        rest: seconds of silence after the music.

    Raises:
        ValueError: an impossible span or tempo.
    """

    key: str
    start: float
    end: float
    tempo: float = 1.0
    lead: float = 0.0
    clips: tuple[Clip, ...] = ()
    rest: float = 0.0

    def __post_init__(self) -> None:
        if not 0 <= self.start < self.end < math.inf:
            raise ValueError(f"a segment cannot run from {self.start} s to {self.end} s")
        if not SLOWEST <= self.tempo <= FASTEST:
            raise ValueError(f"tempo {self.tempo} is outside {SLOWEST}–{FASTEST}")
        if self.lead < 0 or self.rest < 0:
            raise ValueError("lead and rest cannot be negative")


@dataclass(frozen=True)
class Now:
    """What is audible at this moment.

    Args:
        source: seconds of the track; in the lead its start, in the rest its end.
        elapsed: seconds heard since the music's start of this pass.
        tempo, key, pass_number: of the pass; pass_number counts from 1 since `play`.
        state: `lost` means that the sound device went away.
    """

    source: float = 0.0
    elapsed: float = 0.0
    tempo: float = 1.0
    key: str = ""
    pass_number: int = 0
    state: State = "stopped"

    @property
    def playing(self) -> bool:
        """True while a pass is under way and not paused."""
        return self.state in ("lead", "music", "rest")


@dataclass(frozen=True)
class PassStarted:
    """The beginning of a pass has been heard; `source`: where in the track it began."""

    key: str
    pass_number: int
    source: float = 0.0


@dataclass(frozen=True)
class PassEnded:
    """The end of a pass has been heard, or it was broken off.

    Args:
        complete: its end was reached (whether it began at its start: see `began`).
        began, reached: seconds of the track.
    """

    key: str
    pass_number: int
    complete: bool
    reached: float
    began: float = 0.0


@dataclass(frozen=True)
class OutputLost:
    """The sound device went away; `sentence` says so and what to do."""

    sentence: str


@dataclass(frozen=True)
class OutputBack:
    """A sound device is there again; `device` names it."""

    device: str = ""


@dataclass(frozen=True)
class Gap:
    """Music that should have been heard was not, for `seconds`: the speaker got nothing in time,
    or slow music was not ready.
    """

    seconds: float


Event = PassStarted | PassEnded | OutputLost | OutputBack | Gap
