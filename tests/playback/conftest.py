"""Tracks made for measuring, and a private sound server."""

import numpy as np
import pytest

from tests.helpers import sound_server
from tests.helpers.playback_tools import RATE, clicking, made


@pytest.fixture(scope="session")
def clicks():
    """Twelve seconds of bursts at irregular known times over a quiet chord: (track, times)."""
    return clicking(12, seed=3)


@pytest.fixture(scope="session")
def ramp():
    """A track whose samples tell their own place: value = frame / frames, 20 s."""
    frames = 20 * RATE
    return made(np.arange(frames) / frames * 0.85)


@pytest.fixture
def server(monkeypatch):
    """A private sound server whose environment this process and its children use."""
    if not sound_server.available():
        pytest.skip("PulseAudio and its tools are not installed")
    with sound_server.SoundServer(RATE) as running:
        for name, value in running.environment.items():
            monkeypatch.setenv(name, value)
        yield running
