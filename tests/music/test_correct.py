"""Corrections: what is wrong in the usual ways is right after a gesture or two."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserError
from rehearse.music import correct
from rehearse.music.beatmap import Accent, BeatMap, Build, Confidence, Stretch


def song(bpm: float = 120.0, start: float = 0.5, beats: int = 64, bar: int = 4) -> BeatMap:
    times = tuple(round(start + k * 60 / bpm, 6) for k in range(beats))
    places = tuple(k % bar + 1 for k in range(beats))
    return BeatMap("x", start + beats * 60 / bpm, times, places)


def valid(beatmap: BeatMap) -> bool:
    """What `BeatMap` promises of its beats."""
    times = np.asarray(beatmap.beats)
    inside = all(not any(b in s for s in beatmap.free) for b in beatmap.beats)
    return (
        len(beatmap.beats) == len(beatmap.places)
        and bool((np.diff(times) > 0).all())
        and all(0 <= t < beatmap.duration for t in beatmap.beats)
        and all(p >= 1 for p in beatmap.places)
        and inside
        and all(a.end <= b.start for a, b in zip(beatmap.free, beatmap.free[1:], strict=False))
        and all(t in beatmap.beats for t in beatmap.restarts)
    )


def test_half_tempo_on_the_off_beat_is_right_after_two_corrections():
    truth = song()
    wrong = BeatMap(
        "x", truth.duration, tuple(t + 0.25 for t in truth.beats[::2]), (1, 2, 3, 4) * 8
    )
    right = correct.shift_beats(correct.double_tempo(wrong), -0.5)
    assert right.beats == pytest.approx(truth.beats)
    assert right.places == truth.places


def test_double_tempo_is_right_after_one_correction():
    truth = song()
    every = sorted([*truth.beats, *(t + 0.25 for t in truth.beats)])
    wrong = BeatMap("x", truth.duration, tuple(every), tuple(k % 4 + 1 for k in range(128)))
    right = correct.halve_tempo(wrong)
    assert right.beats == pytest.approx(truth.beats)
    assert right.places == truth.places


def test_a_stretch_is_corrected_and_the_rest_left_alone():
    truth = song()
    part = Stretch(8.4, 16.4)
    changed = correct.double_tempo(truth, part)
    for beat in truth.beats:
        assert beat in changed.beats
    extra = [t for t in changed.beats if t not in truth.beats]
    assert len(extra) == 16
    assert all(t in part for t in extra)
    assert correct.halve_tempo(changed, part).beats == truth.beats


def test_the_grid_moves_by_a_beat_without_moving_in_time():
    truth = song(bar=4)
    moved = correct.shift_beats(truth, 1)
    assert moved.beats == pytest.approx(truth.beats)
    assert moved.places[:5] == (4, 1, 2, 3, 4)


@pytest.mark.parametrize("counts", [0.5, -0.5])
def test_the_grid_moves_by_half_a_beat_at_its_ends_too(counts):
    truth = song()
    moved = correct.shift_beats(truth, counts)
    assert moved.beats == pytest.approx([t + counts * 0.5 for t in truth.beats])


def test_the_grid_moves_back_in_each_run_by_itself():
    free = correct.mark_free(song(), Stretch(16.0, 20.0))
    moved = correct.shift_beats(free, -1)
    assert moved.beats == pytest.approx(free.beats)
    assert moved.places == tuple(place % 4 + 1 for place in free.places)


def test_a_nudge_follows_the_tempo_of_nothing_but_the_clock():
    moved = correct.nudge(song(), -0.012)
    assert moved.beats == pytest.approx([t - 0.012 for t in song().beats])


def test_the_one_is_set_for_the_whole_run():
    wrong = correct.shift_beats(song(), 1)
    assert correct.set_one(wrong, 0.52).places == song().places


def test_setting_the_one_settles_half_the_doubt_of_its_run():
    doubtful = replace(
        song(),
        free=(Stretch(16.0, 20.0),),
        beats=tuple(t for t in song().beats if not 16.0 <= t < 20.0),
        places=tuple(
            p for t, p in zip(song().beats, song().places, strict=True) if not 16 <= t < 20
        ),
        confidence=(Confidence(0.5, 16.0, 0.36), Confidence(20.5, 32.0, 0.36)),
    )
    settled = correct.set_one(doubtful, 1.0)
    assert [c.value for c in settled.confidence] == [0.6, 0.36]


def test_bars_of_three():
    three = correct.set_bar(song(bar=4), 3)
    assert three.places[:7] == (1, 2, 3, 1, 2, 3, 1)
    with pytest.raises(UserError, match="2 to 7"):
        correct.set_bar(song(), 9)


@pytest.mark.parametrize("seed", range(5))
def test_tapping_finds_the_beats_behind_a_scattered_early_hand(seed):
    # 30 ms scatter and 35 ms lead: the middle of the ranges in Repp 2005 (from memory).
    rng = np.random.default_rng(seed)
    truth = song(bpm=112)
    onsets = sorted([*truth.beats, *(t + 30 / 112 for t in truth.beats)])
    taps = np.asarray(truth.beats[8:40]) - 0.035 + rng.normal(0, 0.03, 32)
    taps = np.delete(taps, [5, 17])
    off = correct.nudge(truth, 0.2)
    right = correct.tap_along(off, taps.tolist(), onsets)
    found = np.asarray([t for t in right.beats if truth.beats[8] - 0.2 < t])
    error = found[:32] - np.asarray(truth.beats[8:40])
    assert np.abs(error).max() < 0.025
    assert valid(right)


def test_tapping_follows_a_tempo_that_drifts():
    rng = np.random.default_rng(1)
    times = 0.5 + np.cumsum(60 / np.linspace(100, 130, 48))
    truth = BeatMap("x", float(times[-1]) + 2, (), ())
    taps = times - 0.02 + rng.normal(0, 0.015, 48)
    found = np.asarray(correct.tap_along(truth, taps.tolist(), times.tolist()).beats)
    assert np.abs(found - times).max() < 0.03


@pytest.mark.parametrize("taps", [[], [1.0, 1.5, 2.0], [1.0, 1.01, 1.02, 9.0]])
def test_taps_that_make_no_tempo_are_refused_in_a_sentence(taps):
    with pytest.raises(UserError, match="tap"):
        correct.tap_along(song(), taps)


def test_free_time_takes_its_beats_along_and_lifting_it_gives_them_back():
    truth = song()
    freed = correct.mark_free(truth, Stretch(8.25, 12.25))
    assert not any(8.25 <= t < 12.25 for t in freed.beats)
    assert valid(freed)
    assert correct.lift_free(freed, 10.0).beats == pytest.approx(truth.beats)
    assert correct.lift_free(freed, 10.0).places == truth.places
    with pytest.raises(UserError, match="no free time"):
        correct.lift_free(truth, 10.0)


@pytest.mark.parametrize("part", [Stretch(0.25, 4.25), Stretch(28.25, 32.5)])
def test_free_time_at_an_end_of_the_song_is_counted_on_from_its_one_side(part):
    again = correct.lift_free(correct.mark_free(song(), part), part.start + 1.0)
    assert again.beats == pytest.approx(song().beats)
    assert again.places == song().places


def test_free_time_that_touches_is_joined():
    once = correct.mark_free(song(), Stretch(8.0, 10.0))
    twice = correct.mark_free(once, Stretch(9.0, 12.0))
    assert twice.free == (Stretch(8.0, 12.0),)


def test_an_accent_is_added_and_struck_with_the_build_that_led_to_it():
    hit = correct.add_accent(song(), 4.5)
    built = replace(hit, builds=(Build(2.0, 4.5, 4.5),))
    assert built.accents == (Accent(4.5, 1.0),)
    struck = correct.strike_accent(built, 4.6)
    assert struck.accents == ()
    assert struck.builds == (Build(2.0, 4.5, None),)
    with pytest.raises(UserError, match="no accent"):
        correct.strike_accent(struck, 4.6)
    assert correct.strike_accent(hit, 4.75).accents == ()
    for far in (4.24, 4.76):  # a quarter of a second is near enough, more is not
        with pytest.raises(UserError, match="no accent"):
            correct.strike_accent(hit, far)


def test_an_eight_restarts_on_a_beat_and_no_longer():
    once = correct.toggle_restart(song(), 2.6)
    assert once.restarts == (2.5,)
    assert str(once.position_at(2.5)) == "2:1"
    assert correct.toggle_restart(once, 2.45).restarts == ()


def test_nothing_to_correct_is_said():
    empty = BeatMap("x", 10.0)
    for gesture in (correct.double_tempo, correct.halve_tempo):
        with pytest.raises(UserError, match="no beats here"):
            gesture(empty)
    with pytest.raises(UserError, match="no beats yet"):
        correct.set_one(empty, 1.0)


stretches = st.one_of(
    st.none(),
    st.tuples(st.floats(0, 30), st.floats(1, 10)).map(lambda p: Stretch(p[0], p[0] + p[1])),
)
gestures = st.one_of(
    st.tuples(st.just("double_tempo"), stretches),
    st.tuples(st.just("halve_tempo"), stretches),
    st.tuples(st.just("shift_beats"), st.sampled_from([0.5, -0.5, 1.0, -1.0, 2.0]), stretches),
    st.tuples(st.just("nudge"), st.floats(-0.1, 0.1), stretches),
    st.tuples(st.just("set_one"), st.floats(0, 35)),
    st.tuples(st.just("set_bar"), st.integers(2, 7), stretches),
    st.tuples(st.just("mark_free"), stretches.filter(bool)),
    st.tuples(st.just("lift_free"), st.floats(0, 35)),
    st.tuples(st.just("toggle_restart"), st.floats(0, 35)),
)


@settings(deadline=None, max_examples=150)
@given(st.lists(gestures, max_size=6))
def test_no_row_of_corrections_ever_breaks_the_map(row):
    beatmap = song()
    for name, *arguments in row:
        try:
            beatmap = getattr(correct, name)(beatmap, *arguments)
        except UserError:
            continue
        assert valid(beatmap)
        assert len(beatmap.counts) == len(beatmap.beats)
