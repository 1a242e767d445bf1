"""Composes the demo's music and writes its exact beat map: `python demo/compose.py`.

Invented for the demo: a free-time opening, a groove at 96, a faster one at 120, a near-silence
without a beat, a big return and a last hit. Because the composer places every note, the beat map
written beside the track is exact, not found by listening.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import instruments as play
import numpy as np
import soundfile
from instruments import RATE, Sound

from rehearse.music.beatmap import Accent, BeatMap, Build, Confidence, Part, Stretch
from rehearse.music.decode import load_track
from rehearse.music.mapfile import save_map

FOLDER = Path(__file__).resolve().parent / "copper-lights"
SECONDS = 75.0
GROOVE, FAST, SILENCE, RETURN, LAST = 7.5, 27.5, 43.5, 50.5, 70.5
SLOW_BEAT, FAST_BEAT = 60 / 96, 60 / 120
CHORDS = (("a2", "e3", "a3", "c4"), ("f2", "c3", "a3", "c4"), ("c3", "g3", "c4", "e4"),
          ("g2", "d3", "g3", "b3"))  # fmt: skip
ROOTS = ("a1", "f1", "c2", "g1")


@dataclass
class Score:
    """The mix being made, and what was placed in it."""

    random: np.random.Generator = field(default_factory=lambda: np.random.default_rng(1906))
    mix: Sound = field(default_factory=lambda: np.zeros((int(SECONDS * RATE), 2)))
    accents: list[Accent] = field(default_factory=list)

    def add(self, time: float, sound: Sound, level: float = 1.0, pan: float = 0.0) -> None:
        """Place a sound with its first sample at `time`; pan −1 left, +1 right."""
        if sound.ndim == 1:
            angle = (pan + 1) * np.pi / 4
            sound = np.stack([sound * np.cos(angle), sound * np.sin(angle)], axis=1)
        first = round(time * RATE)
        last = min(len(self.mix), first + len(sound))
        self.mix[first:last] += level * sound[: last - first]

    def accent(self, time: float, chord: tuple[str, ...], strength: float = 1.0) -> None:
        """A brass stab with drum and cymbal: an accent of the map."""
        self.add(time, play.brass(chord, 1.1), 0.55 * strength)
        self.add(time, play.kick(self.random), 0.7 * strength)
        self.add(time, play.crash(self.random), 0.28 * strength, 0.2)
        self.accents.append(Accent(round(time, 6), strength))


def opening(score: Score) -> None:
    """Bells and swelling chords without a beat, ending in a rise."""
    for time, chord in ((0.2, ("a2", "e3", "a3")), (3.4, ("f2", "c3", "f3"))):
        score.add(time, play.pad(chord, 4.4, 1100), 0.5)
    for time, note, strength in ((1.30, "a4", 0.5), (3.10, "e5", 0.6), (5.45, "c5", 0.55)):
        score.add(time, play.bell(play.pitch(note)), 0.42, -0.2)
        score.add(time, play.tom(score.random), 0.75)
        score.accents.append(Accent(time, strength))
    score.add(5.7, play.riser(score.random, GROOVE - 5.7), 0.32)


def bar(score: Score, start: float, beat: float, index: int, *, full: bool) -> None:
    """One bar of four: drums, bass and chord."""
    chord, root = CHORDS[index % 4], ROOTS[index % 4]
    random = score.random
    score.add(start, play.pad(chord, 4 * beat * 1.15, 2200 if full else 1500), 0.3)
    for k in range(4):
        time = start + k * beat
        score.add(time, play.kick(random) if k % 2 == 0 else play.snare(random), 0.62)
        score.add(time, play.hat(random), 0.34, -0.35)
        score.add(time + beat / 2, play.hat(random), 0.26, 0.35)
        score.add(time, play.bass(play.pitch(root), 0.8 * beat), 0.5)
        if full:
            score.add(time + beat / 2, play.bass(2 * play.pitch(root), 0.4 * beat), 0.36)
            score.add(time + beat / 4, play.hat(random), 0.16, 0.1)


def passage(score: Score, start: float, beat: float, bars: int, hits: dict[int, float], *,
            full: bool) -> None:  # fmt: skip
    """Bars of the groove with accents at the given counts (0 = the first)."""
    for index in range(bars):
        bar(score, start + 4 * index * beat, beat, index, full=full)
    for count, strength in hits.items():
        score.accent(start + count * beat, CHORDS[count // 4 % 4][1:], strength)


def silence(score: Score) -> None:
    """Near-silence: one thin chord and two far bells, no beat."""
    score.add(SILENCE, play.pad(("a3", "e4"), 7.0, 700), 0.055)
    for time, note in ((45.3, "e5"), (48.1, "c5")):
        score.add(time, play.bell(play.pitch(note), 2.0), 0.035, 0.3)
    score.add(49.6, play.riser(score.random, RETURN - 49.6), 0.12)


def ending(score: Score) -> None:
    """One last hit that rings out."""
    score.accent(LAST, ("a2", "e3", "a3", "c4", "e4"), 1.0)
    score.add(LAST, play.pad(("a2", "e3", "a3", "c4"), 4.3, 1800), 0.35)
    score.add(LAST, play.bass(play.pitch("a1"), 3.0), 0.5)


def compose() -> tuple[Sound, list[Accent]]:
    """The whole piece: samples, shape (frames, 2), peak 0.89, and its accents."""
    score = Score()
    opening(score)
    passage(score, GROOVE, SLOW_BEAT, 8, {0: 0.9, 8: 0.7, 16: 0.75, 24: 0.8}, full=False)
    passage(score, FAST, FAST_BEAT, 8, {0: 0.85, 8: 0.7, 16: 0.8, 24: 0.75}, full=True)
    for k in range(16):  # a roll that grows into the silence's edge
        level = 0.12 + 0.03 * k
        score.add(SILENCE - (16 - k) * FAST_BEAT / 4, play.snare(score.random), level)
    silence(score)
    passage(score, RETURN, FAST_BEAT, 10, {0: 1.0, 8: 0.8, 16: 0.85, 24: 0.8, 32: 0.9}, full=True)
    ending(score)
    mix = np.tanh(1.1 * play.room(score.mix, score.random))
    fade = int(1.2 * RATE)
    mix[-fade:] *= np.linspace(1, 0, fade)[:, None] ** 2
    return 0.89 * mix / np.abs(mix).max(), sorted(score.accents)


def beat_map(track_hash: str, duration: float, accents: list[Accent]) -> BeatMap:
    """The map of what was composed."""
    runs = ((GROOVE, SLOW_BEAT, 32), (FAST, FAST_BEAT, 32), (RETURN, FAST_BEAT, 41))
    beats = [(start + k * beat, k % 4 + 1) for start, beat, n in runs for k in range(n)]
    return BeatMap(
        track_hash,
        duration,
        beats=tuple(round(t, 6) for t, _ in beats),
        places=tuple(p for _, p in beats),
        free=(Stretch(0.0, GROOVE), Stretch(SILENCE, RETURN), Stretch(LAST + 0.5, duration)),
        accents=tuple(accents),
        builds=(Build(5.7, GROOVE, GROOVE), Build(49.6, RETURN, RETURN)),
        quiets=(Stretch(SILENCE + 0.4, 49.8),),
        parts=(
            Part(0.0, GROOVE, "A"),
            Part(GROOVE, FAST, "B"),
            Part(FAST, SILENCE, "C"),
            Part(SILENCE, RETURN, "D"),
            Part(RETURN, duration, "C"),
        ),
        confidence=(Confidence(GROOVE, SILENCE, 1.0), Confidence(RETURN, LAST + 0.5, 1.0)),
    )


def main() -> None:
    """Write `track.ogg` and `beats.yaml` into the demo's routine folder."""
    samples, accents = compose()
    FOLDER.mkdir(exist_ok=True)
    path = FOLDER / "track.ogg"
    with soundfile.SoundFile(path, "w", RATE, 2, format="OGG", subtype="VORBIS") as file:
        for start in range(0, len(samples), 4096):  # one large write overflows the encoder's stack
            file.write(samples[start : start + 4096].astype(np.float32))
    track = load_track(path)
    save_map(FOLDER / "beats.yaml", beat_map(track.content_hash, track.duration, accents))
    print(f"{path}: {track.duration:.3f} s, {path.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
