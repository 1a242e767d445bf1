"""Tracks made for measuring, and the small measurements the playback tests share."""

import numpy as np

from rehearse.music.track import Track
from rehearse.playback.lap import Lap
from rehearse.playback.pieces import render_reel

RATE = 44_100


def made(samples, rate=RATE, name="made"):
    """A track from samples of one or two channels."""
    samples = np.asarray(samples, np.float32)
    if samples.ndim == 1:
        samples = np.repeat(samples[:, None], 2, axis=1)
    samples = np.ascontiguousarray(samples)
    samples.setflags(write=False)
    return Track(samples, rate, name, name)


def lap_of(track, passage, again=True):
    """A passage with its music, rendered here and now."""
    lap = Lap.of(passage, track.sample_rate, again=again)
    lap.reel = render_reel(track.samples, lap)
    return lap


def onsets(samples, rate=RATE, *, least=0.1, apart=0.1):
    """Seconds at which bursts begin: power above 3 kHz first above a quarter of its peak near by.

    The high-pass is a plain second difference; bursts are noise, so it keeps them.
    """
    mono = np.asarray(samples, np.float64)
    mono = mono.mean(axis=1) if mono.ndim == 2 else mono
    high = np.convolve(mono, [1, -2, 1], "same") ** 2
    power = np.convolve(high, np.ones(32) / 32, "same")
    threshold = least * power.max()
    found, last = [], -rate
    for index in np.flatnonzero(power > threshold):
        if index - last > apart * rate:
            window = power[index : index + int(0.02 * rate)]
            peak = window.max()
            begin = max(0, index - int(0.01 * rate))
            ahead = power[begin : index + len(window)]
            found.append((begin + int(np.argmax(ahead > peak / 4))) / rate)
        last = index
    return np.array(found)


def frequency(samples, rate=RATE):
    """Frequency of a steady tone, by parabolic interpolation of a windowed spectrum."""
    wave = np.asarray(samples, np.float64)
    spectrum = np.log(np.abs(np.fft.rfft(wave * np.blackman(len(wave)), 4 * len(wave))) + 1e-12)
    k = int(np.argmax(spectrum))
    a, b, c = spectrum[k - 1 : k + 2]
    return (k + 0.5 * (a - c) / (a - 2 * b + c)) * rate / (4 * len(wave))


def true_peak_db(samples):
    """True peak in dBFS by 16-fold resampling with scipy, independent of the limiter's filter."""
    from scipy.signal import resample_poly

    dense = resample_poly(np.asarray(samples, np.float64), 16, 1, axis=0, window=("kaiser", 10.0))
    return 20 * np.log10(max(np.abs(dense).max(), np.abs(samples).max(), 1e-9))
