"""What counts as a gap in the sound, and what is only a stream finding its pace."""

import pytest

from rehearse.playback.messages import Heard
from rehearse.playback.output_watch import Gaps
from rehearse.playback.timeline import LineFit

RATE = 1000


def through(gaps, messages):
    """Give messages (seconds, line's time, underruns, missing frames); what was told, in order."""
    told = []
    for now, zero, underruns, missing in messages:
        line = None if zero is None else LineFit(zero, 0.0, RATE, 1e9)
        if seconds := gaps.since(Heard((), line, underruns, missing), RATE, now):
            told.append(seconds)
    return told


def steady(begin, end, zero, underruns=0, missing=0):
    return [(0.03 * k, zero, underruns, missing) for k in range(int(begin / 0.03), int(end / 0.03))]


@pytest.fixture
def gaps():
    gaps = Gaps()
    gaps.settle(0.0)
    return gaps


def test_a_line_that_moves_on_for_good_is_a_gap_of_that_length_told_once(gaps):
    messages = [*steady(0, 8, 5.0), *steady(8, 9, 6.9), *steady(9, 20, 6.9)]
    assert through(gaps, messages) == [pytest.approx(1.9)]


def test_a_gap_the_line_follows_in_steps_is_told_as_one(gaps):
    messages = [*steady(0, 8, 5.0), *steady(8, 8.1, 5.9), *steady(8.1, 20, 6.8)]
    assert through(gaps, messages) == [pytest.approx(1.8)]


def test_while_a_stream_starts_only_what_the_device_tells_of_counts(gaps):
    messages = [(0.0, None, 0, 0), *steady(0.5, 1.5, 0.6), *steady(1.5, 20, 1.6)]
    assert through(gaps, messages) == []
    again = Gaps()
    again.settle(0.0)
    messages = [*steady(0.5, 1.5, 0.6), *steady(1.5, 20, 1.6, underruns=1)]
    assert through(again, messages) == [pytest.approx(1.0)]


def test_a_move_to_another_speaker_is_none(gaps):
    assert through(gaps, steady(0, 8, 5.0)) == []
    gaps.settle(8.0)
    assert through(gaps, steady(8, 20, 5.2)) == []


def test_clicks_jitter_drift_and_corrections_are_none(gaps):
    drift = [(0.03 * k, 5.0 + 100e-6 * 0.03 * k, 0, 0) for k in range(40_000)]  # twenty minutes
    assert through(gaps, drift) == []
    later = 0.03 * 40_000
    messages = [(later + 0.03 * k, 5.12 + 0.004 * (k % 2), 0, 0) for k in range(200)]
    messages += [(later + 6 + 0.03 * k, 5.16, 0, 0) for k in range(200)]  # 40 ms
    messages += [(later + 12 + 0.03 * k, 4.0, 0, 0) for k in range(200)]  # it was wrong before
    assert through(gaps, messages) == []


def test_music_that_was_not_ready_is_one(gaps):
    messages = [*steady(0, 6, 5.0), *steady(6, 8, 5.0, missing=250)]
    assert through(gaps, messages) == [pytest.approx(0.25)]
    assert through(gaps, steady(8, 10, 5.0, missing=290)) == []
