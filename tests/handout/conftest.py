"""A small routine folder made for these tests: low drums at 120 BPM under a soft chord."""

from __future__ import annotations

import os
import shutil
import subprocess

import numpy as np
import pytest
import soundfile

from rehearse.handout.handout_source import load_source
from rehearse.music.beatmap import Accent, BeatMap, Stretch
from rehearse.music.decode import load_track
from rehearse.music.position import Length, parse_position
from rehearse.routine.folder import save_folder
from rehearse.routine.model import Facing, Placed, Routine, Section, StagePart

RATE = 44100
SECONDS = 40.0
BEATS = tuple(1.0 + 0.5 * k for k in range(72))


def drums(rate=RATE):
    """Stereo, shape (n, 2): everything under 250 Hz, so that speech stands alone above it."""
    time = np.arange(int(SECONDS * rate)) / rate
    sound = 0.06 * np.sin(2 * np.pi * 110 * time) + 0.04 * np.sin(2 * np.pi * 165 * time)
    hit = np.arange(int(0.2 * rate)) / rate
    drum = 0.7 * np.sin(2 * np.pi * (55 + 60 * np.exp(-hit / 0.03)) * hit) * np.exp(-hit / 0.06)
    for beat in BEATS:
        first = round(beat * rate)
        sound[first : first + len(drum)] += drum[: len(sound) - first]
    return np.stack([sound, 0.9 * sound], axis=1).astype(np.float32)


def routine(poses):
    placed = tuple(
        Placed(f"{k:08x}", name, parse_position(hit), Length(hold), Length(transition), **more)
        for k, (name, hit, hold, transition, more) in enumerate(poses)
    )
    return Routine(
        "Test Night / Übung",
        "song.wav",
        show="Harbour Classic",
        division="Open class",
        show_date="2027-04-17",
        stage=StagePart(1.0, 31.0, 0.5, 2.0),
        poses=placed,
        sections=(
            Section("aaaaaaaa", "Opening", parse_position("1:1"), parse_position("4:1")),
            Section("bbbbbbbb", "Back", parse_position("4:1"), parse_position("6:1")),
        ),
    )


POSES = (
    ("front double biceps", "2:1", 4, 2, {"note": "Breathe out, then lock the legs."}),
    ("side chest left", "3:1", 4, 2, {}),
    ("back double biceps", "4:5", 4, 2, {"note": "Дыши спокойно"}),
    ("abdominals and thighs", "5:5", 4, 2, {"facing": Facing.FRONT}),
    ("most muscular crab", "6:5", 5, 1, {}),
    ("vacuum", "7:7&", 2, 2, {}),
)


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """The folder; copy it before changing it."""
    folder = tmp_path_factory.mktemp("routine") / "night"
    folder.mkdir()
    soundfile.write(folder / "song.wav", drums(), RATE, "PCM_16")
    track = load_track(folder / "song.wav")
    beatmap = BeatMap(
        track.content_hash,
        track.duration,
        BEATS,
        tuple(k % 4 + 1 for k in range(len(BEATS))),
        free=(Stretch(0.0, 1.0),),
        accents=(Accent(BEATS[8], 0.9), Accent(BEATS[16], 0.7)),
        quiets=(Stretch(20.0, 24.0),),
    )
    save_folder(folder, routine(POSES), beatmap)
    return folder


@pytest.fixture
def folder(made, tmp_path):
    """A copy of the folder for one test."""
    return shutil.copytree(made, tmp_path / "night")


@pytest.fixture(scope="session")
def source(made):
    return load_source(made)


@pytest.fixture(scope="session")
def track(made):
    return load_track(made / "song.wav")


@pytest.fixture(scope="session", autouse=True)
def kept_speech(tmp_path_factory):
    """Spoken texts are kept in a folder of the tests' own."""
    before = os.environ.get("XDG_CACHE_HOME")
    os.environ["XDG_CACHE_HOME"] = str(tmp_path_factory.mktemp("cache"))
    yield
    if before is None:
        del os.environ["XDG_CACHE_HOME"]
    else:
        os.environ["XDG_CACHE_HOME"] = before


@pytest.fixture(scope="session")
def tool():
    """Run an outside tool and return what it prints; skips where it is not installed."""

    def run(*command):
        if shutil.which(command[0]) is None:
            pytest.skip(f"{command[0]} is not installed")
        return subprocess.run(command, check=True, capture_output=True, text=True).stdout

    return run
