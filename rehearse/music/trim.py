"""The part of the track used on stage: its ends, its fades, its length against the limit.

Conventions: times are seconds of the track, lengths seconds. A fade is a raised cosine in
amplitude (half a Hann window), inside the part: the part is silent at its very ends.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from rehearse.music.beatmap import BeatMap
from rehearse.music.track import Samples

#: The shortest part that can be set; a slip of the hand never makes an empty one.
SHORTEST = 1.0
#: Lengths are compared to a limit in steps of a millisecond: 60.0 s passes, 60.1 s does not.
LENGTH_STEP = 0.001


def nearest(times: Iterable[float], time: float, reach: float = np.inf) -> float | None:
    """The member of `times` closest to `time`, None when none is within `reach` seconds."""
    best = min(times, key=lambda t: abs(t - time), default=None)
    return best if best is not None and abs(best - time) <= reach else None


def snap_to_beat(beatmap: BeatMap, time: float, reach: float = np.inf) -> float:
    """The beat closest to `time`; `time` itself when none is within `reach` seconds."""
    found = nearest(beatmap.beats, time, reach)
    return time if found is None else found


def snap_to_accent(beatmap: BeatMap, time: float, reach: float = np.inf) -> float:
    """The accent closest to `time`; `time` itself when none is within `reach` seconds."""
    found = nearest((a.time for a in beatmap.marked), time, reach)
    return time if found is None else found


def fit_part(start: float, end: float, duration: float) -> tuple[float, float]:
    """`start` and `end` moved inside the track and at least `SHORTEST` apart."""
    shortest = min(SHORTEST, duration)
    start = min(max(0.0, start), duration - shortest)
    return start, max(min(end, duration), start + shortest)


def fit_fades(length: float, fade_in: float, fade_out: float) -> tuple[float, float]:
    """Fades of at least nothing that together do not exceed `length`; the fade-out gives way."""
    fade_in = min(max(0.0, fade_in), length)
    return fade_in, min(max(0.0, fade_out), length - fade_in)


def over_limit(length: float, limit: float) -> float:
    """Seconds by which `length` exceeds `limit`; 0.0 when it does not."""
    steps = round((length - limit) / LENGTH_STEP)
    return max(0, steps) * LENGTH_STEP


def cut_part(
    samples: Samples, sample_rate: int, start: float, end: float, fades: tuple[float, float]
) -> Samples:
    """A copy of the part with its fades applied.

    Args:
        samples: shape (frames, 2).
        sample_rate: frames a second.
        start, end: the part, in seconds of the track.
        fades: seconds of fade-in and of fade-out.

    Returns:
        shape (n, 2), float32, n = round(end · rate) − round(start · rate).
    """
    first, last = round(start * sample_rate), round(end * sample_rate)
    part = np.array(samples[first:last], np.float32, order="C")
    rise, fall = (
        min(round(f * sample_rate), len(part))
        for f in fit_fades(len(part) / sample_rate, fades[0], fades[1])
    )
    if rise:
        part[:rise] *= _ramp(rise)
    if fall:
        part[-fall:] *= _ramp(fall)[::-1]
    return part


def _ramp(frames: int) -> Samples:
    phase = np.arange(frames, dtype=np.float32) / max(1, frames - 1)
    return (0.5 - 0.5 * np.cos(np.pi * phase))[:, np.newaxis].astype(np.float32)
