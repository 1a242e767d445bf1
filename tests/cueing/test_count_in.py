"""Counts before a pass and before a hit, their clicks, and the clap before a filmed run.

Sources: "5, 6, 7, 8" as the usual count-in, its last count one beat before the start (common
practice, no source); beats over 1.5 s apart get their "&" (Repp 2005, Psychonomic Bulletin &
Review 12, 969–992).
"""

from __future__ import annotations

import numpy as np
import pytest

from rehearse.cueing.clap import clap, clap_before
from rehearse.cueing.count_in import click, count_in, lead_in
from rehearse.music.beatmap import BeatMap, Stretch

BEATS = tuple(2.0 + 0.5 * k for k in range(32))
MAP = BeatMap("h", 30.0, BEATS, tuple(k % 4 + 1 for k in range(32)), free=(Stretch(0, 2.0),))


def test_count_in_scales_with_the_tempo_and_ends_one_beat_before_the_start():
    heard = count_in(MAP, 4.0, tempo=0.5)
    assert [c.label for c in heard] == ["1", "2", "3", "4"]  # it begins on 1:5
    assert [c.label for c in count_in(MAP, 6.0)] == ["5", "6", "7", "8"]
    assert [c.label for c in count_in(MAP, 0.5)] == ["5", "6", "7", "8"]  # free time
    assert [c.at for c in heard] == pytest.approx([-4.0, -3.0, -2.0, -1.0])


def test_slow_counts_get_their_and():
    slow = BeatMap("h", 60.0, tuple(2.0 * k for k in range(20)), (1, 2, 3, 4) * 5)
    assert [c.label for c in count_in(slow, 16.0, counts=2)] == ["7", "&", "8", "&"]


