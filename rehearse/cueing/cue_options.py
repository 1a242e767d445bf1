"""What can be chosen for the cues of a pass: how much is shown and said, and how loud."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from rehearse.words import _

#: Everything; names only on the hit; counts only; nothing at all. Kept so in the logbook.
Cueing = Literal["all", "names", "counts", "memory"]

#: Whose names are said.
Said = Literal["both", "poses", "moves"]

#: The choices in the order offered, with their words; moves alone are for learning the way.
SAID: dict[Said, str] = {
    "both": _("poses and moves"),
    "poses": _("poses only"),
    "moves": _("moves only"),
}

#: The choices in the order offered, with their words.
CUEINGS: dict[Cueing, str] = {
    "all": _("all cues"),
    "names": _("names on the hit"),
    "counts": _("counts only"),
    "memory": _("from memory"),
}


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
