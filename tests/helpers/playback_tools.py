"""Tracks made for measuring, and the small measurements the playback tests share."""

import time

import numpy as np

from rehearse.music.track import Track
from rehearse.playback.loop_pass import LoopPass
from rehearse.playback.segment import PassStarted
from rehearse.playback.stretch_chunks import render_buffer

RATE = 44_100
#: Two tones that fit whole seconds, so that loops of whole seconds have no seam.
TONES = (1000.0, 2000.0)


def made(samples, rate=RATE, name="made"):
    """A track from samples of one or two channels."""
    samples = np.asarray(samples, np.float32)
    if samples.ndim == 1:
        samples = np.repeat(samples[:, None], 2, axis=1)
    samples = np.ascontiguousarray(samples)
    samples.setflags(write=False)
    return Track(samples, rate, name, name)


def clicking(seconds, seed):
    """Two-millisecond bursts of noise at irregular known times over a quiet chord.

    Returns: track, times of the bursts (s).
    """
    rng = np.random.default_rng(seed)
    moment = np.arange(seconds * RATE) / RATE
    samples = sum(0.03 * np.sin(2 * np.pi * f * moment) for f in (220.0, 277.2, 440.0))
    times, at, length = [], 0.5, int(0.002 * RATE)
    while at < seconds - 0.5:
        start = round(at * RATE)
        samples[start : start + length] += 0.4 * rng.uniform(-1, 1, length)
        times.append(start / RATE)
        at += rng.uniform(0.3, 0.5)
    return made(samples), np.array(times)


def loop_pass_of(track, segment, again=True):
    """A segment with its music, rendered here and now."""
    loop_pass = LoopPass.of(segment, track.sample_rate, again=again)
    loop_pass.buffer = render_buffer(track.samples, loop_pass)
    return loop_pass


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


def tone(index, seconds=8.0):
    """One of the two tones, float32 (frames, 2)."""
    wave = 0.4 * np.sin(2 * np.pi * TONES[index] * np.arange(int(seconds * RATE)) / RATE)
    return np.repeat(wave[:, None], 2, 1).astype(np.float32)


def find_breaks(samples):
    """Seconds at which a recording of the tones breaks, and how long it is silent in all.

    A sum of two sines of known frequencies obeys a linear recursion; where the samples do not,
    something is missing. Cross-fades are slow enough to pass.
    """
    samples = np.asarray(samples, np.float64)
    sounding = np.flatnonzero(np.abs(samples) > 0.01)
    if not len(sounding):
        raise ValueError("the recording is silent")
    samples = samples[sounding[0] : sounding[-1] + 1]
    kernel = np.array([1.0])
    for frequency in TONES:
        kernel = np.convolve(kernel, [1.0, -2 * np.cos(2 * np.pi * frequency / RATE), 1.0])
    error = np.abs(np.convolve(samples, kernel, "valid"))
    bad = np.flatnonzero(error > 0.002)
    first = bad[np.diff(np.concatenate([[-RATE], bad])) > RATE // 50]
    envelope = np.convolve(np.abs(samples), np.ones(88) / 88, "same")
    return [float(place) / RATE for place in first], float(np.sum(envelope < 0.01)) / RATE


def until(player, condition, seconds=20.0):
    """Poll until the condition on the events so far holds; returns the events."""
    events = []
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        events += player.poll()
        if condition(events):
            return events
        time.sleep(0.005)
    raise AssertionError(f"not within {seconds} s; events: {events}, now: {player.now()}")


def kinds(events):
    return [(type(e).__name__, getattr(e, "key", ""), getattr(e, "pass_number", 0)) for e in events]


def started(count):
    return lambda events: sum(isinstance(e, PassStarted) for e in events) >= count
