"""The instruments of the demo's music: plain synthesis with NumPy, 44.1 kHz, float64 inside."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

RATE = 44100
Sound = npt.NDArray[np.float64]

_NOTES = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}


def pitch(name: str) -> float:
    """Hertz of a note such as `a4` (440 Hz, ISO 16) or `b-3`."""
    step = _NOTES[name[0]] + name.count("#") - name.count("-")
    return float(440.0 * 2 ** ((step - 9) / 12 + int(name[-1]) - 4))


def _time(seconds: float) -> Sound:
    return np.arange(int(seconds * RATE)) / RATE


def _lowpass(sound: Sound, cutoff: float, order: int = 2) -> Sound:
    spectrum = np.fft.rfft(sound)
    frequency = np.fft.rfftfreq(len(sound), 1 / RATE)
    return np.fft.irfft(spectrum / np.sqrt(1 + (frequency / cutoff) ** (2 * order)), len(sound))


def _highpass(sound: Sound, cutoff: float) -> Sound:
    return sound - _lowpass(sound, cutoff)


def _saw(frequency: float, time: Sound, brightness: float = 6000.0) -> Sound:
    harmonics = range(1, max(2, int(brightness / frequency)) + 1)
    return sum((np.sin(2 * np.pi * frequency * k * time + k) / k for k in harmonics), 0 * time)


def _fade(sound: Sound, attack: float, release: float) -> Sound:
    shape = np.ones(len(sound))
    a, r = max(1, int(attack * RATE)), max(1, int(release * RATE))
    shape[:a] = np.linspace(0, 1, a)[: len(shape)]
    shape[-r:] *= np.linspace(1, 0, r)[-len(shape) :]
    return sound * shape


def kick(_: np.random.Generator) -> Sound:
    """Bass drum: a sine falling from 150 to 48 Hz, with a short knock."""
    time = _time(0.34)
    sweep = 48 * time + 102 * 0.028 * (1 - np.exp(-time / 0.028))
    return np.sin(2 * np.pi * sweep) * np.exp(-time / 0.11) + 0.3 * np.exp(-time / 0.002)


def snare(random: np.random.Generator) -> Sound:
    """Snare drum: noise above a 190 Hz body."""
    time = _time(0.24)
    noise = _highpass(random.standard_normal(len(time)), 1200)
    return 0.5 * noise * np.exp(-time / 0.07) + 0.6 * np.sin(2 * np.pi * 190 * time) * np.exp(
        -time / 0.05
    )


def hat(random: np.random.Generator) -> Sound:
    """Closed hi-hat."""
    time = _time(0.07)
    return 0.4 * _highpass(random.standard_normal(len(time)), 7000) * np.exp(-time / 0.018)


def crash(random: np.random.Generator) -> Sound:
    """Crash cymbal, 2.4 s."""
    time = _time(2.4)
    noise = _highpass(random.standard_normal(len(time)), 3500)
    return _fade(0.6 * noise * np.exp(-time / 0.6), 0.001, 0.3)


def tom(_: np.random.Generator, frequency: float = 92.0) -> Sound:
    """Floor tom."""
    time = _time(0.6)
    sweep = frequency * time + 40 * 0.05 * (1 - np.exp(-time / 0.05))
    return np.sin(2 * np.pi * sweep) * np.exp(-time / 0.2)


def bass(frequency: float, seconds: float) -> Sound:
    """Plucked bass: a filtered saw-tooth over its fundamental."""
    time = _time(seconds)
    tone = 0.5 * _saw(frequency, time, 900) + 0.7 * np.sin(2 * np.pi * frequency * time)
    return _fade(tone * np.exp(-time / (0.9 * seconds + 0.1)), 0.004, 0.03)


def pad(notes: tuple[str, ...], seconds: float, brightness: float = 1600.0) -> Sound:
    """Warm sustained chord, two detuned voices a note, shape (frames, 2)."""
    time = _time(seconds)
    sides = []
    for detune in (0.9985, 1.0015):
        voices = sum((_saw(pitch(n) * detune, time, brightness) for n in notes), 0 * time)
        sides.append(_fade(_lowpass(voices, brightness), 0.25 * seconds, 0.3 * seconds))
    return np.stack(sides, axis=1) / (2.2 * len(notes))


def brass(notes: tuple[str, ...], seconds: float) -> Sound:
    """A chord stab that opens quickly: the accents poses are hit on."""
    time = _time(seconds)
    dark = sum((_saw(pitch(n), time, 1200) for n in notes), 0 * time)
    bright = sum((_saw(pitch(n) * 1.002, time, 7000) for n in notes), 0 * time)
    tone = dark + bright * np.exp(-time / 0.18)
    return _fade(tone * np.exp(-time / (0.7 * seconds)), 0.006, 0.12) / (1.6 * len(notes))


def bell(frequency: float, seconds: float = 3.0) -> Sound:
    """Struck metal: inharmonic partials with their own decays."""
    time = _time(seconds)
    partials = ((1.0, 1.0, 1.6), (2.76, 0.5, 0.8), (5.4, 0.25, 0.4), (8.9, 0.12, 0.2))
    tone = sum(
        (a * np.sin(2 * np.pi * frequency * r * time) * np.exp(-time / d) for r, a, d in partials),
        0 * time,
    )
    return _fade(tone, 0.001, 0.2)


def riser(random: np.random.Generator, seconds: float) -> Sound:
    """Noise and a rising tone that grow until their last sample."""
    time = _time(seconds)
    growth = (time / seconds) ** 2.5
    noise = _highpass(random.standard_normal(len(time)), 900)
    tone = np.sin(2 * np.pi * (110 * time + 165 / seconds * time**2))
    return (0.35 * noise + 0.4 * tone) * growth


def room(
    dry: Sound, random: np.random.Generator, seconds: float = 1.6, level: float = 0.16
) -> Sound:
    """The dry stereo mix, shape (frames, 2), in a hall of decaying noise."""
    time = _time(1.6)
    wet = np.empty_like(dry)
    size = 1 << int(np.ceil(np.log2(len(dry) + len(time))))
    for side in range(2):
        tail = _lowpass(random.standard_normal(len(time)) * np.exp(-time / 0.35), 4500)
        tail[: int(0.012 * RATE)] = 0
        tail /= np.sqrt((tail**2).sum())
        product = np.fft.rfft(dry[:, side], size) * np.fft.rfft(tail, size)
        wet[:, side] = np.fft.irfft(product, size)[: len(dry)]
    return dry + level * wet
