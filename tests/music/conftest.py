"""Fixtures of the music room: sound files made with FFmpeg's own program, outside our decoder."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile

RATE = 44100


@pytest.fixture(scope="session")
def ffmpeg():
    """Run FFmpeg's program with these arguments."""

    def run(*arguments):
        command = ["ffmpeg", "-v", "error", "-y", *(str(a) for a in arguments)]
        subprocess.run(command, check=True, capture_output=True)

    return run


@pytest.fixture(scope="session")
def tone(tmp_path_factory) -> Path:
    """6 s: left a click a second from 1 s on over 440 Hz, right 660 Hz."""
    time = np.arange(6 * RATE) / RATE
    left, right = 0.1 * np.sin(2 * np.pi * 440 * time), 0.1 * np.sin(2 * np.pi * 660 * time)
    for second in range(1, 6):
        left[second * RATE : second * RATE + 60] += 0.7
    path = tmp_path_factory.mktemp("tone") / "tone.wav"
    soundfile.write(path, np.stack([left, right], axis=1), RATE, subtype="PCM_16")
    return path
