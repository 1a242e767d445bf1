"""What the window and the process that films say to each other."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Begin:
    """Film into this routine's folder from now on, with the room's sound if wished.

    Args:
        number: of the recording; what is said of it carries it.
    """

    routine: Path
    sound: bool = False
    number: int = 0


@dataclass(frozen=True)
class End:
    """End the recording; keep what was filmed, or not."""

    keep: bool


@dataclass(frozen=True)
class Show:
    """Hand every picture to the window, or none."""

    on: bool


@dataclass(frozen=True)
class Opened:
    """The camera gives pictures."""


@dataclass(frozen=True)
class Began:
    """The first picture is filmed.

    Args:
        part: the recording's hidden folder. zero: second of the clock of the film's beginning.
        number: the recording's.
    """

    part: Path
    zero: float
    number: int = 0


@dataclass(frozen=True)
class Ended:
    """The recording is over.

    Args:
        part: its hidden folder; None: nothing was kept. number: the recording's.
    """

    part: Path | None
    number: int = 0


@dataclass(frozen=True)
class Told:
    """Something is not as it should be, in one sentence; the camera goes on."""

    sentence: str


@dataclass(frozen=True)
class Failed:
    """The camera cannot be used (any more), in one sentence; the process ends."""

    sentence: str


@dataclass(frozen=True)
class CameraPicture:
    """A picture for the late mirror: when it was taken, and its JPEG."""

    taken: float
    jpeg: bytes
