"""Loudness against pyloudnorm and published test signals.

Sources: EBU Tech 3341, case 1 (1 kHz at −23 dBFS in both channels reads −23 LUFS ±0.1; from
memory); a sine at a quarter of the rate, its samples 45° beside the peaks, has a true peak
3.01 dB above its samples (arithmetic).
"""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest

from rehearse.handout.loudness import mastered, measure

RATE = 44100


def tone(hertz, level, seconds=20.0, phase=0.0, rate=RATE):
    time = np.arange(int(seconds * rate)) / rate
    wave = 10 ** (level / 20) * np.sin(2 * np.pi * hertz * time + phase)
    return np.stack([wave, wave], axis=1).astype(np.float32)


def music(seconds=20.0, seed=1):
    rng = np.random.default_rng(seed)
    time = np.arange(int(seconds * RATE)) / RATE
    sound = 0.1 * np.sin(2 * np.pi * 220 * time) + 0.02 * rng.standard_normal(len(time))
    for beat in np.arange(0.2, seconds - 0.3, 0.5):
        first = int(beat * RATE)
        sound[first : first + 8000] += (
            0.8 * rng.standard_normal(8000) * np.exp(-np.arange(8000) / 700)
        )
    return np.stack([sound, 0.8 * sound], axis=1).astype(np.float32)


def test_the_reference_tone_reads_minus_23():
    assert measure(tone(1000, -23), RATE).integrated == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_measured_loudness_agrees_with_pyloudnorm(seed):
    sound = music(seed=seed)
    expected = pyloudnorm.Meter(RATE).integrated_loudness(sound.astype(np.float64))
    assert measure(sound, RATE).integrated == pytest.approx(expected, abs=0.15)


def test_the_true_peak_between_samples_is_found():
    sound = tone(RATE / 4, -6, seconds=3, phase=np.pi / 4)
    sound *= np.hanning(len(sound)).astype(np.float32)[:, np.newaxis]
    assert 20 * np.log10(np.abs(sound).max()) == pytest.approx(-9.01, abs=0.05)
    assert measure(sound, RATE).true_peak == pytest.approx(-6.0, abs=0.3)


@pytest.mark.parametrize("gain", [0.02, 0.3, 2.0])
def test_mastered_sound_is_at_minus_16_with_peaks_under_minus_1(gain):
    result = mastered(music() * np.float32(gain), RATE)
    found = pyloudnorm.Meter(RATE).integrated_loudness(result.astype(np.float64))
    assert found == pytest.approx(-16.0, abs=1.0)
    assert measure(result, RATE).true_peak <= -1.0


def test_clicks_that_no_gain_makes_loud_enough_are_still_heard():
    clicks = np.zeros((RATE * 3, 2), np.float32)
    clicks[::RATE] = 1.0
    result = mastered(clicks, RATE, target=60.0)
    assert 0.8 < np.abs(result).max() <= 10 ** (-1 / 20)


def test_silence_stays_silence():
    quiet = np.zeros((RATE * 2, 2), np.float32)
    np.testing.assert_array_equal(mastered(quiet, RATE), quiet)
