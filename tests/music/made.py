"""Songs made for the tests, with every beat, accent, build, quiet and free stretch known.

Nothing here is learnt from or copied after a recording: oscillators, noise and dice. What counts
as an accent, a build and so on is set by the maker, not by what a detector would find:

* accent: a stab (chord, boom and crash together) on top of the groove, the hit after a stop, or
  the first hit after a build; plain beats, fills and back-beats are not accents.
* build: 2 to 8 bars with rising level, rising noise and a drum roll that gets denser.
* quiet: bars about 20 dB below the groove in which only a soft pulse goes on, or a rest of more
  than 1.2 s.
* free time: notes and swells at random distances, without a pulse.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

RATE = 24000


@dataclass
class Truth:
    """What was put into a song; seconds."""

    beats: list[float] = field(default_factory=list)
    places: list[int] = field(default_factory=list)
    accents: list[float] = field(default_factory=list)
    builds: list[tuple[float, float]] = field(default_factory=list)
    quiets: list[tuple[float, float]] = field(default_factory=list)
    free: list[tuple[float, float]] = field(default_factory=list)


def make_song(seed: int) -> tuple[np.ndarray, int, Truth]:
    """Samples of shape (n, 2), their rate, and what is in them."""
    song = _Song(np.random.default_rng(seed))
    song.compose()
    return song.master(), RATE, song.truth


class _Song:
    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.beat = 60.0 / rng.uniform(75, 165)
        self.style = rng.choice(["four", "rock", "broken", "half"])
        self.root = 110.0 * 2 ** (rng.integers(-5, 6) / 12)
        self.at = 0.0
        self.truth = Truth()
        self.room = np.zeros(RATE * 200, np.float32)

    # -- the form ---------------------------------------------------------------------------
    def compose(self) -> None:
        rng = self.rng
        self.at = rng.uniform(0.1, 0.6)
        if rng.random() < 0.4:
            self.free_time(rng.uniform(8, 15))
        self.groove(4, 0.6, accents=0)
        for _ in range(rng.integers(3, 5)):
            kind = rng.choice(
                ["plain", "build", "quiet", "free", "stop"], p=[0.2, 0.3, 0.2, 0.15, 0.15]
            )
            if kind == "build":
                self.build(int(rng.choice([2, 4, 8], p=[0.3, 0.5, 0.2])))
            elif kind == "quiet":
                self.quiet(int(rng.choice([2, 3, 4])))
            elif kind == "free":
                self.free_time(rng.uniform(8, 15))
            elif kind == "stop":
                self.stop()
            self.groove(
                int(rng.choice([4, 6, 8])), rng.uniform(0.8, 1.0), accents=rng.integers(1, 4)
            )
        self.stab(self.at, 1.0)
        self.at += 0.9

    def bar(self) -> list[float]:
        """The next four beats, kept as truth."""
        beats = [self.at + k * self.beat for k in range(4)]
        self.truth.beats += beats
        self.truth.places += [1, 2, 3, 4]
        self.at += 4 * self.beat
        return beats

    def groove(self, bars: int, level: float, accents: int) -> None:
        free_bars = list(range(1, bars))
        chosen = set(
            self.rng.choice(free_bars, min(accents, len(free_bars)), replace=False).tolist()
        )
        spot = {n: self.rng.choice([0.0, 0.0, 2.0, 3.0, 3.5]) for n in chosen}
        for n in range(bars):
            beats = self.bar()
            self.drums(beats, level)
            self.bass(beats, level)
            self.chord(beats[0], 4 * self.beat, 0.10 * level, n)
            if n in spot:
                self.stab(beats[0] + spot[n] * self.beat, 1.0)
            elif n % 4 == 3 and self.rng.random() < 0.5:
                for k in range(4):
                    self.snare(beats[3] + k * self.beat / 4, 0.25 * level)

    def stop(self) -> None:
        """A bar that breaks off after its second beat, and the hit that follows."""
        beats = self.bar()
        self.drums(beats[:2], 0.9)
        self.bass(beats[:2], 0.9)
        silent = (beats[1] + self.beat, self.at)
        if silent[1] - silent[0] >= 1.2:
            self.truth.quiets.append(silent)
        self.stab(self.at, 1.0)

    def build(self, bars: int) -> None:
        start, length = self.at, bars * 4 * self.beat
        rise = self.rng.uniform(10, 16)
        self.truth.builds.append((start, start + length))
        for n in range(bars):
            beats = self.bar()
            for k, beat in enumerate(beats):
                done = (n + k / 4) / bars
                gain = 0.5 * 10 ** (rise * (done - 1) / 20)
                steps = 1 if done < 0.4 else 2 if done < 0.75 else 4
                for s in range(steps):
                    self.snare(beat + s * self.beat / steps, 0.5 * gain)
        t = np.arange(int(length * RATE)) / RATE / length
        noise = self.rng.standard_normal(len(t)).astype(np.float32)
        swell = 10 ** (rise * (t - 1) / 20)
        tone = np.sin(2 * np.pi * np.cumsum(self.root * 2 ** (1 + 2 * t)) / RATE)
        self.put(start, (0.12 * _brighten(noise, t) + 0.12 * tone) * swell)
        self.chord(start, length, 0.05, 0, swell=rise)
        self.stab(self.at, 1.0)

    def quiet(self, bars: int) -> None:
        start = self.at
        for n in range(bars):
            beats = self.bar()
            for beat in beats:
                self.hat(beat, 0.03)
            self.chord(beats[0], 4 * self.beat, 0.012, n)
        self.truth.quiets.append((start, self.at))

    def free_time(self, length: float) -> None:
        start, end = self.at, self.at + length
        time = start
        while time < end - 1.0:
            ring = self.rng.uniform(1.0, 3.0)
            note = self.root * 2 ** (self.rng.choice([0, 3, 7, 12, 15]) / 12)
            t = np.arange(int(min(ring, end - time) * RATE)) / RATE
            shape = np.minimum(t / self.rng.uniform(0.02, 0.2), 1) * np.exp(-2 * t / ring)
            self.put(time, 0.25 * shape * np.sin(2 * np.pi * note * t))
            time += float(self.rng.lognormal(np.log(0.7), 0.5))
        self.chord(start, length, 0.08, 0)
        self.truth.free.append((start, end))
        self.at = end

    # -- the instruments --------------------------------------------------------------------
    def drums(self, beats: list[float], level: float) -> None:
        for k, beat in enumerate(beats):
            loose = level * 10 ** (self.rng.normal(0, 1.0) / 20)
            if self.style == "four" or k in ((0, 2) if self.style != "half" else (0,)):
                self.kick(beat, 0.55 * loose)
            if (k in (1, 3) and self.style != "half") or (k == 2 and self.style == "half"):
                self.snare(beat, 0.35 * loose)
            for half in (0, 0.5):
                self.hat(beat + half * self.beat, 0.10 * loose)
            if self.style == "broken" and self.rng.random() < 0.3:
                self.kick(beat + 0.75 * self.beat, 0.4 * loose)

    def bass(self, beats: list[float], level: float) -> None:
        for beat in beats:
            for half in (0, 0.5):
                t = np.arange(int(0.45 * self.beat * RATE)) / RATE
                tone = np.sin(2 * np.pi * self.root / 2 * t) + 0.3 * np.sin(
                    2 * np.pi * self.root * t
                )
                self.put(
                    beat + half * self.beat,
                    0.15 * level * tone * np.exp(-3 * t) * np.minimum(1, t / 0.005),
                )

    def chord(self, at: float, length: float, level: float, n: int, swell: float = 0.0) -> None:
        t = np.arange(int(length * RATE)) / RATE
        shape = np.minimum(1, np.minimum(t, t[::-1]) / 0.05) * 10 ** (swell * (t / length - 1) / 20)
        shift = [0, -4, 3, -2][n % 4]
        for step in (0, 4, 7):
            f = 2 * self.root * 2 ** ((step + shift) / 12)
            self.put(
                at, level * shape * (np.sin(2 * np.pi * f * t) + 0.4 * np.sin(4 * np.pi * f * t))
            )

    def stab(self, at: float, level: float) -> None:
        """A hit of everyone: boom, chord and crash in any mixture, short or ringing."""
        self.truth.accents.append(at)
        boom, chord, crash = self.rng.dirichlet([1.5, 1.5, 1.5]) * 1.6
        ring = self.rng.uniform(2.5, 7.0)
        t = np.arange(int(0.9 * RATE)) / RATE
        sound = boom * np.sin(2 * np.pi * 55 * t) * np.exp(-ring * t)
        for step in (0, 3, 7, 12):
            f = 2 * self.root * 2 ** (step / 12)
            tone = sum(np.sin(2 * np.pi * f * h * t) / h for h in (1, 2, 3, 4, 5))
            sound += chord * 0.3 * tone * np.exp(-ring * t)
        sound += crash * 0.6 * self.rng.standard_normal(len(t)) * np.exp(-1.5 * ring * t)
        self.put(at, self.rng.uniform(0.8, 1.1) * level * sound * np.minimum(1, t / 0.002))

    def kick(self, at: float, level: float) -> None:
        t = np.arange(int(0.2 * RATE)) / RATE
        self.put(
            at, level * np.sin(2 * np.pi * (50 * t + 4 * (1 - np.exp(-t * 40)))) * np.exp(-14 * t)
        )

    def snare(self, at: float, level: float) -> None:
        t = np.arange(int(0.15 * RATE)) / RATE
        noise = self.rng.standard_normal(len(t))
        self.put(at, level * (0.6 * noise + 0.4 * np.sin(2 * np.pi * 190 * t)) * np.exp(-22 * t))

    def hat(self, at: float, level: float) -> None:
        t = np.arange(int(0.05 * RATE)) / RATE
        noise = np.diff(self.rng.standard_normal(len(t) + 1))
        self.put(at, level * noise * np.exp(-70 * t))

    # -- the desk ---------------------------------------------------------------------------
    def put(self, at: float, sound: np.ndarray) -> None:
        first = round(at * RATE)
        self.room[first : first + len(sound)] += sound.astype(np.float32)

    def master(self) -> np.ndarray:
        dry = self.room[: int(self.at * RATE)]
        size = int(0.4 * RATE)
        tail = self.rng.standard_normal(size) * np.exp(-np.arange(size) / (0.08 * RATE))
        points = 1 << (len(dry) + size).bit_length()
        wet = np.fft.irfft(np.fft.rfft(dry, points) * np.fft.rfft(tail, points))[: len(dry)]
        wet *= 0.15 * np.std(dry) / (np.std(wet) + 1e-9)
        mix = np.tanh(1.1 * (dry + wet)) + 3e-4 * self.rng.standard_normal(len(dry))
        mix = 0.9 * mix / np.max(np.abs(mix))
        return np.ascontiguousarray(np.stack([mix, mix], axis=1), dtype=np.float32)


def _brighten(noise: np.ndarray, done: np.ndarray) -> np.ndarray:
    """A one-pole high-pass in place of a sweep: more differences, fewer sums, as it goes on."""
    return noise * (1 - done) * 0.7 + np.diff(noise, prepend=0.0) * done
