"""Training examples: pieces played, cut, joined and recorded, with their beats known exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rehearse.music.analysis.features import FPS, RATE, energies_of_mono
from training import room, synth
from training.arrange import arrange
from training.compose import compose
from training.piece import DRUMS, Note, Piece, Rng
from training.render import Fonts
from training.scores import Score

Floats = npt.NDArray[np.float32]
Times = npt.NDArray[np.float64]

#: Seconds and frames of one example; no example has more beats.
SECONDS = 64.0
FRAMES = int(SECONDS * FPS)
MOST_BEATS = 300


@dataclass(frozen=True, eq=False)
class Take:
    """Recorded music: mono at `RATE`, beats in seconds with their places, free stretches."""

    sound: Floats
    beats: Times
    places: npt.NDArray[np.int64]
    free: tuple[tuple[float, float], ...] = ()

    @property
    def seconds(self) -> float:
        """Its length."""
        return len(self.sound) / RATE

    def part(self, start: float, end: float) -> Take:
        """The stretch from `start` to `end` alone."""
        inside = (self.beats >= start) & (self.beats < end)
        free = tuple(
            (max(a, start) - start, min(b, end) - start)
            for a, b in self.free
            if b > start and a < end
        )
        sound = self.sound[int(start * RATE) : int(end * RATE)]
        return Take(sound, self.beats[inside] - start, self.places[inside], free)

    def then(self, other: Take) -> Take:
        """This and `other`, one after the other."""
        shift = self.seconds
        return Take(
            np.concatenate([self.sound, other.sound]),
            np.concatenate([self.beats, other.beats + shift]),
            np.concatenate([self.places, other.places]),
            self.free + tuple((a + shift, b + shift) for a, b in other.free),
        )


@dataclass(frozen=True, eq=False)
class Example:
    """What the network is shown and told.

    Args:
        energies: float16, shape (`FRAMES`, bands).
        beats: seconds, NaN beyond the last, shape (`MOST_BEATS`,).
        places: place in the bar of each, shape (`MOST_BEATS`,).
        free: 1 in free time, 0 within the beat, shape (`FRAMES`,).
    """

    energies: npt.NDArray[np.float16]
    beats: Floats
    places: npt.NDArray[np.int8]
    free: npt.NDArray[np.int8]


def make_take(rng: Rng, scores: Sequence[Score], fonts: Fonts) -> Take:
    """`SECONDS` of recorded music, chosen by chance."""
    kind = rng.random()
    if kind < 0.04:
        take = _free(rng, fonts, SECONDS)
    elif kind < 0.16:
        cut = rng.uniform(10, SECONDS - 10)
        start = rng.uniform(0, 5)
        one = _music(rng, scores, fonts).part(0, cut)
        take = one.then(_music(rng, scores, fonts).part(start, start + SECONDS - cut))
    elif kind < 0.32:
        length = rng.uniform(3.5, 18)
        at = float(rng.choice([0.0, rng.uniform(8, SECONDS - length), SECONDS - length]))
        music = _music(rng, scores, fonts)
        take = music.part(0, at).then(_free(rng, fonts, length))
        begin = at if rng.random() < 0.5 else 0.0
        take = take.then(music.part(begin, begin + max(0.0, SECONDS - at - length)))
    else:
        start = rng.uniform(0, 4) if rng.random() < 0.5 else 0.0
        take = _music(rng, scores, fonts).part(start, start + SECONDS)
    take = take.part(0, SECONDS)
    if rng.random() < 0.08:
        _soften(take, rng)
    return Take(room.record(take.sound, RATE, rng), take.beats, take.places, take.free)


def example(take: Take) -> Example:
    """A take as the network gets it."""
    energies = energies_of_mono(take.sound)[:FRAMES]
    padded = np.zeros((FRAMES, energies.shape[1]), np.float16)
    padded[: len(energies)] = energies
    beats = np.full(MOST_BEATS, np.nan, np.float32)
    places = np.zeros(MOST_BEATS, np.int8)
    count = min(len(take.beats), MOST_BEATS)
    beats[:count], places[:count] = take.beats[:count], take.places[:count]
    free = np.zeros(FRAMES, np.int8)
    for start, end in take.free:
        free[round(start * FPS) : round(end * FPS)] = 1
    return Example(padded, beats, places, free)


def _music(rng: Rng, scores: Sequence[Score], fonts: Fonts) -> Take:
    piece = None
    if scores and rng.random() < 0.42:
        piece = arrange(rng, scores[int(rng.integers(len(scores)))], SECONDS + 6)
    if piece is None:
        piece = compose(rng, SECONDS + 6)
    sound = play_piece(rng, piece, fonts)
    if rng.random() < 0.05:
        sound = _pumped(sound, piece.beats, rng)
    last = piece.beats[-1]
    free = ((last + 1.0, len(sound) / RATE),) if len(sound) / RATE > last + 3 else ()
    take = Take(sound, piece.beats[:-1], np.array(piece.places), free)
    missing = SECONDS + 6 - take.seconds
    return take.then(_free(rng, fonts, missing)) if missing > 3 else take


def play_piece(rng: Rng, piece: Piece, fonts: Fonts) -> Floats:
    """The piece as mono sound, by sound fonts, the synthesizer or both."""
    kind = rng.random()
    if kind < 0.72:
        return fonts.play(piece, rng)
    if kind < 0.82:
        return synth.play(piece, RATE, rng)
    # Some players at sound fonts, some at the synthesizer.
    ours = {DRUMS} if rng.random() < 0.5 else {c for c in piece.programs if rng.random() < 0.4}
    rest = set(piece.programs) - ours
    one, other = fonts.play(piece, rng, rest), synth.play(piece, RATE, rng, ours)
    level = np.sqrt(np.mean(one**2)) / (np.sqrt(np.mean(other**2)) + 1e-6)
    share = np.float32(min(level, 1e3) * 10 ** (rng.uniform(-8, 6) / 20)) if one.any() else 1
    return np.asarray(one + share * other[: len(one)], np.float32)


def _pumped(sound: Floats, beats: Times, rng: Rng) -> Floats:
    """Everything ducks under every beat, as dance productions do."""
    t = np.arange(len(sound)) / RATE
    since = t - beats[np.clip(np.searchsorted(beats, t, "right") - 1, 0, None)]
    dip = rng.uniform(0.3, 0.9) * np.exp(-np.maximum(since, 0) / rng.uniform(0.06, 0.2))
    return (sound * (1 - dip)).astype(np.float32)


def _soften(take: Take, rng: Rng) -> None:
    """A quiet stretch in which the beat goes on."""
    start, length = rng.uniform(5, SECONDS - 15), rng.uniform(3, 16)
    gain = np.float32(10 ** (-rng.uniform(10, 35) / 20))
    take.sound[int(start * RATE) : int((start + length) * RATE)] *= gain


def _free(rng: Rng, fonts: Fonts, seconds: float) -> Take:
    """Sound without a beat: silence, noise, held chords, or notes at no time in particular."""
    frames = int(seconds * RATE)
    kind = rng.random()
    if kind < 0.25:
        sound = rng.standard_normal(frames, np.float32) * np.float32(10 ** rng.uniform(-6, -3))
    elif kind < 0.4:
        swell = np.interp(np.arange(frames), np.linspace(0, frames, 8), rng.random(8))
        sound = (0.1 * swell * rng.standard_normal(frames)).astype(np.float32)
    else:
        sound = fonts.play(_wandering(rng, seconds), rng)[:frames]
        sound = np.pad(sound, (0, frames - len(sound)))
    return Take(sound, np.zeros(0), np.zeros(0, np.int64), ((0.0, frames / RATE),))


def _wandering(rng: Rng, seconds: float) -> Piece:
    held = rng.random() < 0.5
    gap = rng.uniform(1.5, 6.0) if held else 10 ** rng.uniform(-0.6, 0.5)
    notes: list[Note] = []
    at = float(rng.exponential(gap))
    while at < seconds:
        length = gap * rng.uniform(1, 3) if held else rng.uniform(0.1, 2.0)
        for _ in range(int(rng.integers(2, 5)) if held else 1):
            pitch = int(rng.integers(40, 84))
            notes.append(Note(at, length, pitch, rng.uniform(40, 100), int(rng.integers(2))))
        at += float(rng.exponential(gap)) + 0.03
    pool = (48, 49, 52, 88, 89, 91, 95, 16, 19, 50) if held else (0, 46, 14, 9, 11, 73, 40, 24)
    programs = {k: int(rng.choice(pool)) for k in range(2)}
    return Piece(notes, programs, np.arange(seconds + 2), [1] * int(seconds + 2))
