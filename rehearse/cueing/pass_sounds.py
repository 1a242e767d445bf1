"""The sounds of a pass: its lines of speech and clicks as samples at the track's rate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from rehearse.cueing.count_in import click
from rehearse.cueing.cue_options import CueVolumes, VolumeStep
from rehearse.cueing.speech import Speech, SpokenLine
from rehearse.cueing.voice import SpeechEngine

_FADE = 0.015  # s: a count cut short for the next one ends softly


@dataclass(frozen=True, eq=False)
class Sound:
    """Samples of shape (n,) that start `at` seconds of output, relative to the music's start."""

    at: float
    samples: npt.NDArray[np.float32]
    kind: Literal["click", "speech"]


def sounds(
    speech: Speech, speech_engine: SpeechEngine | None, sample_rate: int, levels: CueVolumes
) -> tuple[Sound, ...]:
    """The lines of `speech` as sounds at their loudness.

    Args:
        speech_engine: who said them when they were planned; None: they are all clicks.

    Raises:
        UserError: a text can no longer be said; `plan_speech` leaves those out.
    """
    result: list[Sound] = []
    for line in speech.lines:
        if line.kind == "click" or speech_engine is None:
            # Without a voice the clicks stay even where they were turned off.
            soft = levels.clicks is not VolumeStep.LOUD
            clicked = click(sample_rate, strong=line.strong, soft=soft)
            result.append(Sound(line.at, clicked, "click"))
        elif speech_engine is not None:
            result.append(
                Sound(line.at, _spoken(line, speech_engine, sample_rate, levels), "speech")
            )
    return tuple(result)


def _spoken(
    line: SpokenLine, speech_engine: SpeechEngine, sample_rate: int, levels: CueVolumes
) -> npt.NDArray[np.float32]:
    kind: Literal["name", "count"] = "count" if line.kind == "count" else "name"
    samples = speech_engine.samples(line.text, kind, sample_rate, line.pace)
    length = round((line.end - line.at) * sample_rate)
    gain = (levels.counts if line.kind == "count" else levels.names).gain
    cut = samples[:length] * np.float32(gain)
    if length < len(samples):
        fade = min(int(_FADE * sample_rate), len(cut))
        cut[len(cut) - fade :] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)
    return cut
