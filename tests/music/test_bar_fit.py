"""How the bars' weights are learnt, on evidence made by hand."""

import numpy as np
import pytest

from rehearse.music.analysis.bar_evidence import WITNESSES
from rehearse.music.analysis.bars import best_bars, moves
from training.bar_fit import Song, fit, ways
from training.bar_songs import with_odd_bar
from training.piece import Note, Piece

BASS = WITNESSES.index("bass note")


def made(rng, bar, beats=48):
    """A song begun anywhere whose bass, in noise, sounds on the first beat of its bars."""
    places = (np.arange(beats) + rng.integers(bar)) % bar + 1
    seen = rng.normal(0, 0.7, (beats, len(WITNESSES)))
    seen[places == 1, BASS] += 1.5
    return Song(np.arange(beats) * 0.5, places, seen)


def test_the_witness_that_tells_gets_the_weight():
    rng = np.random.default_rng(0)
    weights = fit([made(rng, bar) for bar in (4, 3) * 60])
    strongest = np.unravel_index(np.argmax(weights), weights.shape)
    assert strongest[0] == BASS
    assert int(np.argmax(weights[BASS, :4])) == 0
    assert int(np.argmax(weights[BASS, 4:])) == 0
    unseen = [made(rng, bar) for bar in (4, 3) * 10]
    right = [
        np.mean(best_bars(s.seen @ weights, moves(s.times)).places == s.places) for s in unseen
    ]
    assert np.mean(right) > 0.9


@pytest.mark.parametrize(("bar", "right"), [(4, 1), (3, 1), (2, 2)])
def test_ways_to_lay_bars(bar, right):
    """Of bars of two, both ways to lay bars of four over them are right."""
    song = made(np.random.default_rng(1), bar)
    sums, good = ways(song)
    assert sums.shape == (7, len(WITNESSES), 7)
    assert good.sum() == right
    assert sums[:4, :, :4].sum(axis=2) == pytest.approx(np.tile(song.seen.sum(axis=0), (4, 1)))
    if right == 1:
        best = int(np.flatnonzero(good)[0])
        first = sums[best, BASS, 0 if bar == 4 else 4]
        assert first == pytest.approx(song.seen[song.places == 1, BASS].sum())


@pytest.mark.parametrize("bar", [4, 3])
def test_an_odd_bar_loses_its_first_beats(bar):
    beats = 16 * bar
    places = [k % bar + 1 for k in range(beats)]
    notes = [Note(k, 1.0, 60 + places[k], 80, 0) for k in range(beats)]
    piece = Piece(notes, {0: 0}, np.arange(beats + 1) * 0.5, places)
    odd = with_odd_bar(np.random.default_rng(2), piece)
    lost = beats - len(odd.places)
    assert lost in (1, 2)
    assert len(odd.beats) == len(odd.places) + 1
    assert [n.pitch - 60 for n in sorted(odd.notes, key=lambda n: n.at)] == odd.places
    assert [n.at for n in odd.notes] == list(range(len(odd.places)))
    assert sum(a % bar + 1 != b for a, b in zip(odd.places, odd.places[1:], strict=False)) == 1
