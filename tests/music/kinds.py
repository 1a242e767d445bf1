"""Music that trackers count wrong, made of oscillators and noise with its counts known.

Shuffle, triplets against the beat, a minuet and slow strings: common practice, no source; invented
notes. Sounds and their makers are those of no training.
"""

from __future__ import annotations

import numpy as np

RATE = 22050
KINDS = ("shuffle", "triplets", "minuet", "slow strings")


def make_kind(kind: str, seconds: float = 40.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mono sound, seconds of the counts, places in the bar."""
    bpm, bar = {"shuffle": (112, 4), "triplets": (92, 4), "minuet": (126, 3)}.get(kind, (66, 4))
    beat = 60.0 / bpm
    count = int((seconds - 1.0) / beat)
    rng = np.random.default_rng(8)
    out = (1e-4 * rng.normal(size=int(seconds * RATE))).astype(np.float32)
    for k in range(count):
        at, place, bars = 0.4 + k * beat, k % bar, k // bar
        root = (0, 5, 7, 3, 0, 8, 5, 7)[bars % 8]
        for offset, voice, pitch, level in _played(kind, place, root):
            _add(out, at + offset * beat, _sound(voice, pitch, beat, rng), level)
    times = 0.4 + beat * np.arange(count)
    return 0.7 * out / np.abs(out).max(), times, np.arange(count) % bar + 1


def _played(kind: str, place: int, root: int) -> list[tuple[float, str, int, float]]:
    """(offset in counts, voice, pitch, level) of one count."""
    low, chord = 40 + root, (52 + root, 56 + root, 59 + root)
    if kind == "shuffle":
        drum = [(0.0, "kick" if place % 2 == 0 else "snare", 0, 0.8)]
        hats = [(0.0, "hat", 0, 0.3), (2 / 3, "hat", 0, 0.25)]
        return [*drum, *hats, (0.0, "pluck", low, 0.5), (2 / 3, "pluck", low + 7, 0.4)]
    if kind == "triplets":
        run = [(k / 3, "pluck", chord[k] + 12, 0.4) for k in range(3)]
        bass = [(0.0, "pluck", low, 0.7)] if place % 2 == 0 else []
        return [*run, *bass, (0.0, "kick" if place % 2 == 0 else "snare", 0, 0.6)]
    if kind == "minuet":
        bass = [(0.0, "pluck", low, 0.8)] if place == 0 else []
        upper = [(0.0, "bow", p, 0.25) for p in chord] if place else []
        return [*bass, *upper, (0.0, "pluck", chord[place] + 12, 0.5), (0.5, "pluck", 74, 0.3)]
    held = [(0.0, "swell", p, 0.3) for p in (low, *chord)] if place == 0 else []
    return [*held, (0.0, "bow", chord[place % 3] + 12, 0.5)]


def _sound(voice: str, pitch: int, beat: float, rng: np.random.Generator) -> np.ndarray:
    length = {"swell": 4 * beat, "bow": beat}.get(voice, 0.3)
    t = np.arange(int(length * RATE)) / RATE
    if voice == "kick":
        return np.sin(2 * np.pi * (50 * t + 3 * (1 - np.exp(-30 * t)))) * np.exp(-14 * t)
    if voice in ("snare", "hat"):
        decay = 22 if voice == "snare" else 60
        return rng.normal(size=len(t)) * np.exp(-decay * t)
    hertz = 440 * 2 ** ((pitch - 69) / 12)
    tone = sum(np.sin(2 * np.pi * k * hertz * t) / k for k in range(1, 6))
    if voice == "pluck":
        return tone * np.exp(-9 * t)
    rise = 0.35 if voice == "swell" else 0.06
    return tone * np.minimum(1, t / rise) * np.clip((length - t) / 0.08, 0, 1)


def _add(out: np.ndarray, at: float, sound: np.ndarray, level: float) -> None:
    first = round(at * RATE)
    part = sound[: max(0, len(out) - first)]
    out[first : first + len(part)] += (level * part).astype(np.float32)
