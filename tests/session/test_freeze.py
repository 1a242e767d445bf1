"""Real processes stopped in mid-pass for some seconds and continued, as a machine that sleeps or
is short of everything does it."""

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from rehearse.practice.logbook import Logbook

pytestmark = pytest.mark.realtime

ROOT = Path(__file__).parents[2]
sys.path.append(str(ROOT / "tests" / "helpers"))
#: Seconds of the pass, and of a stop that nobody can overlook.
LENGTH, FREEZE = 3.0, 3.6


@pytest.fixture
def server():
    import sound_server

    if not sound_server.available():
        pytest.skip("PulseAudio and its tools are not installed")
    with sound_server.SoundServer() as running:
        yield running


class Program:
    """The rehearsal under test and what it has said so far."""

    def __init__(self, path, environment, *how):
        command = [sys.executable, str(ROOT / "tests/session/frozen.py"), str(path), *how]
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
            env={**environment, "PYTHONPATH": str(ROOT)},
        )
        self.lines = []

    def until(self, *words, seconds=30.0):
        """Read on until a line begins with these words; returns the rest of it."""
        end = time.monotonic() + seconds
        while line := self.process.stdout.readline():
            cue_state, *said = line.split()
            self.lines.append((float(cue_state), said))
            if said[: len(words)] == list(words):
                return said[len(words) :]
            assert time.monotonic() < end, f"{words} never came: {self.lines[-5:]}"
        raise AssertionError(f"it ended before {words}: {self.lines[-5:]}")

    def heard(self, least):
        while float(self.until("heard")[0]) < least:
            pass

    def told(self):
        return [" ".join(said[1:]) for _, said in self.lines if said[0] == "told"]

    def close(self):
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()


@pytest.fixture
def program(tmp_path, request):
    how = getattr(request, "param", ())
    environment = os.environ
    if not how:
        environment = request.getfixturevalue("server").environment
    running = Program(tmp_path / "practice.sqlite", environment, *how)
    yield running
    running.close()


def passes(tmp_path):
    with Logbook(tmp_path / "practice.sqlite") as book:
        return book.history()


def freeze(pids, seconds):
    """Stop processes and continue them."""
    for pid in pids:
        os.kill(pid, signal.SIGSTOP)
    time.sleep(seconds)
    for pid in pids:
        with contextlib.suppress(ProcessLookupError):  # given up meanwhile
            os.kill(pid, signal.SIGCONT)


def family(pid):
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [pid, *(one for child in children for one in family(int(child)))]


both = pytest.mark.parametrize("program", [(), ("silent",)], indirect=True, ids=["sound", "silent"])


def test_a_playback_process_stopped_for_long_breaks_the_pass_off(program, tmp_path):
    playback = int(program.until("playback")[0])
    program.heard(1.0)
    freeze([playback], FREEZE)
    program.until("end")
    assert len(program.told()) == 1
    assert program.told()[0].endswith("go on.")
    first, *others = passes(tmp_path)
    assert not first.complete
    assert first.reached == pytest.approx(1.0, abs=0.5)
    assert [p.complete for p in others] == [True]


@both
def test_a_program_stopped_whole_goes_on_at_one_key(program, tmp_path):
    program.until("playback")
    program.heard(1.0)
    freeze(family(program.process.pid), FREEZE)
    program.until("end")
    first, *others = passes(tmp_path)
    if first.complete:  # it waited, and was heard whole
        assert program.told() == []
        assert (first.ended - first.started).total_seconds() >= LENGTH + FREEZE - 0.5
    else:
        assert len(program.told()) == 1
        assert program.told()[0].endswith("go on.")
        assert first.reached == pytest.approx(1.0, abs=0.5)
        assert [p.complete for p in others] == [True]


def test_a_short_stop_is_only_a_pause(program, tmp_path):
    playback = int(program.until("playback")[0])
    program.heard(1.0)
    freeze([playback], 1.0)
    program.until("end")
    # A second of the music is missing: that is said, and nothing else.
    assert [w for w in program.told() if not w.startswith("The music stood still for")] == []
    (first,) = passes(tmp_path)
    assert first.complete
    # No pass counts as heard before its music can have been.
    assert (first.ended - first.started).total_seconds() >= LENGTH - 0.1
