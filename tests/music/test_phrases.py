"""Eights begin where the music's phrases do, if those say so clearly."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rehearse.music.analysis.phrases import phrase_starts
from rehearse.music.beatmap import Accent, BeatMap, Part, Stretch


def song(bar, phrases, bars=48, hits=()):
    """Beats every half second; parts and strong hits begin on these bars (from 0)."""
    beats = tuple(0.5 * k for k in range(bars * bar))
    starts = [k * bar * 0.5 for k in (0, *phrases)]
    ends = [*starts[1:], beats[-1] + 0.5]
    parts = tuple(Part(a, b, "A") for a, b in zip(starts, ends, strict=True))
    accents = tuple(Accent(k * bar * 0.5 + 0.01, 0.9) for k in hits)
    places = tuple(k % bar + 1 for k in range(len(beats)))
    return BeatMap("x", beats[-1] + 0.5, beats, places, parts=parts, accents=accents)


@pytest.mark.parametrize(
    ("bar", "before", "every"), [(4, 1, 2), (4, 3, 2), (3, 1, 2), (2, 3, 4), (2, 1, 4)]
)
def test_bars_before_the_first_phrase_are_an_eight_of_their_own(bar, before, every):
    """Phrases of four and eight bars after `before` bars of their own."""
    phrases = [before + k for k in (0, 8, 16, 20, 28)]
    beatmap = song(bar, phrases)
    counted = replace(beatmap, restarts=phrase_starts(beatmap))
    for phrase in phrases:
        assert counted.counts[phrase * bar].count == 1
    assert [c.count for c in counted.counts[: before % every * bar]] == list(
        range(1, before % every * bar + 1)
    )


@pytest.mark.parametrize("phrases", [(8, 16, 24, 32), (9, 16, 25, 32), (9,), ()])
def test_eights_that_begin_with_the_music_or_without_a_clear_vote_stay(phrases):
    assert phrase_starts(song(4, phrases)) == ()


def test_strong_hits_vote_too_and_every_run_for_itself():
    beatmap = song(4, (), hits=(1, 5, 9, 13, 17))
    assert phrase_starts(beatmap) == (beatmap.beats[4],)
    gap = Stretch(40.0, 48.0)
    kept = [k for k, t in enumerate(beatmap.beats) if t not in gap]
    apart = replace(
        beatmap,
        beats=tuple(beatmap.beats[k] for k in kept),
        places=tuple(beatmap.places[k] for k in kept),
        free=(gap,),
    )
    assert phrase_starts(apart) == (beatmap.beats[4],)
    assert phrase_starts(replace(beatmap, beats=(), places=(), parts=())) == ()
