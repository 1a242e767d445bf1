"""Where the 1 is: bars laid over beats, on made songs begun anywhere in the bar.

The songs are written here, by common practice (no source), and played by the plain synthesizer;
the generator that the weights were fitted on has no part in them.
"""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from rehearse.music.analysis.analyse import analyse
from rehearse.music.analysis.bar_evidence import WITNESSES, evidence
from rehearse.music.analysis.bars import FEWEST, STATES, best_bars, find_bars, load_weights, moves
from rehearse.music.analysis.beatpath import Beats, follow
from rehearse.music.analysis.beats import find_beats, in_bars
from rehearse.music.analysis.features import RATE, band_energies
from rehearse.music.analysis.network import activation_of
from rehearse.music.track import Track, hash_samples
from training.piece import DRUMS, Note, Piece
from training.synth import play

KICK, SNARE, HAT, RIDE, PEDAL = 36, 38, 42, 51, 44
# Roots of four bars, as steps above C.
CHORDS = (0, 9, 5, 7)


def chord(at, length, root):
    return [Note(at, length, 60 + (root + step) % 12, 70, 1) for step in (0, 4, 7)]


def rock(bar):
    """Kick on 1 and 3, back-beat on 2 and 4, eighths; one chord a bar."""
    notes = [Note(k / 2, 0.2, HAT, 60, DRUMS) for k in range(8)]
    notes += [Note(k, 0.2, drum, 100, DRUMS) for k, drum in enumerate((KICK, SNARE, KICK, SNARE))]
    notes += [Note(k / 2, 0.45, 36 + CHORDS[bar % 4], 90, 0) for k in range(8)]
    return 4, notes + chord(0, 3.9, CHORDS[bar % 4])


def swing(bar):
    """Ride and pedal, a bass that walks from the root, chords held for a bar."""
    notes = [
        Note(k + d, 0.2, RIDE, 80, DRUMS) for k in range(4) for d in (0, 2 / 3) if d < k % 2 + 0.1
    ]
    notes += [Note(k, 0.2, PEDAL, 80, DRUMS) for k in (1, 3)]
    root = CHORDS[bar % 4]
    notes += [Note(k, 0.9, 36 + root + step, 90, 0) for k, step in enumerate((0, 4, 7, 9))]
    return 4, notes + chord(0, 3.8, root)


def waltz(bar):
    """Bass on 1, chords on 2 and 3."""
    root = CHORDS[bar % 4]
    notes = [Note(0, 0.9, 36 + root, 95, 0), Note(0, 0.2, KICK, 100, DRUMS)]
    notes += [Note(k, 0.2, HAT, 70, DRUMS) for k in (1, 2)]
    return 3, [*notes, *chord(1, 0.8, root), *chord(2, 0.8, root)]


def song(style, bpm, bars=18, *, late=0, dropped=None):
    """Samples, beats and places; `late` beats in, without the last half of bar `dropped`."""
    notes, places = [], []
    for bar in range(bars):
        beats, played = style(bar)
        size = beats // 2 if bar == dropped else beats
        notes += [
            Note(n.at + len(places), n.length, n.pitch, n.velocity, n.channel)
            for n in played
            if n.at < size
        ]
        places += range(1, size + 1)
    times = 0.4 + np.arange(len(places) + 1) * 60 / bpm
    piece = Piece(notes, {0: 0, 1: 0, DRUMS: 0}, times, places)
    sound = play(piece, RATE, np.random.default_rng(4))
    cut = times[late] - 0.4
    sound = 0.4 * sound[round(cut * RATE) :]
    return np.column_stack([sound, sound]), times[late:-1] - cut, np.array(places[late:])


def share(found: Beats, times, places):
    """Share of the true beats, but for the last two, that were found with their own place."""
    at = np.abs(found.times[:, None] - times).argmin(axis=0)
    right = (np.abs(found.times[at] - times) < 0.05) & (found.places[at] == places)
    return float(np.mean(right[:-2]))


BEGUN = [
    *((rock, 116, late) for late in range(4)),
    *((swing, 150, late) for late in range(4)),
    *((waltz, 132, late) for late in range(3)),
]


