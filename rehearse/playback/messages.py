"""What the window and the playback process say to each other.

Besides these, the window sends the mixer's `Order` and `Volume` as they are.
"""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.playback.segment import Segment
from rehearse.playback.timeline import LineFit, PlayheadMark
from rehearse.words import _
from rehearse.work.shared import Shared

UNEXPECTED = _("The sound stopped unexpectedly – press play to go on.")


@dataclass(frozen=True)
class Load:
    """Open the device at the track's rate and be ready to play it; once in a process's life.

    Args:
        no_device: the sound server had no speaker left, so that it opens counts for nothing yet.
    """

    track: Shared
    rate: int
    silent: bool
    no_device: bool = False


@dataclass(frozen=True)
class Play:
    """See `Player.play`; keep: go on from where the music is."""

    segment: Segment
    at: float | None
    repeat: bool
    keep: bool


@dataclass(frozen=True)
class Then:
    """See `Player.then`."""

    segment: Segment | None
    repeat: bool


@dataclass(frozen=True)
class DeviceOpened:
    """The device is playing, or the sound has moved to another speaker; its name."""

    device: str


@dataclass(frozen=True)
class Lost:
    """The device cannot be used (any more); this process ends.

    Args:
        trace: tells of an own mistake.
        no_device: the sound server has no speaker left.
    """

    sentence: str
    trace: str = ""
    no_device: bool = False


@dataclass(frozen=True)
class Heard:
    """What happened since the last of these.

    Args:
        marks: in order.
        line: the clock; None while the device has not reported.
        underruns: gaps the device told of since it was opened; missing: frames of music that
            were not ready in time.
    """

    marks: tuple[PlayheadMark, ...]
    line: LineFit | None
    underruns: int
    missing: int