def test_a_click_starts_at_once_and_ends_in_silence():
    sound = click(44100, strong=True)
    assert np.argmax(np.abs(sound) > 0.25) < 0.001 * 44100
    assert abs(sound[-1]) < 1e-6
    assert len(sound) == int(0.045 * 44100)  # over before a count said with it
    assert np.abs(sound).max() < 0.5  # the music is heard beside it
    last = np.abs(sound[-len(sound) // 8 :])  # it fades, and is not cut off before its end
    assert last[: len(last) // 4].max() > 1e-4
    quieter = np.abs(click(44100)).max() / np.abs(click(44100, soft=True)).max()
    assert 20 * np.log10(quieter) == pytest.approx(10, abs=0.2)


def test_a_clap_begins_at_once_and_is_over_before_the_count_in():
    """Five counts of 0.5 s before the music at its tempo, twice as far at half of it."""
    assert clap_before(MAP, 6.0) == 2.5
    assert clap_before(MAP, 6.0, tempo=0.5) == 5.0
    sound = np.abs(clap(8000))
    assert 0.69 < sound.max() < 0.71
    assert sound[:40].max() > 0.2  # within 5 ms
    assert len(sound) < 0.4 * 8000
    assert sound[-40:].max() < 0.01
    again = [
        k for k in range(40, len(sound)) if sound[k : k + 40].max() > 4 * sound[k - 40 : k].max()
    ]
    assert len({k // 80 for k in again}) >= 3  # more than one clap, so that one is found in noise


@pytest.mark.parametrize("start", [1.99, 2.0, 2.1, 18.01])
def test_a_pass_beside_its_beat_is_counted_in_at_the_pace_of_the_beats(start):
    """Just before the first beat, which ends the free time, and just behind the last."""
    assert [c.at for c in count_in(MAP, start)] == pytest.approx([-2.0, -1.5, -1.0, -0.5])


def test_in_free_time_a_count_takes_a_second():
    heard = count_in(MAP, 0.5, counts=8)
    assert [c.at for c in heard] == [-8.0, -7.0, -6.0, -5.0, -4.0, -3.0, -2.0, -1.0]
    assert [c.label for c in heard] == list("12345678")
    assert clap_before(MAP, 0.5) == 5.0


def test_a_pass_between_two_beats_is_led_in_to_the_one_behind_it():
    assert [c.label for c in count_in(MAP, 2.6)] == ["7", "8", "1", "2"]  # the 3 comes next


def test_the_count_in_begins_on_the_first_bar_of_a_map_with_a_pick_up():
    """Two beats before the first bar are the 7 and 8 of the eight before (`BeatMap.counts`)."""
    led = BeatMap("h", 20.0, BEATS, tuple((k + 2) % 4 + 1 for k in range(32)))
    assert [c.label for c in count_in(led, 3.0)] == ["5", "6", "7", "8"]
    assert [c.label for c in count_in(led, 2.5)] == ["4", "5", "6", "7"]


def test_nothing_is_counted_at_or_before_the_hit_before():
    assert [c.label for c in lead_in(MAP, 6.0, 4.0, 1.0)] == ["6", "7", "8"]
    assert [c.label for c in lead_in(MAP, 6.0, 4.4, 1.0)] == ["6", "7", "8"]
    assert [c.label for c in lead_in(MAP, 1.9, -0.1, 1.0)] == ["1"]
    assert lead_in(MAP, 6.0, 5.5, 1.0) == ()


def test_a_hit_a_rounding_error_behind_its_beat_is_on_that_beat():
    led = lead_in(MAP, 6.0003, 0.0, 1.0)
    assert [(c.label, c.time) for c in led] == [("5", 4.0), ("6", 4.5), ("7", 5.0), ("8", 5.5)]


@pytest.mark.parametrize(("counting", "labels"), [("eights", "12"), ("in", "78")])
def test_counts_before_a_hit_do_not_reach_back_over_free_time(counting, labels):
    """The second stretch of beats begins at 10.0 s with a new eight; the hit is its 3."""
    beats = (*BEATS[:12], *(10.0 + 0.5 * k for k in range(12)))
    places = tuple(k % 4 + 1 for k in range(24))
    cut = BeatMap("h", 30.0, beats, places, free=(Stretch(0, 2.0), Stretch(8.0, 10.0)))
    led = lead_in(cut, 11.0, 0.0, 1.0, counting)
    assert [(c.label, c.time) for c in led] == list(zip(labels, (10.0, 10.5), strict=True))


def pitch(sound, rate):
    """Hz of the loudest tone, to 5 Hz."""
    return 5 * np.argmax(np.abs(np.fft.rfft(sound, rate // 5)))


@pytest.mark.parametrize("rate", [22050, 44100, 48000])
def test_the_strong_click_sounds_a_fourth_higher_at_every_rate(rate):
    """A pure fourth is 4:3; both lie in the octave above 1 kHz, which small speakers play."""
    plain, strong = (pitch(click(rate, strong=s), rate) for s in (False, True))
    assert strong / plain == pytest.approx(4 / 3, rel=0.02)
    assert plain == pytest.approx(1320, abs=10)


def test_a_click_dies_away_and_is_no_beep():
    sound = np.abs(click(44100))
    assert sound[: 441 // 4].max() > 0.3  # 2.5 ms
    assert sound[882:1323].max() < 0.15 * sound.max()  # 20 to 30 ms


@pytest.mark.parametrize("sound", [click, clap])
def test_a_sound_that_is_shared_cannot_be_changed(sound):
    with pytest.raises(ValueError, match="read-only"):
        sound(44100)[0] = 1.0


def test_the_clap_is_one_noise_at_every_rate():
    low, high = clap(8000), clap(16000)
    assert np.corrcoef(low, high[::2])[0, 1] > 0.999


def test_the_clap_fits_a_phones_microphone_and_a_small_speaker():
    power = np.abs(np.fft.rfft(clap(16000), 16000)) ** 2
    assert power[600:3400].sum() > 0.98 * power.sum()  # Hz


def test_a_matched_filter_finds_the_clap_at_one_place_only():
    """The autocorrelation of a sound is what such a filter answers to it (Turin 1960)."""
    sound = clap(8000)
    answer = np.abs(np.correlate(sound, sound, "full"))
    middle = len(sound) - 1
    assert answer[middle + 8 :].max() < 0.25 * answer[middle]  # from a millisecond beside it on


def test_the_roll_has_six_claps_at_uneven_distances_none_of_them_twice():
    sound = clap(8000)
    loud = np.sqrt(np.convolve(sound**2, np.ones(16) / 16, "valid"))  # of 2 ms
    rises = [k for k in range(24, len(loud)) if loud[k] > 4 * loud[k - 16] and loud[k] > 0.2]
    begins = [0.0] + [k / 8000 for k, before in zip(rises, [-99, *rises], strict=False)
                      if k - before > 80]  # fmt: skip
    assert len(begins) == 6
    gaps = np.diff(begins)
    assert np.abs(gaps[:, None] - gaps)[~np.eye(5, dtype=bool)].min() > 0.0005
    assert begins[-1] < 0.3
