"""A beat map as its file holds it: times to the microsecond, none of them outside the song.

A song has one length, that of its own samples. Analysis works on grids of its own, whose last step
may lie a few microseconds behind the last sample; the file keeps six decimals, which may round a
time up beyond it. Both are put right here, so that what is written can always be read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TypeVar

from rehearse.music.beatmap import BeatMap, Build, Confidence, Part, Stretch

Span = TypeVar("Span", Stretch, Build, Part, Confidence)


def last_place(duration: float) -> float:
    """The last full microsecond of a song of `duration` seconds."""
    place = round(duration, 6)
    return place if place <= duration else round(place - 1e-6, 6)


def settle(beatmap: BeatMap) -> BeatMap:
    """The map with every time inside the song and to the microsecond, its length left as it is.

    Stretches of which nothing is left go, and of beats that fall together all but the first.
    """
    last = last_place(beatmap.duration)

    def place(time: float) -> float:
        return min(max(0.0, round(float(time), 6)), last)

    rows: dict[float, int] = {}
    for beat, bar_place in zip(beatmap.beats, beatmap.places, strict=True):
        rows.setdefault(place(beat), bar_place)
    return replace(
        beatmap,
        beats=tuple(rows),
        places=tuple(rows.values()),
        free=_spans(beatmap.free, place),
        restarts=tuple(map(place, beatmap.restarts)),
        accents=tuple(
            replace(a, time=place(a.time), strength=round(a.strength, 6)) for a in beatmap.accents
        ),
        builds=tuple(
            replace(b, accent=None if b.accent is None else place(b.accent))
            for b in _spans(beatmap.builds, place)
        ),
        quiets=_spans(beatmap.quiets, place),
        parts=_spans(beatmap.parts, place),
        confidence=tuple(
            replace(c, value=round(c.value, 6)) for c in _spans(beatmap.confidence, place)
        ),
    )


def _spans(spans: Iterable[Span], place: Callable[[float], float]) -> tuple[Span, ...]:
    settled = (replace(s, start=place(s.start), end=place(s.end)) for s in spans)
    return tuple(s for s in settled if s.start < s.end)
