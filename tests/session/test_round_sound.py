"""A round heard through a real sound server against its log: calls ±20 ms, holds ±50 ms."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest

from rehearse.cueing.voice import SpeechEngine
from rehearse.music.track import Track
from rehearse.playback.player import Player
from rehearse.practice.logbook import Logbook
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rounds import RELAX, RoundWish, make_round
from rehearse.routine.rules import load_rules
from rehearse.session import rounds
from rehearse.session.round_run import RoundRun
from rehearse.session.rounds import lay_out, measure_with
from tests.helpers.heard import heard_at
from tests.playback.conftest import server  # noqa: F401

pytestmark = [pytest.mark.sound, pytest.mark.realtime]

RATE = 44_100
EVENING = datetime(2026, 11, 2, 18, 0, tzinfo=UTC)


def background():
    """Five seconds of a low chord: the round goes over its seam again and again."""
    at = np.arange(5 * RATE) / RATE
    chord = 0.05 * np.sin(2 * np.pi * 98 * at) + 0.05 * np.sin(2 * np.pi * 147 * at)
    return Track(np.stack([chord, chord], 1).astype(np.float32), RATE, "chord")


def test_calls_and_holds_are_heard_as_they_are_logged(server, tmp_path, monkeypatch):  # noqa: F811
    track = background()
    monkeypatch.setattr(rounds, "_READY", 0.4)
    wish = RoundWish("random", 2.0, 2.5, rest=0.0, calls=2, seed=11)
    made = make_round(load_rules("nga-amateur"), wish, load_catalogue())
    speech_engine = SpeechEngine()
    laid = lay_out(made, measure_with(speech_engine))
    player, book = Player(), Logbook(tmp_path / "practice.sqlite", tmp_path / "spare.sqlite")
    player.load(track)
    with server.recording() as recording, book:
        run = RoundRun(
            player,
            laid,
            track,
            speech_engine,
            book,
            clock=lambda: EVENING,
            steady=time.perf_counter,
        )
        zero = run._since
        while run.busy:
            run.tick()
            time.sleep(0.01)
        player.close()
        time.sleep(0.2)
        (done,) = book.rounds()
    assert done.complete
    sound = recording.samples[:, 0]

    def heard(text, near):
        """perf_counter at which a text left the speaker, searched around where it was logged."""
        around = round((near - recording.time_of(0)) * RATE)
        spoken = speech_engine.samples(text, "name", RATE)
        frame, alike = heard_at(sound, spoken, around, RATE // 2)
        assert alike > 0.8, text
        return recording.time_of(frame)

    calls, reliefs = [], []
    for call in done.calls:
        logged = zero + (call.called - EVENING).total_seconds()
        calls.append((heard(call.said, logged), logged))
        relax = logged + call.spoken + call.hold
        reliefs.append(heard(RELAX, relax))
    for at, logged in calls:
        assert abs(at - logged) < 0.020
    for (at, _), relax, call in zip(calls, reliefs, done.calls, strict=True):
        assert abs((relax - at - call.spoken) - call.hold) < 0.050
        assert abs(call.hold - call.planned) < 0.050
    apart = [b[0] - a[0] - (b[1] - a[1]) for a, b in pairwise(calls)]
    assert max(map(abs, apart)) < 0.020
