"""Listening again to a stretch of a song, for corrections; runs in a worker process."""

from __future__ import annotations

from collections.abc import Sequence

from rehearse.music.analysis.accents import onset_times, refine_onset
from rehearse.music.analysis.beats import find_beats
from rehearse.music.analysis.spectrum import downmix, listen
from rehearse.music.track import Samples
from rehearse.words import _
from rehearse.work.progress import Report

#: Time, place in the bar and confidence of a beat.
Row = tuple[float, int, float]


def beats_again(
    samples: Samples, sample_rate: int, offset: float, pins: Sequence[float], report: Report
) -> list[Row]:
    """Find the beats of a stretch anew.

    Args:
        samples: the stretch, shape (frames, 2). offset: second of the track at which it begins.
        pins: seconds of the track at which a beat must be; such a beat is given back exactly.
    """
    inside = [p - offset for p in pins if 0.0 <= p - offset < len(samples) / sample_rate]
    beats = find_beats(samples, sample_rate, report, inside)
    rows = zip(beats.times.tolist(), beats.places.tolist(), beats.confidence.tolist(), strict=True)
    return [(_on_pin(time + offset, pins), int(place), sure) for time, place, sure in rows]


def onsets_again(samples: Samples, sample_rate: int, offset: float, report: Report) -> list[float]:
    """Seconds of the track at which something begins to sound in a stretch."""
    curves = listen(samples, sample_rate, lambda done: report(done, _("Listening")))
    return [float(t) + offset for t in onset_times(curves)]


def onset_near(samples: Samples, sample_rate: int, time: float, reach: float = 0.05) -> float:
    """The second at which something begins to sound within `reach` of `time`.

    Quick enough for a window: only half a second is looked at.
    """
    first = max(0, round((time - 0.25) * sample_rate))
    part = samples[first : first + round(0.5 * sample_rate)]
    if len(part) < 0.2 * sample_rate:
        return time
    start = first / sample_rate
    return start + refine_onset(downmix(part, sample_rate), time - start, reach)


def _on_pin(time: float, pins: Sequence[float]) -> float:
    """The pin that `time` stands for: the model places beats on a grid of 10 ms."""
    nearest = min(pins, key=lambda pin: abs(pin - time), default=time)
    return nearest if abs(nearest - time) <= 0.02 else time
