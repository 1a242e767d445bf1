"""Counts, lengths and positions against worked examples.

Sources: counts as dancers write them – eights 1–8, "e & a" quarters; at 120 BPM in 4/4 a count
lasts 0.500 s, "&" falls 0.250 s and "e" 0.125 s after it, an eight lasts 4.000 s (arithmetic of
the tempo marking; common practice of dance for the names).
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.position import Count, Length, Seconds, parse_length, parse_position


def steady(bpm=120.0, beats=64, start=1.0, bar=4, pickup=0):
    step = 60.0 / bpm
    places = tuple((k - pickup) % bar + 1 for k in range(beats))
    times = tuple(start + k * step for k in range(beats))
    return BeatMap("hash", start + beats * step + 2, times, places)


@pytest.mark.parametrize(
    ("text", "seconds"), [("1:1", 0.0), ("1:2", 0.5), ("1:1&", 0.25), ("1:1e", 0.125),
                          ("1:1a", 0.375), ("2:1", 4.0), ("3:5", 10.0), ("3:5&", 10.25)],
)  # fmt: skip
def test_counts_at_120_in_four_four(text, seconds):
    assert steady().time_of(parse_position(text)) == pytest.approx(1.0 + seconds, abs=1e-9)


def test_pickup_beats_are_the_last_counts_of_eight_zero():
    counts = steady(pickup=2).counts
    assert [str(c) for c in counts[:4]] == ["0:7", "0:8", "1:1", "1:2"]


def test_bars_of_three_are_counted_in_sixes():
    counts = steady(bar=3).counts
    assert str(counts[5]) == "1:6"
    assert str(counts[6]) == "2:1"


def test_a_restart_begins_a_new_eight():
    base = steady()
    again = BeatMap("h", base.duration, base.beats, base.places, restarts=(base.beats[12],))
    assert str(again.counts[11]) == "2:4"
    assert str(again.counts[12]) == "3:1"
    assert str(again.counts[20]) == "4:1"


def test_free_time_ends_an_eight_and_has_no_count():
    base = steady(beats=32)
    beats = tuple(t for t in base.beats if not 6.0 <= t < 9.0)
    places = tuple(p for t, p in zip(base.beats, base.places, strict=True) if not 6.0 <= t < 9.0)
    broken = BeatMap("h", base.duration, beats, places, free=(Stretch(6.0, 9.0),))
    assert broken.beat_at(7.0) is None
    assert broken.phase_at(7.0) is None
    assert broken.counts_between(5.0, 9.5) is None
    assert str(broken.position_at(7.0)) == "7.00 s"
    assert str(broken.counts[broken.beat_at(9.0)]) == "3:1"


def test_a_pickup_after_free_time_ends_an_eight_of_its_own():
    """Eight counts of 0.5 s, 4 s of free time, then two beats before the first bar."""
    places = (1, 2, 3, 4, 1, 2, 3, 4, 3, 4, 1, 2)
    times = (*(0.5 * k for k in range(8)), *(8.0 + 0.6 * k for k in range(4)))
    broken = BeatMap("h", 20.0, times, places, free=(Stretch(4.0, 8.0),))
    assert [str(c) for c in broken.counts[7:]] == ["1:8", "2:7", "2:8", "3:1", "3:2"]
    assert broken.runs == ((0, 8), (8, 12))
    assert broken.intervals == pytest.approx([0.5] * 8 + [0.6] * 4)
    assert broken.counts_between(0.0, 3.5) == 7.0
    assert broken.counts_between(3.5, 8.0) is None
    assert broken.counts_between(8.0, 9.8) == pytest.approx(3.0)
    assert broken.shift(8.6, Length(-3)) == pytest.approx(8.0 - 2 * 0.6)
    assert broken.shift(3.0, Length(4)) == pytest.approx(5.0)


def test_a_beat_alone_between_free_time_lasts_half_a_second():
    alone = BeatMap("h", 9.0, (1.0, 2.0, 5.0), (1, 2, 1), free=(Stretch(3, 5), Stretch(5.5, 9)))
    assert alone.intervals == (1.0, 1.0, 0.5)
    assert [alone.beat_at(t) for t in (0.9, 2.9, 3.0, 5.0, 5.49, 5.5)] == [
        None,
        1,
        None,
        2,
        2,
        None,
    ]


def test_the_nearest_beat_is_the_earlier_of_two_and_none_without_beats():
    base = steady(beats=4)  # at 1.0, 1.5, 2.0 and 2.5 s
    assert [base.nearest(t) for t in (0.0, 1.25, 1.26, 1.5, 2.3, 9.0)] == [0, 0, 1, 1, 3, 3]
    assert BeatMap("h", 10.0).nearest(3.0) == -1


@pytest.mark.parametrize(
    ("off", "text"),
    [(0.0, "1:2"), (-0.001, "1:2"), (0.376, "1:2a"), (0.499, "1:3"), (0.06, "1.56 s")],
)
def test_a_place_close_to_a_quarter_is_that_quarter(off, text):
    assert str(steady().position_at(1.5 + off, tolerance=0.002)) == text


def test_the_last_beat_sounds_for_one_interval_only():
    base = steady(beats=8)
    assert base.beat_at(base.beats[-1] + 0.49) == 7
    assert base.beat_at(base.beats[-1] + 0.51) is None


def test_lengths_in_counts_follow_a_tempo_change():
    beats = (0.0, 1.0, 2.0, 2.5, 3.0)
    changing = BeatMap("h", 4.0, beats, (1, 2, 3, 4, 1))
    assert changing.shift(0.0, Length(3)) == pytest.approx(2.5)
    assert changing.shift(3.0, Length(-2)) == pytest.approx(2.0)
    assert changing.shift(0.5, Length(2.5)) == pytest.approx(2.5)


def test_lengths_go_on_past_the_last_beat_at_its_tempo():
    base = steady(beats=4)
    assert base.shift(base.beats[-1], Length(2)) == pytest.approx(base.beats[-1] + 1.0)
    assert base.shift(base.beats[0], Length(-2)) == pytest.approx(0.0)


def test_a_map_without_beats_answers_in_seconds():
    empty = BeatMap("h", 10.0)
    assert empty.position_at(3.21) == Seconds(3.21)
    assert empty.shift(3.0, Length(2)) == pytest.approx(4.0)
    assert empty.runs == ()


@given(st.floats(40, 240), st.integers(0, 63), st.integers(0, 3))
def test_position_and_time_are_inverse(bpm, index, quarter):
    base = steady(bpm)
    count = base.counts[index]
    position = Count(count.eight, count.count, quarter)
    assert base.position_at(base.time_of(position)) == position


@given(st.integers(0, 999), st.integers(1, 8), st.integers(0, 3))
def test_written_counts_are_read_back(eight, count, quarter):
    position = Count(eight, count, quarter)
    assert parse_position(str(position)) == position


@given(st.integers(0, 10**9))
def test_written_seconds_are_read_back_to_the_microsecond(microseconds):
    position = Seconds(microseconds / 1e6)
    assert parse_position(str(position)).value == pytest.approx(position.value, abs=5e-7)


@given(st.integers(0, 400), st.booleans())
def test_written_lengths_are_read_back(quarters, in_counts):
    length = Length(quarters / 4, in_counts)
    assert parse_length(str(length)) == length


def test_what_is_finer_than_is_written_again_is_rounded_as_it_is_read():
    assert parse_position("1.0000014 s") == Seconds(1.000001)
    assert parse_position("0.0000006 s") == Seconds(0.000001)
    assert parse_length("1.2346 counts") == Length(1.235)
    assert parse_length("1.2344 s") == Length(1.234, in_counts=False)
    assert str(parse_position("-0.0000001 s")) == "0.00 s"


def test_positions_are_put_in_order_and_stand_in_sets():
    assert sorted([Seconds(2.0), Seconds(1.0)]) == [Seconds(1.0), Seconds(2.0)]
    assert sorted([Count(2, 1), Count(1, 8, 1), Count(1, 8)])[0] == Count(1, 8)
    assert len({Length(1.0), Length(1.0), Length(1.0, in_counts=False)}) == 2


@pytest.mark.parametrize("text", ["", "3:9", "3-5", "three", "4 beats", "1:0"])
def test_what_is_no_position_is_refused_with_an_example(text):
    with pytest.raises(ValueError, match=r"3:5&"):
        parse_position(text)
