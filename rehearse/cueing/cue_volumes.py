"""How loud names, counts and clicks are, each by itself."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class VolumeStep(StrEnum):
    """Three steps: enough to choose between with a tired thumb."""

    OFF = "off"
    SOFT = "soft"
    LOUD = "loud"

    @property
    def gain(self) -> float:
        """Factor for a sound: soft is 9 dB below loud."""
        return {"off": 0.0, "soft": 0.355, "loud": 1.0}[self.value]


@dataclass(frozen=True)
class CueVolumes:
    """Loudness of the names of poses, of the counts, and of the clicks on them."""

    names: VolumeStep = VolumeStep.LOUD
    counts: VolumeStep = VolumeStep.LOUD
    clicks: VolumeStep = VolumeStep.SOFT
