"""Counts keep to one octave of tempo, and to the one that people tap where either would do."""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest

from rehearse.music.analysis import beats as finding
from rehearse.music.analysis.beatpath import follow
from rehearse.music.analysis.features import BANDS
from rehearse.music.analysis.paces import in_one_octave
from rehearse.music.analysis.readings import readings_of
from tests.music.test_beat_decoder import activation, grid


def agreement(times, beats) -> float:
    """Continuity at the right level: CMLt of Davies, Degara & Plumbley, C4DM-TR-09-06."""
    return mir_eval.beat.continuity(np.asarray(times), beats.times)[1]


def halves_heard(bpm, counts, first, height=1.0):
    """Counts, and the halves between them heard nearly as loudly from count `first` on."""
    times, _ = grid([bpm] * counts)
    between = (times[1:] + times[:-1]) / 2
    heard = activation(
        times, [1] * len(times), times[-1] + 0.3, extra=between[first:], extra_height=height
    )
    return times, heard


def test_counts_do_not_change_their_octave_within_a_song():
    times, heard = halves_heard(96, 56, 30)
    found = follow(heard)
    steps = np.diff(found.times)
    assert np.median(steps[:20]) > 1.8 * np.median(steps[-20:])
    assert agreement(times, in_one_octave(found)) > 0.95


def test_the_octave_that_people_tap_is_taken_where_either_would_do():
    """Two a second is tapped more readily than four (van Noorden & Moelants 1999)."""
    slow, _ = grid([112] * 20)
    fast, _ = grid([224] * 40, start=slow[-1])
    heard = activation(
        [*slow, *fast[1:]], [1] * 61, fast[-1] + 0.3, extra=(slow[1:] + slow[:-1]) / 2,
        extra_height=-1.8,
    )  # fmt: skip
    steady = in_one_octave(follow(heard))
    assert np.median(np.diff(steady.times)) == pytest.approx(60 / 112, abs=0.01)
    assert np.ptp(np.diff(steady.times)) < 0.1


@pytest.mark.parametrize("bpm", [56, 168])
def test_counts_that_are_clear_stay_as_found(bpm):
    times, places = grid([bpm] * 40)
    found = follow(activation(times, places, times[-1] + 0.3))
    assert in_one_octave(found) is found


def test_a_real_change_of_tempo_stays():
    times, places = grid([92] * 28 + [138] * 36)
    found = follow(activation(times, places, times[-1] + 0.3))
    assert in_one_octave(found) is found


def test_too_few_counts_are_left_alone():
    times, places = grid([100] * 8)
    found = follow(activation(times, places, times[-1] + 0.3))
    assert in_one_octave(found) is found


def test_readings_are_likely_as_the_map_weighs_them():
    """The pace on the map is the likeliest, all ways to lay bars over it taken together."""
    _, heard = halves_heard(96, 56, 30)
    rows = readings_of(np.ones((len(heard.beat), BANDS), np.float32), heard)
    twice = [row.likelihood for row in rows if row.words == "twice the counts"]
    others = {"half the counts", "three counts for two", "two counts for three"}
    others |= {"three counts for four", "four counts for three", "twice the counts"}
    assert sum(row.likelihood for row in rows if row.words not in others) > sum(twice) > 0


def test_beats_that_are_pinned_keep_their_pace(monkeypatch):
    """Who has pinned some has said which is meant."""
    asked = []
    monkeypatch.setattr(finding, "in_one_octave", lambda found: asked.append(found) or found)
    sound = np.zeros((22050 * 4, 2), np.float32)
    sound[::11025] = 0.5
    finding.find_beats(sound, 22050, pins=(1.0,))
    assert not asked
    finding.find_beats(sound, 22050)
    assert len(asked) == 1
