"""Songs made in parts, every beat of them known: to be cut, and the cuts held against the truth.

An intro of pads, verses, choruses that are the same each time, a build into the loudest chorus, a
last hit that rings out. Oscillators and noise; nothing is copied after a recording.
"""

import numpy as np

from rehearse.music.beatmap import Accent, BeatMap, Build, Part
from rehearse.music.track import Track, hash_samples

RATE = 22050
#: Part, eights, level, chords as semitones over A.
FORM = (
    ("intro", 2, 0.35, (0, 5)),
    ("verse", 3, 0.6, (0, 3, 5, 7)),
    ("chorus", 2, 0.8, (5, 7, 0, 3)),
    ("verse", 3, 0.6, (0, 3, 5, 7)),
    ("build", 2, 0.6, (7, 7)),
    ("top", 3, 1.0, (5, 7, 0, 3)),
    ("chorus", 2, 0.8, (5, 7, 0, 3)),
)


def make_track(bpm=120.0, form=FORM, rate=RATE, first=0.4, seed=3):
    """The track and its true map; the map's length is the track's."""
    rng = np.random.default_rng(seed)
    beat = 60.0 / bpm
    eights = sum(part[1] for part in form)
    duration = first + eights * 8 * beat + 3.5
    sound = np.zeros(round(duration * rate), np.float64)
    beats, places, accents, builds, parts = [], [], [], [], []
    at = first
    for name, length, level, chords in form:
        parts.append(Part(at, at + length * 8 * beat, name))
        for k in range(length * 8):
            time = at + k * beat
            beats.append(time)
            places.append(k % 4 + 1)
            swell = 0.3 + 0.7 * k / (length * 8) if name == "build" else 1.0
            chord = chords[(k // 4) % len(chords)]
            _pad(sound, rate, time, beat, chord, 0.10 * level * swell)
            if name != "intro":
                _drum(sound, rate, time, k % 4, 0.5 * level, rng)
            if name == "build":
                for n in range(4):
                    _noise(sound, rate, time + n * beat / 4, 0.25 * swell * level, 0.03, rng)
        if name == "build":
            builds.append(Build(at, at + length * 8 * beat, at + length * 8 * beat))
        if name in ("top", "chorus"):
            accents.append(Accent(at, 1.0 if name == "top" else 0.7))
            _noise(sound, rate, at, 0.5 * level, 0.6, rng)
        at += length * 8 * beat
    accents.append(Accent(at, 1.0))
    beats.append(at)
    places.append(1)
    _pad(sound, rate, at, 2.5, 0, 0.25)
    _noise(sound, rate, at, 0.6, 0.8, rng)
    samples = np.stack([sound, 0.9 * sound], axis=1)
    samples = np.ascontiguousarray(samples / np.abs(samples).max() * 0.8, np.float32)
    samples.flags.writeable = False
    track = Track(samples, rate, hash_samples(samples, rate), "made")
    beatmap = BeatMap(
        track.content_hash,
        track.duration,
        tuple(round(b, 6) for b in beats),
        tuple(places),
        accents=tuple(sorted(accents)),
        builds=tuple(builds),
        parts=tuple(parts),
    )
    return track, beatmap


def _pad(sound, rate, time, length, chord, level):
    t = np.arange(round(length * rate)) / rate
    shape = np.minimum(1.0, t / 0.01) * np.minimum(1.0, (length - t) / 0.02)
    if length > 1.5:
        shape = np.minimum(1.0, t / 0.005) * np.exp(-1.6 * t)
    tones = sum(np.sin(2 * np.pi * 220 * 2 ** ((chord + n) / 12) * t) for n in (0, 4, 7))
    _add(sound, rate, time, level * shape * tones)


def _drum(sound, rate, time, place, level, rng):
    t = np.arange(round(0.18 * rate)) / rate
    if place in (0, 2):
        _add(
            sound,
            rate,
            time,
            level * np.exp(-22 * t) * np.sin(2 * np.pi * (50 * t + 2 * (1 - np.exp(-40 * t)))),
        )
    else:
        _noise(sound, rate, time, 0.6 * level, 0.05, rng)
    _noise(sound, rate, time, 0.2 * level, 0.01, rng)


def _noise(sound, rate, time, level, decay, rng):
    t = np.arange(round(min(4 * decay, 2.0) * rate)) / rate
    _add(sound, rate, time, level * np.exp(-t / decay) * rng.uniform(-1, 1, len(t)))


def _add(sound, rate, time, what):
    at = round(time * rate)
    n = min(len(what), len(sound) - at)
    if n > 0:
        sound[at : at + n] += what[:n]
