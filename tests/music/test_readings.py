"""Other ways to count a song: kept with their likelihood, and found from four taps."""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest

from rehearse.files.user_error import UserError
from rehearse.music.analysis.beatpath import follow
from rehearse.music.analysis.features import BANDS, FPS, energies_of_mono
from rehearse.music.analysis.network import activation_of
from rehearse.music.analysis.readings import reading_at, readings_of
from rehearse.music.beatmap import BeatMap, Reading, Stretch
from rehearse.music.correct import take_reading
from tests.music.kinds import KINDS, make_kind
from tests.music.test_beat_decoder import activation, grid


def agreement(reading: Reading, times) -> float:
    """Continuity at the right level: CMLt of Davies, Degara & Plumbley, C4DM-TR-09-06."""
    found = np.asarray(reading.times)
    return mir_eval.beat.continuity(np.asarray(times), found)[1] if len(found) > 1 else 0.0


@pytest.mark.parametrize("ratio", [0.5, 2.0, 1.5, 4 / 3], ids=["half", "double", "x1.5", "x1.33"])
def test_a_wrong_best_reading_is_right_after_three_at_most(ratio):
    """What the network hears leads astray: the true counts are fainter than the wrong ones."""
    times, _ = grid([96] * 56)
    wrong = np.arange(0.5, times[-1], 60 / 96 / ratio)
    strong, faint = (wrong, times) if ratio > 1 else (times[::2], times)
    heard = activation(strong, [1] * len(strong), times[-1] + 0.3, extra=faint, extra_height=1.5)
    if ratio < 1:
        heard = activation(strong, [1] * len(strong), times[-1] + 0.3, extra=faint, extra_height=-2)
    assert mir_eval.beat.continuity(times, follow(heard).times)[1] < 0.5
    rows = readings_of(np.ones((len(heard.beat), BANDS), np.float32), heard)
    assert sum(row.likelihood for row in rows) == pytest.approx(1.0, abs=0.02)
    assert max(agreement(row, times) for row in rows[1:4]) > 0.9


@pytest.fixture(scope="module", params=KINDS)
def kind(request):
    sound, times, places = make_kind(request.param, 32.0)
    energies = energies_of_mono(sound)
    return energies, activation_of(energies), times, places


def test_the_likeliest_reading_stands_first_and_others_are_kept(kind):
    energies, heard, times, places = kind
    rows = readings_of(energies, heard)
    assert rows[0].likelihood == max(row.likelihood for row in rows)
    assert len(rows) >= 4
    assert agreement(rows[0], times) > 0.9
    assert "2 in a bar" in {row.words for row in rows} or max(places) == 3


@pytest.mark.parametrize("pace", [1, 2])
def test_four_taps_pick_the_reading(kind, pace):
    """Taps of a hand (scatter of 20 ms, 20 ms early: Repp 2005) on every count or every second."""
    energies, heard, times, places = kind
    one = int(np.flatnonzero(places == 1)[4])
    hand = times[one:][:: 1 * pace][:4] + np.random.default_rng(2).normal(0, 0.02, 4)
    reading = reading_at(energies, heard, hand)
    assert agreement(reading, times[one % pace :: pace]) > 0.9
    found, laid = np.asarray(reading.times), np.asarray(reading.places)
    assert laid[np.abs(found - times[one]).argmin()] == 1


def test_taps_where_the_network_hears_no_beat_are_counts_themselves():
    times, _ = grid([90] * 30)
    heard = activation([], [], times[-1], free=((0.0, times[-1]),))
    reading = reading_at(np.ones((len(heard.beat), BANDS), np.float32), heard, times[4:8])
    assert len(reading.times) >= 4
    assert len(heard.beat) / FPS > reading.times[-1]


def test_a_reading_leaves_free_time_free_and_eights_on_their_beats():
    beats = tuple(0.5 * k for k in range(40))
    old = BeatMap("x", 20.0, beats[:16] + beats[24:], (1, 2, 3, 4) * 8,
                  free=(Stretch(8.0, 12.0),), restarts=(14.0,))  # fmt: skip
    twice = tuple(0.25 * k for k in range(80))
    new = take_reading(old, Reading("twice the counts", 0.2, twice, (1, 2, 3, 4) * 20))
    assert not [b for b in new.beats if 8.0 <= b < 12.0]
    assert new.restarts == (14.0,)
    assert len(new.beats) == 64
    part = take_reading(old, Reading("twice", 0.2, twice, (1, 2, 3, 4) * 20), Stretch(14.0, 16.0))
    assert len(part.beats) == len(old.beats) + 4
    with pytest.raises(UserError):
        take_reading(old, Reading("nothing", 0.1, (), ()))
