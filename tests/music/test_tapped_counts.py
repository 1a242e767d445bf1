"""Four taps give counts to music in which none were found."""

from __future__ import annotations

import numpy as np
import pytest

from rehearse.files.user_error import UserError
from rehearse.music.beatmap import BeatMap, Confidence, Reading, Stretch
from rehearse.music.tapped_counts import take_tapped

NOTHING = Reading("as tapped", 1.0, (), ())
HAND = (10.02, 10.49, 11.01, 11.5)


def free_song(seconds=40.0):
    return BeatMap("x", seconds, (), (), free=(Stretch(0.0, seconds),))


def test_a_song_without_beats_is_counted_evenly_from_end_to_end():
    old = free_song()
    assert not old.has_counts
    new = take_tapped(old, NOTHING, HAND)
    assert new.has_counts
    assert new.free == ()
    steps = np.diff(new.beats)
    assert np.ptp(steps) < 1e-5
    assert steps[0] == pytest.approx(0.496, abs=0.01)
    assert new.beats[0] < steps[0]
    assert new.beats[-1] > 40.0 - 2 * steps[0]
    first = new.nearest(10.04)  # hands are early
    assert new.beats[first] == pytest.approx(10.04, abs=0.02)
    assert new.places[first] == 1
    assert new.counts[first].count == 1


def test_a_stretch_of_free_time_is_counted_and_the_rest_stays_as_it_is():
    before, after = [0.5 * k for k in range(17)], [14.0 + 0.5 * k for k in range(60)]
    beats = (*before, *after)
    places = (*(k % 4 + 1 for k in range(17)), *(k % 4 + 1 for k in range(60)))
    old = BeatMap("x", 44.0, beats, places, free=(Stretch(8.1, 14.0), Stretch(43.6, 44.0)))
    new = take_tapped(old, NOTHING, HAND)
    assert new.free == (Stretch(43.6, 44.0),)
    assert [b for b in new.beats if not 8.1 <= b < 14.0] == list(beats)
    assert np.diff(new.beats).min() > 0.24  # no stumble at either end


def test_a_beat_that_can_be_heard_at_the_tapped_tempo_is_followed():
    times = tuple(round(0.3 + 0.52 * k, 6) for k in range(76))
    places = tuple(k % 4 + 1 for k in range(76))
    sure = Reading("as tapped", 1.0, times, places, (Confidence(0.0, 40.0, 0.8),))
    assert take_tapped(free_song(), sure, HAND).beats == times
    unsure = Reading("as tapped", 1.0, times, places, (Confidence(0.0, 40.0, 0.3),))
    assert take_tapped(free_song(), unsure, HAND).beats != times


def test_taps_where_there_are_counts_take_the_reading_and_too_few_are_refused():
    beats = tuple(0.5 * k for k in range(80))
    old = BeatMap("x", 40.0, beats, (1, 2, 3, 4) * 20)
    half = Reading("half the counts", 0.2, beats[::2], (1, 2, 3, 4) * 10)
    assert take_tapped(old, half, HAND).beats == beats[::2]
    with pytest.raises(UserError):
        take_tapped(free_song(), NOTHING, HAND[:3])
