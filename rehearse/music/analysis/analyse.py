"""The whole beat map of a song, as a worker process makes it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.accents import AWAITED, find_accents, hits_on
from rehearse.music.analysis.beatless import without_beat
from rehearse.music.analysis.beatpath import Beats
from rehearse.music.analysis.beats import find_beats, free_stretches
from rehearse.music.analysis.builds import find_builds
from rehearse.music.analysis.certainty import confidence_stretches
from rehearse.music.analysis.freetime import find_free
from rehearse.music.analysis.hits import APART, find_hits
from rehearse.music.analysis.parts import find_parts
from rehearse.music.analysis.phrases import phrase_starts
from rehearse.music.analysis.quiets import find_quiets
from rehearse.music.analysis.spectrum import Curves, listen
from rehearse.music.beatmap import MEDIUM, Accent, BeatMap, Build, Stretch
from rehearse.music.settle import settle
from rehearse.music.track import Track
from rehearse.words import _
from rehearse.work.progress import Report


def analyse(track: Track, report: Report | None = None) -> BeatMap:
    """Map a song: beats, bars, free time, accents, builds, quiet stretches, parts, confidence.

    Args:
        track: the song.
        report: called with the fraction done and what is being done; may raise to stop.
    """
    tell = report or (lambda fraction, text: None)
    beats = find_beats(
        track.samples,
        track.sample_rate,
        lambda done, text: tell(0.7 * done, _("Finding the beats")),
    )
    curves = listen(
        track.samples,
        track.sample_rate,
        lambda done: tell(0.7 + 0.2 * done, _("Finding accents and builds")),
    )
    tell(0.9, _("Finding accents and builds"))
    beatmap = assemble(track, beats, curves)
    tell(1.0, _("The map is ready"))
    return beatmap


def assemble(track: Track, beats: Beats, curves: Curves) -> BeatMap:
    """The map, from the beats and the curves of the song."""
    duration = track.duration
    free = find_free(
        curves,
        beats.times.tolist(),
        beats.confidence.tolist(),
        free_stretches(beats, duration),
        without_beat(beats, duration),
    )
    kept = _outside(beats, free, duration)
    times = tuple(round(float(t), 6) for t in beats.times[kept])
    places = tuple(int(p) for p in beats.places[kept])
    bars = [t for t, place in zip(times, places, strict=True) if place == 1]
    faint = find_accents(curves, AWAITED, sparsest=np.inf)
    plain = hits_on(curves, bars)
    builds = find_builds(curves, faint, [hit.time for hit in plain])
    parts = find_parts(curves, bars, duration)
    hits = find_hits(curves, times, bars, [part.start for part in parts])
    found = BeatMap(
        track_hash=track.content_hash,
        duration=duration,
        beats=times,
        places=places,
        free=free,
        accents=_with_awaited(hits, faint + plain, builds),
        builds=builds,
        quiets=find_quiets(curves),
        parts=parts,
        confidence=confidence_stretches(times, (beats.confidence * beats.sure)[kept], duration),
    )
    return settle(replace(found, restarts=phrase_starts(found)))


def _with_awaited(
    hits: tuple[Accent, ...], faint: tuple[Accent, ...], builds: tuple[Build, ...]
) -> tuple[Accent, ...]:
    """The hits, and what builds lead to: at least medium, since it is awaited."""
    ends = {b.accent for b in builds if b.accent is not None}
    awaited = {a.time: a for a in sorted(faint, key=lambda a: a.strength) if a.time in ends}
    found = {end: max(MEDIUM, awaited[end].strength) for end in awaited}
    for hit in hits:
        near = [end for end in found if abs(end - hit.time) < APART]
        if near:
            found[near[0]] = max(found[near[0]], hit.strength)
        else:
            found[hit.time] = hit.strength
    return tuple(Accent(time, strength) for time, strength in sorted(found.items()))


def _outside(beats: Beats, free: tuple[Stretch, ...], duration: float) -> npt.NDArray[np.bool_]:
    kept = beats.times < duration
    for stretch in free:
        kept &= ~((beats.times >= stretch.start) & (beats.times < stretch.end))
    return kept
