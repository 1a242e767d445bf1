"""Recording one text: begins and ends by itself, names what is wrong, keeps what was there."""

from __future__ import annotations

import subprocess
import sys
import time

import numpy as np
import pytest
import soundfile

from rehearse.cueing.voice.recordings import load_recording
from rehearse.files.user_error import UserError
from rehearse.playback.microphone import LONGEST, RATE, MicRecording, record
from tests.helpers.sound_server import SoundServer, available

BLOCK = RATE // 50


def room(seconds, level=0.001, seed=0):
    return (level * np.random.default_rng(seed).standard_normal(int(seconds * RATE))).astype(
        np.float32
    )


def word(seconds=0.6, level=0.2):
    time_ = np.arange(int(seconds * RATE)) / RATE
    return (level * np.sin(2 * np.pi * 300 * time_)).astype(np.float32)


def blocks(*sounds):
    sound = np.concatenate(sounds)
    return [sound[k : k + BLOCK] for k in range(0, len(sound) - BLOCK + 1, BLOCK)]


def test_it_begins_and_ends_by_itself(tmp_path):
    told = []
    path = record(
        tmp_path / "voice" / "vacuum.wav",
        report=lambda fraction, words: told.append(words),
        blocks=blocks(room(1.0), word(), room(6.0)),
    )
    sound, rate = soundfile.read(path)
    assert rate == RATE
    assert len(sound) / rate == pytest.approx(0.6 + 0.15 + 0.25, abs=0.05)
    assert told[0] == "listening"
    assert told[-1] == "recording"
    assert len(told) * 0.02 == pytest.approx(1.0 + 0.6 + 0.8, abs=0.1)
    assert load_recording(path, "vacuum").length == pytest.approx(0.6, abs=0.03)


def test_a_pause_inside_a_name_does_not_end_it(tmp_path):
    path = record(tmp_path / "a.wav", blocks=blocks(room(0.5), word(), room(0.5), word(), room(3)))
    assert soundfile.info(path).duration == pytest.approx(0.6 + 0.5 + 0.6 + 0.4, abs=0.05)


@pytest.mark.parametrize(
    ("sounds", "words"),
    [
        ((room(LONGEST + 1),), "Nothing was heard"),
        ((room(1.0, 0.05), word(level=0.15), room(9.5, 0.05)), "Nothing was heard"),
        ((room(0.5), word(level=1.2).clip(-1, 1), room(3)), "too loud"),
        ((), "Nothing was heard"),
    ],
)
def test_what_is_wrong_is_one_sentence_and_the_earlier_one_stays(tmp_path, sounds, words):
    path = tmp_path / "crab.wav"
    path.write_bytes(b"the one before")
    with pytest.raises(UserError, match=words):
        record(path, blocks=blocks(*sounds) if sounds else [])
    assert path.read_bytes() == b"the one before"


def test_it_ends_after_the_longest_time():
    recording = MicRecording()
    endless = blocks(room(0.4), word(12.0))
    heard = 0
    for block in endless:
        heard += 1
        if recording.hear(block) or recording.seconds >= LONGEST:
            break
    assert heard * 0.02 == pytest.approx(LONGEST, abs=0.03)


@pytest.mark.sound
@pytest.mark.skipif(not available(), reason="no sound server installed")
def test_a_real_microphone_of_a_sound_server(tmp_path):
    soundfile.write(
        tmp_path / "say.wav", np.concatenate([np.zeros(RATE), word(), np.zeros(RATE)]), RATE
    )
    code = (
        "import sys; from pathlib import Path; from rehearse.playback.microphone import record; "
        "record(Path(sys.argv[1]))"
    )
    with SoundServer() as server:
        player = None
        recorder = subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path / "own.wav")],
            env=server.environment,
            stderr=subprocess.PIPE,
        )
        try:
            time.sleep(1.5)
            player = subprocess.Popen(
                ["paplay", f"--device={server.sink}", str(tmp_path / "say.wav")],
                env=server.environment,
            )
            _, errors = recorder.communicate(timeout=20)
            player.wait(timeout=10)
        finally:
            recorder.kill()
            if player is not None:
                player.kill()
    assert recorder.returncode == 0, errors.decode()[-500:]
    assert load_recording(tmp_path / "own.wav", "x").length == pytest.approx(0.6, abs=0.1)
