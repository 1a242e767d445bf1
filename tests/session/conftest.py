"""A routine to rehearse, and a player that runs on the tests' own time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from rehearse.cueing.cues import CueSheet
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Length, parse_position
from rehearse.music.track import Track, hash_samples
from rehearse.playback.segment import Now, OutputBack, OutputLost, PassEnded, PassStarted
from rehearse.practice.logbook import Logbook
from rehearse.routine.model import Placed, Routine, Section
from rehearse.routine.poses import load_catalogue
from rehearse.session.rehearsal import Rehearsal
from rehearse.session.rehearsal_context import RehearsalContext

RATE = 8000
POSES = ("front double biceps", "front lat spread", "back double biceps", "vacuum")


class Turntable:
    """The player's outside with time in the hand of the test."""

    def __init__(self):
        self.time = 0.0
        self.current = None
        self.follow = None
        self.began = 0.0
        self.held = False
        self.lost = False
        self.events = []
        self.number = 0

    def _start(self, segment, elapsed):
        self.current, self.began, self.number = segment, self.time - elapsed, self.number + 1
        self.events.append(PassStarted(segment.key, self.number))

    def play(self, segment, *, at=None, repeat=True):
        self.lost = self.held = False
        self.follow = None
        elapsed = -segment.lead if at is None else (at - segment.start) / segment.tempo
        self._start(segment, elapsed)

    def change(self, segment, *, repeat=True):
        if self.current is None:
            self.play(segment, repeat=repeat)
            return
        elapsed, old, source = self._elapsed(), self.current, self.now().source
        again = -segment.lead
        if elapsed < 0 and old.start == segment.start:
            again = max(again, elapsed * old.tempo / segment.tempo)
        elif 0 <= elapsed < self._music() and segment.start <= source < segment.end:
            again = (source - segment.start) / segment.tempo
        self.follow = None
        self.events.append(PassEnded(old.key, self.number, False, source))
        self._start(segment, again)

    def then(self, segment, *, repeat=True):
        self.follow = segment

    def pause(self):
        self.held = True

    def resume(self):
        self.held = False

    def stop(self):
        if self.current:
            self.events.append(PassEnded(self.current.key, 1, False, self.now().source))
        self.current = None

    def lose(self):
        self.lost = True
        self.events.append(PassEnded(self.current.key, 1, False, self.now().source))
        self.events.append(OutputLost("The speaker is gone – plug it in and press Space."))

    def come_back(self):
        self.events.append(OutputBack())

    def _elapsed(self):
        return self.time - self.began

    def _music(self):
        return (self.current.end - self.current.start) / self.current.tempo

    def advance(self, seconds):
        if self.held or self.lost:
            return
        self.time += seconds
        while self.current and self._elapsed() >= self._music() + self.current.rest:
            over = self._elapsed() - self._music() - self.current.rest
            self.events.append(PassEnded(self.current.key, 1, True, self.current.end))
            follow, self.follow = self.follow, None
            if follow is None:
                self.current = None
            else:
                self._start(follow, over - follow.lead)

    def now(self):
        if self.current is None:
            return Now()
        elapsed, p = self._elapsed(), self.current
        state = "lead" if elapsed < 0 else "music" if elapsed < self._music() else "rest"
        if self.held or self.lost:
            state = "lost" if self.lost else "paused"
        source = min(max(p.start + elapsed * p.tempo, p.start), p.end)
        return Now(source, elapsed, p.tempo, p.key, 1, state)

    def poll(self):
        events, self.events = tuple(self.events), []
        return events


@pytest.fixture
def context():
    beats = tuple(0.5 * k for k in range(64))
    silence = np.zeros((32 * RATE, 2), np.float32)
    track = Track(silence, RATE, hash_samples(silence, RATE))
    beatmap = BeatMap(track.content_hash, 32.0, beats, tuple(k % 4 + 1 for k in range(64)))
    poses = tuple(
        Placed(f"pose{k}", name, parse_position(f"{2 * k + 1}:5"), Length(4), Length(2))
        for k, name in enumerate(POSES)
    )
    sections = (Section("s1", "First", parse_position("1:1"), parse_position("3:1")),)
    routine = Routine("t", "t.wav", poses=poses, sections=sections)
    return RehearsalContext(track, routine, CueSheet.compile(routine, beatmap, load_catalogue()))


class Room:
    """A rehearsal under way, its log, and the time it runs on."""

    def __init__(self, context, book):
        self.table, self.book, self.told = Turntable(), book, []
        self.rehearsal = Rehearsal(
            self.table, on_error=self.told.append, clock=self.clock, steady=lambda: self.table.time
        )
        self.rehearsal.open(context, book)

    def clock(self):
        return datetime(2027, 3, 1, 18, tzinfo=UTC) + timedelta(seconds=self.table.time)

    def run(self, seconds, step=0.02):
        """Let time pass as the window does, frame by frame; returns the last view."""
        view = self.rehearsal.tick()
        for _ in range(round(seconds / step)):
            self.table.advance(step)
            view = self.rehearsal.tick()
        return view

    def until(self, state, most=120.0):
        """Let time pass until the rehearsal is in `state`."""
        passed = 0.0
        while (view := self.run(0.02)).state != state:
            passed += 0.02
            assert passed < most, f"{state} never came"
        return view


@pytest.fixture
def room(context, tmp_path):
    with Logbook(tmp_path / "practice.sqlite") as book:
        yield Room(context, book)
