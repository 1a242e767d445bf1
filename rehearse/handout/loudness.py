"""Loudness and true peak of sound, and bringing both to what phones and desks expect.

Measured after EBU R 128 / ITU-R BS.1770-4 by FFmpeg's meter; limited as what is played.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from rehearse.music.track import Samples
from rehearse.playback.limiter import limit, peaks_of
from rehearse.words import _
from rehearse.work.progress import Report

#: What a cue track is brought to: integrated loudness in LUFS, true peak in dBTP.
TARGET, CEILING = -16.0, -1.0
_BLOCK = 1 << 15
#: LUFS under which sound counts as not measurable, and is left as it is.
MEASURABLE = -60.0
#: Highest peak that is limited, linear: what is driven harder gets no louder.
_MOST = 1e4


@dataclass(frozen=True)
class LoudnessMeasure:
    """Integrated loudness in LUFS and true peak in dBTP (−inf where not measured)."""

    integrated: float
    true_peak: float


def measure(samples: Samples, sample_rate: int, *, peak: bool = True) -> LoudnessMeasure:
    """Measure sound of shape (frames, 2); without `peak` four times as fast."""
    import av

    graph = av.filter.Graph()
    source = graph.add_abuffer(
        sample_rate=sample_rate, format="fltp", layout="stereo", time_base=Fraction(1, sample_rate)
    )
    meter = graph.add("ebur128", f"metadata=1:peak={'true' if peak else 'none'}")
    sink = graph.add("abuffersink")
    source.link_to(meter)
    meter.link_to(sink)
    graph.configure()
    found: dict[str, str] = {}
    # Half a second more than the sound, so that the last whole step of the meter holds its end.
    for start in range(0, len(samples) + sample_rate // 2, _BLOCK):
        block = samples[start : start + _BLOCK]
        block = np.pad(block, ((0, _BLOCK - len(block)), (0, 0)))
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(block.T), "fltp", "stereo")
        frame.sample_rate, frame.pts = sample_rate, start
        graph.push(frame)
        while True:
            try:
                found = dict(graph.pull().metadata) or found
            except (av.error.BlockingIOError, av.error.EOFError):
                break
    level = float(found.get("lavfi.r128.I", "-70"))
    linear = float(found.get("lavfi.r128.true_peak", "0"))
    return LoudnessMeasure(level, 20 * np.log10(linear) if linear > 0 else -np.inf)


def mastered(
    samples: Samples,
    sample_rate: int,
    *,
    target: float = TARGET,
    ceiling: float = CEILING,
    report: Report | None = None,
) -> Samples:
    """`samples` brought to `target` LUFS with no true peak above `ceiling` dBTP.

    Sound too quiet to be measured stays as it is. Limiting costs loudness, and an estimated peak
    can be a little low: both are measured and put right.
    """
    if report:
        report(0.0, _("measuring the loudness"))
    level = measure(samples, sample_rate, peak=False).integrated
    if level < MEASURABLE:
        return samples
    peaks = peaks_of(samples)
    gain, top = target - level, ceiling
    result = samples
    for _unused in range(4):
        if report:
            report(0.5, _("setting the loudness"))
        factor = np.float32(min(10 ** (gain / 20), _MOST / max(float(peaks.max()), 1e-9)))
        result = limit(
            samples * factor, sample_rate, ceiling=10 ** (top / 20), peaks=peaks * factor
        )
        found = measure(result, sample_rate)
        lost, over = target - found.integrated, found.true_peak - ceiling
        if abs(lost) < 0.5 and over <= 0.0:
            break
        gain += lost
        # Between the points that were looked at a peak can still be higher.
        top -= max(0.0, over) + 0.05
    return result
