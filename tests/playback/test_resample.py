"""Sound at another rate: right to the frame over any length, clean, and hardly in advance."""

import numpy as np
import pytest

from rehearse.playback.resample import Resampler
from tests.helpers.playback_tools import true_peak_db

PAIRS = [
    (44_100, 48_000), (48_000, 44_100), (44_100, 96_000), (96_000, 44_100), (96_000, 48_000),
    (48_000, 96_000), (8_000, 48_000), (192_000, 44_100), (44_056, 48_000),
]  # fmt: skip


class Source:
    """Frames of a long sound, counted as they are taken; silence after its end."""

    def __init__(self, samples):
        self.samples, self.taken = samples, 0

    def __call__(self, frames):
        part = self.samples[self.taken : self.taken + frames]
        self.taken += frames
        return np.concatenate([part, np.zeros((frames - len(part), 2), np.float32)])


def pulled(source, rates, frames, seed=0):
    """Frames at the device's rate, pulled in blocks of random length."""
    rng, blocks, done = np.random.default_rng(seed), [], 0
    resampler = Resampler(source, *rates)
    while done < frames:
        blocks.append(resampler.pull(min(frames - done, int(rng.integers(1, 1500)))))
        done += len(blocks[-1])
        ahead = source.taken - done * rates[0] / rates[1]
        assert ahead < 42 * max(1.0, rates[0] / rates[1]) + 1
    return np.concatenate(blocks)


@pytest.mark.parametrize("rates", PAIRS)
def test_tones_come_through_clean_and_in_time(rates):
    """Against the tones themselves: within -95 dB up to 80 % of the lower rate's bandwidth."""
    seconds, low = 1.5, min(rates)
    tones = [(0.1, 100.0), (0.1, 0.12 * low), (0.2, 0.4 * low)]

    def wave(rate):
        time = np.arange(int(seconds * rate)) / rate
        left = sum(a * np.sin(2 * np.pi * f * time) for a, f in tones)
        right = sum(a * np.cos(2 * np.pi * f * time) for a, f in tones)
        return np.stack([left, right], axis=1)

    expected = wave(rates[1])
    sound = pulled(Source(wave(rates[0]).astype(np.float32)), rates, len(expected))
    inside = slice(int(0.1 * rates[1]), int(1.4 * rates[1]))
    error = np.sqrt(np.mean((sound[inside] - expected[inside]) ** 2))
    assert 20 * np.log10(error / 0.17) < -95


@pytest.mark.parametrize("rates", [(44_100, 48_000), (48_000, 44_100), (96_000, 44_100)])
def test_it_agrees_with_a_well_known_resampler(rates):
    """Outside reference: soxr at its highest quality, on noise below both limits."""
    import soxr

    rng = np.random.default_rng(1)
    spectrum = np.fft.rfft(rng.standard_normal((rates[0], 2)), axis=0)
    spectrum[np.fft.rfftfreq(rates[0], 1 / rates[0]) > 0.4 * min(rates)] = 0
    noise = np.fft.irfft(spectrum, axis=0)
    noise *= 0.5 / np.abs(noise).max()
    expected = soxr.resample(noise, *rates, quality="VHQ")
    sound = pulled(Source(noise.astype(np.float32)), rates, len(expected))
    inside = slice(2_000, -2_000)
    error = np.sqrt(np.mean((sound[inside] - expected[inside]) ** 2) / np.mean(expected**2))
    assert 20 * np.log10(error) < -90


def test_what_cannot_be_held_at_the_lower_rate_is_removed():
    time = np.arange(96_000) / 96_000
    high = np.repeat((0.5 * np.sin(2 * np.pi * 30_000 * time))[:, None], 2, axis=1)
    sound = pulled(Source(high.astype(np.float32)), (96_000, 44_100), 40_000)
    assert 20 * np.log10(np.abs(sound[2_000:38_000]).max() / 0.5) < -80


def test_ten_minutes_do_not_move_a_click_by_a_frame():
    """The ratio of 44.1 to 48 kHz, at a thirtieth of the rates."""
    rates, click = (1_470, 1_600), 599 * 1_470
    source = Source(np.zeros((600 * rates[0], 2), np.float32))
    source.samples[click] = 0.5
    sound = pulled(source, rates, 600 * rates[1])
    assert int(np.argmax(sound[:, 0])) == 599 * rates[1]


def test_the_limited_peak_stays_limited():
    rng = np.random.default_rng(2)
    loud = (0.8 * np.sign(rng.standard_normal((44_100, 2)))).astype(np.float32)
    quiet = np.convolve(loud[:, 0], np.hanning(9) / 4, "same")
    loud = np.repeat((0.89 * quiet / np.abs(quiet).max())[:, None], 2, axis=1).astype(np.float32)
    sound = pulled(Source(loud), (44_100, 48_000), 47_000)
    assert true_peak_db(sound) < true_peak_db(loud) + 0.1
