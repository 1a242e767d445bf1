"""Loudness and true peak of sound, and bringing both to what phones and desks expect.

Measured after EBU R 128 / ITU-R BS.1770-4 by FFmpeg's meter. The limiter looks ahead, turns
down only around what exceeds the ceiling and leaves everything else as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.music.track import Samples
from rehearse.work.progress import Report

#: What a cue track is brought to: integrated loudness in LUFS, true peak in dBTP.
TARGET, CEILING = -16.0, -1.0
_BLOCK = 1 << 15
_OVERSAMPLING = 4  # BS.1770-4 annex 2
_LOOK_AHEAD = 0.005
#: LUFS under which sound counts as not measurable, and is left as it is.
MEASURABLE = -60.0


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


def limit(samples: Samples, sample_rate: int, ceiling: float) -> Samples:
    """`samples` with no true peak above `ceiling` dBTP; what lies below it is untouched.

    The gain is the smallest needed within 5 ms on either side, smoothed over the same 5 ms: it
    is always down before the peak arrives and never has a corner.
    """
    return _limited(samples, true_peaks(samples, sample_rate), sample_rate, 1.0, ceiling)


def true_peaks(samples: Samples, sample_rate: int) -> npt.NDArray[np.float32]:
    """The highest value reached from each frame to the next, shape (frames,), four times
    oversampled (BS.1770-4 annex 2).
    """
    import soxr

    result = _height(samples)
    margin = 256
    for start in range(0, len(samples), _BLOCK):
        end = min(len(samples), start + _BLOCK)
        first, last = max(0, start - margin), min(len(samples), end + margin)
        fine = soxr.resample(samples[first:last], sample_rate, sample_rate * _OVERSAMPLING)
        height = _height(fine[: (last - first) * _OVERSAMPLING])
        for phase in range(_OVERSAMPLING):
            here = height[phase::_OVERSAMPLING][start - first : end - first]
            np.maximum(result[start:end], here, out=result[start:end])
    return result


def _height(samples: Samples) -> npt.NDArray[np.float32]:
    # Column by column: a maximum over an axis of two is ten times slower.
    return np.maximum(np.abs(samples[:, 0]), np.abs(samples[:, 1]))


def _limited(
    samples: Samples,
    peaks: npt.NDArray[np.float32],
    sample_rate: int,
    gain: float,
    ceiling: float,
) -> Samples:
    result = samples * np.float32(gain)
    top = 10 ** (ceiling / 20) / gain
    half = max(1, int(_LOOK_AHEAD * sample_rate))
    for start in range(0, len(samples), _BLOCK):
        end = min(len(samples), start + _BLOCK)
        first, last = max(0, start - 2 * half), min(len(samples), end + 2 * half)
        needed = top / np.maximum(peaks[first:last], top)
        if needed.min() < 1.0:
            curve = _smooth(_lowest(needed, half), half)[start - first : end - first]
            result[start:end] *= curve[:, np.newaxis].astype(np.float32)
    return result


def _lowest(values: npt.NDArray[Any], half: int) -> npt.NDArray[Any]:
    """The minimum over `half` values on either side, by doubling windows."""
    padded = np.pad(values, half, mode="edge")
    width, wanted = 1, 2 * half + 1
    while width < wanted:
        step = min(width, wanted - width)
        padded = np.minimum(padded[:-step], padded[step:])
        width += step
    return padded


def _smooth(values: npt.NDArray[Any], half: int) -> npt.NDArray[np.float64]:
    """Mean over a window that never reaches farther than `half` values on either side."""
    padded = np.pad(values.astype(np.float64), half, mode="edge")
    for width in (half + 1, half + 1):
        total = np.concatenate([[0.0], np.cumsum(padded)])
        padded = (total[width:] - total[:-width]) / width
    return padded


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
        report(0.0, "measuring the loudness")
    level = measure(samples, sample_rate, peak=False).integrated
    if level < MEASURABLE:
        return samples
    peaks = true_peaks(samples, sample_rate)
    gain, top = target - level, ceiling
    result = samples
    for _ in range(4):
        if report:
            report(0.5, "setting the loudness")
        result = _limited(samples, peaks, sample_rate, 10 ** (gain / 20), top)
        found = measure(result, sample_rate)
        lost, over = target - found.integrated, found.true_peak - ceiling
        if abs(lost) < 0.5 and over <= 0.0:
            break
        gain += lost
        # Between the oversampled values a peak can still be higher (by 0.7 dB at most).
        top -= max(0.0, over) + 0.05
    return result