@pytest.mark.parametrize(("style", "bpm", "late"), BEGUN)
def test_the_one_is_found_wherever_a_song_begins(style, bpm, late):
    """Also when the network has no opinion: chords, bass and drums tell it alone."""
    samples, times, places = song(style, bpm, late=late)
    energies = band_energies(samples, RATE)
    heard = activation_of(energies)
    for first in (heard.first, np.zeros_like(heard.first)):
        beats = follow(replace(heard, first=first))
        assert share(in_bars(beats, energies), times, places) > 0.9


def test_half_a_bar_less_moves_the_one():
    samples, times, places = song(rock, 116, 32, dropped=15)
    found = find_beats(samples, RATE)
    assert share(found, times, places) > 0.85


def test_doubt_is_told():
    """A row of like strokes has no 1; a song with a back-beat and chords has one."""
    samples, _, _ = song(rock, 116)
    like = Piece(
        [Note(k, 0.2, SNARE, 90, DRUMS) for k in range(72)], {DRUMS: 0}, np.arange(73) / 2, [1] * 72
    )
    sound = 0.4 * play(like, RATE, np.random.default_rng(1))
    bare = np.column_stack([sound, sound])
    clear, vague = find_beats(samples, RATE), find_beats(bare, RATE)
    assert np.mean(clear.sure) > 0.9
    assert np.mean(vague.sure) < 0.7
    shown = analyse(Track(bare, RATE, hash_samples(bare, RATE))).confidence
    assert max(c.value for c in shown) < 0.7


def brute_force(scores, between):
    """Every row of states there is: the best, and the probability of each state at each beat."""
    rows = list(itertools.product(range(len(STATES)), repeat=len(scores)))
    totals = np.array([
        sum(scores[k, s] for k, s in enumerate(row))
        + sum(between[k][a, b] for k, (a, b) in enumerate(itertools.pairwise(row)))
        for row in rows
    ])  # fmt: skip
    weights = np.exp(totals - totals.max())
    chance = np.zeros((len(scores), len(STATES)))
    for row, weight in zip(rows, weights / weights.sum(), strict=True):
        chance[np.arange(len(row)), row] += weight
    return rows[int(totals.argmax())], chance


@pytest.mark.parametrize("seed", range(4))
def test_best_row_and_its_probability_are_those_of_all_rows(seed):
    rng = np.random.default_rng(seed)
    scores = rng.normal(0, 3, (4, len(STATES)))
    between = moves(np.array([0.0, 0.5, 1.0, 1.7]))
    row, chance = brute_force(scores, between)
    places = np.array([place for _, place in STATES])
    found = best_bars(scores, between)
    assert found.places.tolist() == places[list(row)].tolist()
    same = places[list(row)][:, None] == places
    assert found.sure == pytest.approx((chance * same).sum(axis=1))


def test_counting_on_is_free_and_starts_anew_after_a_gap():
    between = moves(np.array([0.5, 1.0, 1.5, 2.0, 6.0, 6.5, 7.0, 7.5]))
    assert between[0][0, 1] == between[0][3, 0] == between[0][6, 4] == 0.0
    assert between[0][0, 2] < between[1][0, 1]
    assert between[0][0, 4] < between[0][3, 4] < 0.0
    assert np.all(between[3] == 0.0)


def test_an_uneven_step_makes_a_jump_cheaper():
    even, uneven = np.arange(12) * 0.5, np.arange(12) * 0.5
    uneven[6:] += 0.2
    assert moves(even)[5][0, 0] < moves(uneven)[5][0, 0] <= 0.0


def test_evidence_hears_what_it_is_named_after():
    samples, times, places = song(rock, 116)
    energies = band_energies(samples, RATE)
    seen = evidence(energies, activation_of(energies), times)
    assert seen.shape == (len(times), len(WITNESSES))
    assert np.isfinite(seen).all()
    mean = {
        name: [seen[places == k, i].mean() for k in (1, 2, 3, 4)]
        for i, name in enumerate(WITNESSES)
    }
    assert min(mean["low attack"][0::2]) > max(mean["low attack"][1::2])
    assert int(np.argmax(mean["chord, 1 beat"])) == 0


def test_weights_are_complete():
    weights = load_weights()
    assert weights.shape == (len(WITNESSES), len(STATES))
    assert np.isfinite(weights).all()
    assert 0.0 < np.abs(weights).max() < 2.0


def test_too_few_beats_are_left_as_they_are():
    energies = np.zeros((200, 88), np.float32)
    times = np.arange(FEWEST - 1) * 0.5
    assert find_bars(energies, activation_of(energies), times) is None
