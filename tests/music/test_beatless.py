"""No beat is laid over somebody speaking; counting goes on through a break without drums."""

from __future__ import annotations

import numpy as np
import pytest

from rehearse.music.analysis.analyse import analyse
from rehearse.music.analysis.beatless import without_beat
from rehearse.music.analysis.beatpath import Beats
from rehearse.music.analysis.beats import find_beats
from rehearse.music.analysis.features import FPS
from rehearse.music.analysis.network import Activation
from rehearse.music.track import Track, hash_samples
from tests.music.test_analysis import _groove

RATE = 22050


def speech(seconds: float, seed: int = 4) -> np.ndarray:
    """Syllables of a falling pitch at no steady rate, in phrases with pauses; shape (n, 2).

    The rate (about five syllables a second) and the pauses are common practice, no source.
    """
    rng = np.random.default_rng(seed)
    sound = np.zeros(int(seconds * RATE), np.float32)
    at = 0.2
    while at < seconds - 1:
        for k in range(int(rng.integers(4, 14))):
            length = float(rng.lognormal(np.log(0.19), 0.3))
            t = np.arange(int(0.85 * length * RATE)) / RATE
            hertz = 130 * np.exp(rng.normal(0.1 - 0.02 * k, 0.1))
            vowel = rng.uniform(300, 900)
            tone = sum(
                np.sin(2 * np.pi * h * hertz * t) / (1 + abs(h * hertz - vowel) / 150)
                for h in range(1, 25)
            )
            shape = np.minimum(1, t / 0.04) * np.minimum(1, (t[-1] - t) / 0.05)
            first = int(at * RATE)
            piece = (0.2 * rng.uniform(0.5, 1) * shape * tone).astype(np.float32)
            room = sound[first : first + len(t)]
            room += piece[: len(room)]
            at += length
        at += float(rng.exponential(0.5)) + 0.15
    sound += 0.001 * rng.standard_normal(len(sound)).astype(np.float32)
    return np.stack([sound, sound], axis=1)


def mapped(samples: np.ndarray):
    return analyse(Track(samples, RATE, hash_samples(samples, RATE)))


@pytest.mark.parametrize("seed", [4, 5])
def test_speech_alone_has_no_beat(seed):
    samples = speech(40.0, seed)
    # The finder itself follows something, or there would be nothing to test.
    assert len(find_beats(samples, RATE).times) > 20
    beatmap = mapped(samples)
    assert len(beatmap.beats) == 0
    assert beatmap.free[0].start == 0.0
    assert beatmap.free[-1].end == pytest.approx(40.0, abs=0.01)


def test_music_after_a_spoken_beginning_keeps_its_beats():
    beatmap = mapped(np.concatenate([speech(16.3), _groove(30.0)]))
    assert not [b for b in beatmap.beats if b < 14.5]
    inside = [b for b in beatmap.beats if b > 18.0]
    # A drum every half second from 16.8 on.
    assert np.mean([abs((b - 16.3) / 0.5 - round((b - 16.3) / 0.5)) < 0.1 for b in inside]) > 0.95
    assert len(inside) >= 50


def doubtful(times: np.ndarray, unsure: tuple[float, float]) -> Beats:
    """Beats of which those between two moments are unsure, in tempo as in place."""
    frames = np.arange(int(times[-1] * FPS) + 50) / FPS
    inside = (times > unsure[0] - 0.2) & (times < unsure[1] - 0.2)
    vague = (frames >= unsure[0]) & (frames < unsure[1])
    tempo = np.full((len(frames), 48), np.log(0.02), np.float32)
    tempo[~vague, 20] = np.log(0.4)
    free = np.where(vague, -2.0, -12.0).astype(np.float32)
    activation = Activation(free, free, free, tempo)
    confidence = np.where(inside, 0.5, 0.95)
    return Beats(times, np.ones(len(times), np.int64), confidence, confidence, activation)


def test_counting_goes_on_through_a_break_only_on_one_grid():
    rng = np.random.default_rng(2)
    grid = 0.5 * np.arange(1, 160)
    unsure = (25.0, 50.0)
    inside = (grid >= unsure[0]) & (grid < unsure[1])
    astray = np.where(inside, rng.uniform(-0.09, 0.09, len(grid)), 0.0)
    assert without_beat(doubtful(grid + astray, unsure), 80.0) == []
    # The second half comes in a third of a beat late: these were two pieces of music.
    cut = doubtful(grid + astray + np.where(grid >= 50.0, 0.17, 0.0), unsure)
    ((start, end),) = without_beat(cut, 80.0)
    assert (start, end) == pytest.approx((25.0, 50.0), abs=4.0)
    # Somebody speaks: what was laid in between wanders off the grid.
    drift = np.where(inside, np.cumsum(rng.uniform(-0.1, 0.1, len(grid))), 0.0)
    times = np.sort(grid + drift)
    times = times[np.diff(times, prepend=0.0) > 0.2]
    assert len(without_beat(doubtful(times, unsure), 80.0)) == 1


def test_plain_music_and_next_to_nothing_are_left_alone():
    samples = _groove(30.0)
    assert without_beat(find_beats(samples, RATE), 30.0) == []
    assert without_beat(find_beats(samples[:2000], RATE), 2000 / RATE) == []
