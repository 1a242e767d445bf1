"""Fixtures of every room: unexpected log records and threads left behind fail a test."""

from __future__ import annotations

import logging
import os
import threading
import time

import hypothesis
import pytest

from tests.helpers import shared_workers

# How long an example takes depends on what else the machine does; time is for the benches.
hypothesis.settings.register_profile("calm", deadline=None)
hypothesis.settings.load_profile("calm")

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
# Whatever language the machine speaks: texts are compared in English. Another one, to look at how
# its texts fit, is asked for by REHEARSE_TEST_LANGUAGE.
os.environ["REHEARSE_LANGUAGE"] = os.environ.get("REHEARSE_TEST_LANGUAGE", "en")


@pytest.fixture(autouse=True)
def state_of_nobody(monkeypatch, tmp_path_factory):
    """What this machine's user has open, or has not saved, plays no part."""
    place = tmp_path_factory.mktemp("state")
    monkeypatch.setenv("XDG_STATE_HOME", str(place))
    return place / "rehearse"


@pytest.fixture(scope="session")
def _voice_process():
    from tests.helpers.steady_voice import SteadyVoice

    voice = SteadyVoice()
    yield voice
    voice.close()


@pytest.fixture
def steady_voice(_voice_process, monkeypatch):
    """The voice says each text the same in every run and order (see `helpers/steady_voice.py`)."""
    from rehearse.cueing.voice import espeak

    monkeypatch.setattr(espeak, "render", _voice_process.render)


@pytest.fixture(scope="module")
def steady_voices(_voice_process):
    """The same for all tests of a module."""
    from rehearse.cueing.voice import espeak

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(espeak, "render", _voice_process.render)
        yield


class _Collector(logging.Handler):
    def __init__(self):
        super().__init__(logging.WARNING)
        self.records: list[logging.LogRecord] = []

    def emit(self, record):
        self.records.append(record)


@pytest.fixture(autouse=True)
def no_unexpected_log(request):
    """A warning or worse in the log fails the test unless it is marked `expects_log`."""
    collector = _Collector()
    logging.getLogger().addHandler(collector)
    yield
    logging.getLogger().removeHandler(collector)
    if collector.records and request.node.get_closest_marker("expects_log") is None:
        lines = "\n".join(f"{r.name}: {r.getMessage()}" for r in collector.records)
        pytest.fail(f"unexpected log records:\n{lines}")


@pytest.fixture(autouse=True)
def no_thread_left():
    """A test that leaves a thread of its own running fails (daemons included after 2 s)."""
    before = set(threading.enumerate())
    yield
    deadline = time.monotonic() + 2.0
    while time.monotonic() < deadline:
        known = before | shared_workers.threads()
        left = [t for t in threading.enumerate() if t not in known and t.is_alive()]
        if not left:
            return
        time.sleep(0.02)
    pytest.fail(f"threads left running: {', '.join(t.name for t in left)}")
