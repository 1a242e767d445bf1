"""Tracks made for measuring, and a private sound server."""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[1] / "helpers"))
from playback_tools import RATE, made


@pytest.fixture(scope="session")
def clicks():
    """Two-millisecond bursts at irregular known times over a quiet chord: (track, times)."""
    rng = np.random.default_rng(3)
    time = np.arange(12 * RATE) / RATE
    samples = sum(0.03 * np.sin(2 * np.pi * f * time) for f in (220.0, 277.2, 440.0))
    times, at, length = [], 0.5, int(0.002 * RATE)
    while at < 11.5:
        start = round(at * RATE)
        samples[start : start + length] += 0.4 * rng.uniform(-1, 1, length)
        times.append(start / RATE)
        at += rng.uniform(0.3, 0.5)
    return made(samples), np.array(times)


@pytest.fixture(scope="session")
def ramp():
    """A track whose samples tell their own place: value = frame / frames, 20 s."""
    frames = 20 * RATE
    return made(np.arange(frames) / frames * 0.85)


@pytest.fixture
def server(monkeypatch):
    """A private sound server whose environment this process and its children use."""
    import sound_server

    if not sound_server.available():
        pytest.skip("PulseAudio and its tools are not installed")
    with sound_server.SoundServer(RATE) as running:
        for name, value in running.environment.items():
            monkeypatch.setenv(name, value)
        yield running
