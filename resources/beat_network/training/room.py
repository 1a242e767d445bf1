"""What happens to music between the players and the file: rooms, mixing desks, codecs, noise."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from training.piece import Rng

Floats = npt.NDArray[np.float32]


def record(sound: Floats, rate: int, rng: Rng) -> Floats:
    """`sound` (mono) through a chain chosen by chance; same length, peak 0.05–1."""
    if rng.random() < 0.45:
        sound = _room(sound, rate, rng)
    if rng.random() < 0.6:
        sound = _equalize(sound, rate, rng)
    if rng.random() < 0.5:
        sound = _compress(sound, rate, rng)
    if rng.random() < 0.15:
        drive = np.float32(rng.uniform(1.5, 6))
        sound = np.tanh(drive * sound / np.float32(np.abs(sound).max() + 1e-6))
    if rng.random() < 0.35:
        sound = sound + _noise(len(sound), rng) * np.float32(
            np.sqrt(np.mean(sound**2)) * 10 ** (-rng.uniform(12, 45) / 20)
        )
    level = rng.uniform(0.05, 1.0) / (float(np.abs(sound).max()) + 1e-6)
    return np.asarray(sound * np.float32(level), np.float32)


def _size(count: int) -> int:
    """A length of at least `count` that is quick to transform."""
    return -(-count // 65536) * 65536


def _convolve(sound: Floats, response: Floats) -> Floats:
    size = _size(len(sound) + len(response))
    product = np.fft.rfft(sound, size) * np.fft.rfft(response, size)
    return np.fft.irfft(product, size)[: len(sound)].astype(np.float32)


def _room(sound: Floats, rate: int, rng: Rng) -> Floats:
    """Exponentially decaying noise as the room's response, with the direct sound before it."""
    decay = 10 ** rng.uniform(-0.7, 0.4)
    t = np.arange(int(min(decay, 2.0) * rate)) / rate
    tail = rng.normal(0, 1, len(t)) * 10 ** (-3 * t / decay)
    tail = np.convolve(tail, np.ones(4) / 4, "same")
    tail *= rng.uniform(0.1, 1.0) / np.sqrt(np.sum(tail**2))
    tail[0] += 1
    return _convolve(sound, tail.astype(np.float32))


def _equalize(sound: Floats, rate: int, rng: Rng) -> Floats:
    """A smooth curve of a few decibels; at times the narrow band of a phone or a lossy codec."""
    size = _size(len(sound))
    spectrum = np.fft.rfft(sound, size)
    freqs = (np.arange(len(spectrum)) * rate / size).astype(np.float32)
    knots = np.geomspace(40, rate / 2, 7)
    gain = np.interp(np.log(freqs + 1), np.log(knots), rng.normal(0, 5, 7))
    if rng.random() < 0.3:
        gain -= 24 * np.maximum(0, np.log2((freqs + 1) / rng.uniform(2500, 9000)))
    if rng.random() < 0.2:
        gain -= 18 * np.maximum(0, np.log2(rng.uniform(60, 400) / (freqs + 1)))
    gain = np.power(np.float32(10), np.clip(gain, -80, 20).astype(np.float32) / 20)
    return np.fft.irfft(spectrum * gain, size)[: len(sound)].astype(np.float32)


def _compress(sound: Floats, rate: int, rng: Rng) -> Floats:
    """Gain that follows the level of 10 ms blocks, quick to fall and slower to rise."""
    block = rate // 100
    count = len(sound) // block + 1
    padded = np.zeros(count * block, np.float32)
    padded[: len(sound)] = sound
    level = np.sqrt(np.mean(padded.reshape(count, block) ** 2, axis=1)) + 1e-5
    follow = np.empty(count)
    release = 1 - np.exp(-0.01 / rng.uniform(0.05, 0.5))
    held = level[0]
    for k, now in enumerate(level):
        held = now if now > held else held + release * (now - held)
        follow[k] = held
    ratio = rng.uniform(0.2, 0.8)
    gain = (np.median(follow) / follow) ** ratio
    gain = np.minimum(gain, 8)
    smooth = np.interp(np.arange(len(sound)) / block, np.arange(count), gain)
    return (sound * smooth).astype(np.float32)


def _noise(count: int, rng: Rng) -> Floats:
    """Noise of unit power, between white and brown."""
    size = _size(count)
    spectrum = np.fft.rfft(rng.standard_normal(size, np.float32))
    tilt = np.float32(rng.uniform(0, 0.9))
    spectrum /= np.arange(20, size // 2 + 21, dtype=np.float32) ** tilt
    noise = np.fft.irfft(spectrum, size)[:count]
    return np.asarray(noise / np.sqrt(np.mean(noise**2)), np.float32)
