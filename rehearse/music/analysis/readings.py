"""The next-best ways to count a song, each with its likelihood, and the one that four taps mean.

The same sound can be counted in several ways: twice or half as fast, three counts where another
listener hears two or four, another beat as the 1, bars of two, three or four. The bar-pointer model
is asked for its best path at each of these tempos in turn; the paths' own scores say how likely one
reading is against another (a path twice as long has twice as much to say, so scores are compared
per count of the best reading). Which ratios are tried is what trackers are known to confuse:
half and double (Davies, Degara & Plumbley, C4DM-TR-09-06), and what triplets and shuffles invite.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.barpointer import GRID, SLOWEST
from rehearse.music.analysis.bars import Bars, find_bars, rotations
from rehearse.music.analysis.beatpath import (
    EVEN,
    Beats,
    beats_of,
    decoder_scores,
    follow,
    follow_at,
    pace_of,
)
from rehearse.music.analysis.certainty import confidence_stretches
from rehearse.music.analysis.features import band_energies
from rehearse.music.analysis.network import Activation, activation_of
from rehearse.music.analysis.paces import away, in_one_octave
from rehearse.music.beatmap import Reading
from rehearse.music.taps import regular_beats
from rehearse.music.track import Samples
from rehearse.words import _
from rehearse.work.progress import Report

Floats = npt.NDArray[np.float32]
Times = npt.NDArray[np.float64]

#: Length of a count against the best reading's, in words of what becomes of its counts.
RATIOS = (
    (2.0, _("half the counts")),
    (0.5, _("twice the counts")),
    (1.5, _("two counts for three")),
    (2 / 3, _("three counts for two")),
    (4 / 3, _("three counts for four")),
    (3 / 4, _("four counts for three")),
)
#: Readings less likely than this are not offered.
LEAST = 0.001
#: How far (natural logarithm) a count may be from the length asked for; where two ratios are near
#: each other; and from one tapped.
_REACH, _CLOSE, _TAPPED = 0.13, 0.058, 0.2
# Seconds of the slowest count that is followed.
_SLOWEST = 60 / SLOWEST
# Sharpness by which scores per count become likelihoods: of tempos, and of bars; from made songs,
# where a wrong best reading leads the right one by about 1 a count, a right one by 5 and more.
_SHARP, _SHARP_BARS = 1.2, 25.0
# A ratio is one within this, natural logarithm.
_SAME = 0.12


def find_readings(samples: Samples, sample_rate: int, report: Report) -> tuple[Reading, ...]:
    """The readings of a song, the likeliest first; runs in a worker process."""
    energies, activation = _heard(samples, sample_rate, report)
    return readings_of(energies, activation, lambda done: report(0.5 + 0.5 * done, _("Comparing")))


def readings_of(
    energies: Floats, activation: Activation, report: Callable[[float], None] | None = None
) -> tuple[Reading, ...]:
    """The readings under band energies and what the network made of them."""
    tell = report or (lambda done: None)
    path = follow(activation)
    best = in_one_octave(path)
    if len(best.times) < EVEN:
        return ()
    found = [(best, _("as found"), best.score)]
    for k, (ratio, words) in enumerate(RATIOS):
        tell((k + 1) / (len(RATIOS) + 2))
        wanted = pace_of(best, len(activation.beat)) * ratio
        other = follow_at(activation, wanted, _REACH if ratio in (0.5, 2.0) else _CLOSE)
        if other is not None:
            found.append((other, words, other.score))
    count = len(path.times)
    # Where the pace of the map was chosen against the path, the others are weighed as it was.
    costs = [away(beats) if best is not path else 0.0 for beats, *_unused in found]
    scores = _SHARP * (np.array([score / count for *_unused, score in found]) - costs)
    chances = np.exp(scores - np.logaddexp.reduce(scores))
    rows = []
    for (beats, words, _unused), chance in zip(found, chances.tolist(), strict=True):
        rows += _with_bars(beats, words, chance, energies, activation, every=beats is best)
    tell(1.0)
    return _in_turn([row for row in rows if row.likelihood >= LEAST], {w for _unused, w in RATIOS})


def _in_turn(rows: list[Reading], tempos: set[str]) -> tuple[Reading, ...]:
    """The likeliest reading, then other bars and other tempos by turns, each the likeliest first.

    Where nothing tells which beat is the 1, six ways to lay bars share what is likely: they must
    not stand between the athlete and the right tempo.
    """
    ranked = sorted(rows, key=lambda row: -row.likelihood)
    paces = [row for row in ranked[1:] if row.words in tempos]
    bars = [row for row in ranked[1:] if row.words not in tempos]
    if paces and bars and paces[0].likelihood < bars[0].likelihood / 4:
        paces, bars = bars, paces
    pairs = itertools.zip_longest(paces, bars)
    return (*ranked[:1], *(row for pair in pairs for row in pair if row is not None))


def tapped_reading(
    samples: Samples, sample_rate: int, taps: Sequence[float], report: Report
) -> Reading:
    """The reading of the whole song that taps mean, the first of them on a 1.

    Args:
        samples: the whole song, shape (frames, channels).
        taps: seconds of the track heard at each tap, at least four.

    Raises:
        UserError: too few or too uneven taps.
    """
    meant = regular_beats(taps)
    energies, activation = _heard(samples, sample_rate, report)
    return reading_at(energies, activation, meant)


def reading_at(energies: Floats, activation: Activation, meant: Times) -> Reading:
    """The reading of the whole song with counts at `meant`, seconds, the first of them a 1."""
    step = float(np.median(np.diff(meant)))
    # Counts slower than can be followed are every second of those that can.
    thin = 1 if step < _SLOWEST else 2
    if thin == 2:
        meant = np.sort(np.concatenate([meant, (meant[1:] + meant[:-1]) / 2]))
        step /= 2
    best = in_one_octave(follow(activation))
    frames = len(activation.beat)
    wanted, reach = np.full(len(decoder_scores(activation)[0]), step), _TAPPED
    if len(best.times) >= EVEN:
        pace = pace_of(best, frames)
        here = float(np.median(pace[(meant * GRID).astype(np.int64).clip(0, len(pace) - 1)]))
        ratio = min(
            (1.0, *(r for r, _unused in RATIOS)), key=lambda r: abs(np.log(step / here / r))
        )
        if abs(np.log(step / here / ratio)) < _SAME:
            wanted, reach = pace * ratio, _REACH
    beats = follow_at(activation, wanted, reach, meant)
    if beats is None:
        beats = beats_of(meant, activation)
    if thin == 2:
        first = int(np.abs(beats.times - meant[0]).argmin()) % 2
        beats = replace(
            beats, times=beats.times[first::2], places=beats.places[first::2],
            confidence=beats.confidence[first::2], sure=beats.sure[first::2],
        )  # fmt: skip
    one = int(np.abs(beats.times - meant[0]).argmin())
    bars = find_bars(energies, activation, beats.times, one=one)
    if bars is not None:
        beats = replace(beats, places=bars.places, sure=bars.sure)
    return _reading(beats, _("as tapped"), 1.0)


def _heard(samples: Samples, sample_rate: int, report: Report) -> tuple[Floats, Activation]:
    energies = band_energies(samples, sample_rate, lambda done: report(0.35 * done, _("Listening")))
    activation = activation_of(energies)
    report(0.5, _("Comparing"))
    return energies, activation


def _with_bars(
    beats: Beats,
    words: str,
    chance: float,
    energies: Floats,
    activation: Activation,
    *,
    every: bool,
) -> list[Reading]:
    """The beats with the best bars over them or, with `every`, with all that could be laid."""
    ways: list[tuple[str, Bars, float]] = rotations(energies, activation, beats.times)
    if not ways:
        return [_reading(beats, words, chance)]
    scores = _SHARP_BARS * np.array([score for *_unused, score in ways])
    shares = np.exp(scores - np.logaddexp.reduce(scores))
    rows = []
    for k in np.argsort(-shares) if every else [int(np.argmax(shares))]:
        name, bars, _unused = ways[int(k)]
        laid = replace(beats, places=bars.places, sure=bars.sure)
        share = float(shares[k]) if every else 1.0
        text = (words, name)[bool(name)] if every else words
        rows.append(_reading(laid, text, chance * share))
    return rows


def _reading(beats: Beats, words: str, likelihood: float) -> Reading:
    times = tuple(np.round(beats.times, 6).tolist())
    return Reading(
        words,
        round(float(likelihood), 4),
        times,
        tuple(int(p) for p in beats.places),
        confidence_stretches(times, beats.confidence * beats.sure, beats.seconds),
    )
