"""The limiter: true peak under its ceiling, everything below it untouched."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.playback.limiter import CEILING, Limiter, limit, peaks_of, true_peaks
from tests.helpers.playback_tools import RATE, true_peak_db


def limited(samples, sizes=None):
    """Run a signal, with some silence before, through a limiter in blocks."""
    limiter = Limiter(RATE)
    samples = np.concatenate([np.zeros((500, 2)), samples]).astype(np.float32)
    padded = np.concatenate([samples, np.zeros((limiter.margin, 2), np.float32)])
    out, position, turn = [], 0, 0
    while position < len(samples):
        size = sizes[turn % len(sizes)] if sizes else 512
        size = min(size, len(samples) - position)
        out.append(limiter.process(padded[position : position + size + limiter.margin]))
        position, turn = position + size, turn + 1
    return np.concatenate(out)[500:]


def stereo(wave):
    return np.repeat(np.asarray(wave)[:, None], 2, axis=1)


TIME = np.arange(RATE) / RATE
HOT = {
    "noise": 0.6 * np.random.default_rng(0).standard_normal((RATE, 2)),
    "square": stereo(np.sign(np.sin(2 * np.pi * 997 * TIME))),
    "between samples": stereo(1.2 * np.sin(2 * np.pi * RATE / 4 * TIME + np.pi / 4)),
    "bursts": stereo(2.0 * np.sin(2 * np.pi * 3000 * TIME) * (np.sin(2 * np.pi * 5 * TIME) > 0.9)),
}


@pytest.mark.parametrize("name", HOT)
def test_the_true_peak_stays_under_the_ceiling(name):
    assert true_peak_db(HOT[name]) > 0
    assert true_peak_db(limited(HOT[name])) <= -1.0


def test_what_is_below_the_ceiling_is_not_touched():
    quiet = 0.8 * stereo(np.sin(2 * np.pi * 440 * TIME)) + 0.05 * HOT["noise"]
    quiet = (quiet * 0.88 / np.abs(quiet).max()).astype(np.float32)
    assert true_peak_db(quiet) < -1.0
    assert np.array_equal(limited(quiet), quiet)


def test_after_a_peak_it_lets_go_completely():
    wave = 0.5 * stereo(np.sin(2 * np.pi * 440 * np.arange(4 * RATE) / RATE)).astype(np.float32)
    wave[RATE] = 1.5
    out = limited(wave)
    assert np.array_equal(out[-RATE:], wave[-RATE:])
    assert np.array_equal(out[: RATE - 500], wave[: RATE - 500])


@settings(max_examples=8)
@given(st.lists(st.integers(1, 2500), min_size=1, max_size=12))
def test_block_sizes_do_not_matter(sizes):
    wave = HOT["bursts"][: RATE // 4]
    assert np.abs(limited(wave, sizes) - limited(wave)).max() < 1e-6


def test_peaks_between_samples_are_seen():
    """ITU-R BS.1770-4, annex 2: a sine at a quarter of the rate, sampled 45° off its peaks, reads
    3.01 dB below its true level from the samples alone."""
    wave = stereo(np.sin(2 * np.pi * RATE / 4 * TIME[:4000] + np.pi / 4)).astype(np.float32)
    assert 20 * np.log10(np.abs(wave).max()) == pytest.approx(-3.01, abs=0.01)
    assert 20 * np.log10(true_peaks(wave)[1000:-1000].max()) == pytest.approx(0.0, abs=0.05)


def test_the_ceiling_is_one_decibel_below_full_scale():
    assert 20 * np.log10(CEILING) == pytest.approx(-1.0)


@pytest.mark.parametrize("name", HOT)
@pytest.mark.parametrize("ceiling", [-1.0, -3.0])
def test_a_whole_sound_is_limited_to_any_ceiling(name, ceiling):
    loud = HOT[name].astype(np.float32)
    assert true_peak_db(limit(loud, RATE, ceiling=10 ** (ceiling / 20))) <= ceiling


def test_a_whole_sound_keeps_what_lies_a_tenth_of_a_second_from_its_peaks_bit_for_bit():
    quiet = (0.05 * HOT["noise"]).astype(np.float32)
    joined = np.concatenate([quiet, HOT["noise"], quiet]).astype(np.float32)
    out = limit(joined, RATE)
    near = RATE // 10
    assert not np.array_equal(out, joined)
    assert np.array_equal(out[: RATE - near], joined[: RATE - near])
    assert np.array_equal(out[2 * RATE + near :], joined[2 * RATE + near :])
    again = limit(joined, RATE, peaks=peaks_of(joined))
    assert np.array_equal(again, out)


def test_the_gain_never_has_a_corner():
    wave = 0.25 * stereo(np.sin(2 * np.pi * 60 * TIME)).astype(np.float32)
    wave[RATE // 2 : RATE // 2 + 50] *= 12
    out = limit(wave, RATE)
    changed = np.abs(out[:, 0] - wave[:, 0]) > 1e-7
    loud = np.where(np.abs(wave[changed, 0]) > 1e-3, wave[changed, 0], np.nan)
    assert 0 < np.nanmax(np.abs(np.diff(out[changed, 0] / loud))) < 0.02
    assert np.abs(out).max() <= CEILING


def test_silence_and_nothing_stay_as_they_are():
    for frames in (0, 1, 5000):
        sound = np.zeros((frames, 2), np.float32)
        assert np.array_equal(limit(sound, RATE), sound)
