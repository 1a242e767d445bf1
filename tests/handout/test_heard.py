"""With a real sound server, what is heard of a cued pass equals the file made of it."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import fftconvolve

from rehearse.cueing.voice import SpeechEngine
from rehearse.handout.cue_plan import CuePlan, plan_stretches
from rehearse.handout.cue_track import write_cue_track
from rehearse.handout.formats import format_of
from rehearse.handout.handout_source import make_source
from rehearse.music.decode import load_track
from rehearse.music.position import parse_position
from rehearse.playback.player import Player
from rehearse.routine.model import Section
from rehearse.session.segment_builder import segment
from tests.helpers.sound_server import SoundServer, available

pytestmark = pytest.mark.sound


@pytest.fixture
def server(monkeypatch, track):
    if not available():
        pytest.skip("PulseAudio and its tools are not installed")
    with SoundServer(track.sample_rate) as running:
        for name, value in running.environment.items():
            monkeypatch.setenv(name, value)
        yield running


def pieces_beside(heard, expected, rate):
    """For each half second of what is expected: frames beside the one delay, and likeness."""
    match = fftconvolve(heard, expected[: 3 * rate][::-1], "valid")
    delay, piece, reach = int(np.argmax(match)), rate // 2, 200
    found = []
    for first in range(0, min(len(expected), len(heard) - delay) - 2 * piece, piece):
        want = expected[first : first + piece]
        if np.sqrt(np.mean(want**2)) < 0.005:
            continue
        around = heard[max(0, delay + first - reach) : delay + first + piece + reach]
        place = int(np.argmax(np.correlate(around, want, "valid")))
        got = around[place : place + piece]
        norm = float(np.linalg.norm(got) * np.linalg.norm(want))
        found.append((place - min(reach, delay + first), np.dot(got, want) / max(norm, 1e-9)))
    return found


def heard_pass(server, track, one, seconds):
    """Play a pass once and record it: the sound, and whether nothing stumbled."""
    with server.recording() as recording:
        player = Player()
        player.load(track)
        deadline = time.perf_counter() + 20
        while not player.device and time.perf_counter() < deadline:
            player.poll()
            time.sleep(0.02)
        player.play(one, repeat=False)
        end = time.perf_counter() + seconds + 1.0
        while time.perf_counter() < end:
            player.poll()
            time.sleep(0.02)
        whole = player.missing == 0 and player.underruns == 0
        player.close()
        time.sleep(0.3)
    return recording.samples.mean(axis=1), whole


def test_the_pass_heard_is_the_pass_in_the_file(source, track, server, tmp_path):
    """At full tempo, to the frame; slower, live music begins in smaller stretched pieces.

    The file is louder as a whole, which does not change the likeness, and limited where it peaks,
    which takes up to three thousandths; ten milliseconds of silence would take ten.
    """
    short = Section("cccccccc", "Short", parse_position("4:1"), parse_position("5:1"))
    routine = replace(source.routine, sections=(short,))
    source = make_source(source.folder, routine, source.beatmap)
    plan, speech_engine = CuePlan(sections=("Short",), tempos=(1.0,)), SpeechEngine()
    written = write_cue_track(
        source, track, tmp_path / "cues.flac", plan, speech_engine, form=format_of("flac")
    )
    expected = load_track(written.path).samples.mean(axis=1)
    (stretch,) = plan_stretches(source, plan)
    one = segment(stretch, source.sheet, track.sample_rate, speech_engine)
    rate = track.sample_rate
    for _ in range(3):  # a sound server that stumbles on a busy machine is not what is measured
        heard, whole = heard_pass(server, track, one, len(expected) / rate)
        found = pieces_beside(heard, expected, rate)
        alike = [abs(shift) <= 1 and likeness > 0.994 for shift, likeness in found]
        if whole and all(alike):
            break
    assert len(found) > 8
    assert any(alike)
    told = "  ".join(f"{shift} {likeness:.4f}" for shift, likeness in found)
    assert all(alike) or not whole, told
