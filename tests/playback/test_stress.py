"""Hundreds of wishes in any order, some within milliseconds of each other, on the real stretch
cache.

Time is virtual: the stretch cache is waited for before each block, so that the outcome does not
hang on how busy this machine is. How soon a wish is heard is measured by tests/bench/response.py.
"""

import time

import numpy as np

from rehearse.playback.mix import Mixer, Order
from rehearse.playback.mix_scheduler import MixScheduler
from rehearse.playback.segment import Segment
from rehearse.playback.stretch import stretch
from rehearse.playback.stretch_cache import StretchCache
from rehearse.playback.timeline import Timeline
from rehearse.work.shared import Shared
from tests.helpers.playback_tools import RATE, made, onsets

LENGTH, BLOCK = 12.0, 700
#: Below these even a whole chord comes out of the stretch with some roughness of its own.
TEMPOS = (0.65, 0.8, 0.95, 1.0, 1.05)


class Rehearsal:
    """Scheduler, mixer and cache as in the playback process, and a clock that counts frames."""

    def __init__(self, track):
        self.shared = Shared(track.samples)
        self.stretch_cache = StretchCache(self.shared, RATE, lambda: None)
        self.mixer = Mixer(RATE)
        self.scheduler = MixScheduler(self.mixer, self.stretch_cache, self.shared.array)
        self.timeline, self.marks = Timeline(), []

    def wish(self, rng):
        """One thing an athlete may do."""
        word = rng.choice(["play", "jump", "tempo", "lead", "then", "pause", "stop"])
        start = float(rng.uniform(0, LENGTH - 1))
        end = min(LENGTH, start + float(rng.choice([0.004, 0.3, 1.0, 4.0, 9.0])))
        tempo = float(rng.choice(TEMPOS))
        repeat = bool(rng.integers(0, 4))
        segment = Segment("a", start, end, tempo, 0.1 if word == "lead" else 0.0)
        if word == "then":
            self.scheduler.then(segment if repeat else None, repeat)
        elif word in ("pause", "stop"):
            self.order(word, rng)
        else:
            at = float(rng.uniform(start, end)) if word == "jump" else None
            self.scheduler.play(segment, at, repeat, word == "tempo")

    def order(self, word, rng):
        if word == "stop":
            self.scheduler.stop()
            self.mixer.commands.append(Order("stop"))
        else:
            self.mixer.commands.append(Order("pause"))
            if rng.integers(0, 2):
                self.hear(float(rng.uniform(0, 0.1)))
            self.mixer.commands.append(Order("resume"))

    def hear(self, seconds):
        blocks = []
        for _ in range(max(1, round(seconds * RATE / BLOCK))):
            self.scheduler.step()
            end = time.monotonic() + 20
            while self.stretch_cache.waiting(urgent=True) and time.monotonic() < end:
                time.sleep(0.0005)
            self.scheduler.step()
            blocks.append(self.mixer.pull(BLOCK))
            while self.mixer.marks:
                self.marks.append(self.mixer.marks.popleft())
        self.sound.extend(blocks)

    def through(self, changes, seed):
        """Make so many wishes; returns the sound."""
        rng, self.sound = np.random.default_rng(seed), []
        for _ in range(changes):
            self.wish(rng)
            if rng.random() < 0.8:  # else the next wish follows within the same moment
                self.hear(float(rng.choice([0.02, 0.1, 0.5])))
        return np.concatenate(self.sound)


def through(track, changes, seed):
    rehearsal = Rehearsal(track)
    try:
        return rehearsal, rehearsal.through(changes, seed)
    finally:
        rehearsal.stretch_cache.close()


def bends(sound):
    return np.abs(np.diff(sound[:, 0].astype(np.float64), 2)).max()


def test_no_change_leaves_a_gap_or_a_click():
    """A chord bends nowhere more than it does when stretched as a whole."""
    moment = np.arange(int(LENGTH * RATE)) / RATE
    wave = sum(0.15 * np.sin(2 * np.pi * f * moment) for f in (110.0, 277.2, 440.0))
    track = made(wave * np.minimum(1, np.minimum(moment, LENGTH - moment) / 0.3))
    own = max(bends(stretch(track.samples, RATE, tempo)) for tempo in TEMPOS)
    rehearsal, sound = through(track, 200, 1)
    assert rehearsal.mixer.missing == 0
    assert sum(mark.began for mark in rehearsal.marks) > 100
    assert np.abs(sound).max() > 0.2
    assert bends(sound) < 1.5 * own


def test_after_every_change_the_clock_names_the_place_that_is_heard(clicks):
    """Each click heard in undisturbed music lies where the record says."""
    track, times = clicks
    rehearsal, sound = through(track, 200, 2)
    assert rehearsal.mixer.missing == 0
    marks, errors = rehearsal.marks, []
    for frame in np.round(onsets(sound, least=0.05) * RATE):
        before = [mark for mark in marks if mark.frame <= frame - 0.03 * RATE]
        if not before or any(abs(mark.frame - frame) <= 0.03 * RATE for mark in marks):
            continue
        now = before[-1].now(frame)
        if now.state == "music":
            errors.append((now.source - times[np.argmin(np.abs(times - now.source))]) / now.tempo)
    assert len(errors) > 20
    assert abs(np.median(errors)) < 0.001
    assert np.percentile(np.abs(errors), 90) < 0.004
