"""Keys held down under a real X server, whose repeats arrive as releases and fresh presses."""

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from rehearse.practice.logbook import Logbook
from tests.helpers import screen as screen_module
from tests.helpers.screen import Screen

from .made import fast_folder

ROOT = Path(__file__).resolve().parents[2]


class Program:
    """The window in a process of its own, and the lines it says."""

    def __init__(self, screen, folder, settings):
        command = [sys.executable, "-m", "tests.ui.held", str(folder), str(settings)]
        environment = {**os.environ, **screen.environment, "PYTHONPATH": str(ROOT)}
        self._process = subprocess.Popen(
            command, env=environment, stdout=subprocess.PIPE, text=True, cwd=ROOT
        )
        self.lines = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self):
        self.lines.extend(line.strip() for line in iter(self._process.stdout.readline, ""))

    def until(self, start, seconds=30.0, after=0):
        end = time.monotonic() + seconds
        while not any(line.startswith(start) for line in self.lines[after:]):
            assert time.monotonic() < end, f"never {start!r}: {self.lines}"
            time.sleep(0.02)

    def states(self, after=0):
        said = [line.split()[1] for line in self.lines[after:] if line.startswith("now")]
        return [s for k, s in enumerate(said) if k == 0 or s != said[k - 1]]

    def end(self):
        self._process.terminate()
        self._process.wait(10)
        self._reader.join()
        self._process.stdout.close()


@pytest.fixture
def screen():
    if not screen_module.available():
        pytest.skip("Xvfb or xdotool is not installed")
    with Screen(1280, 720) as screen:
        yield screen


@pytest.fixture
def program(screen, tmp_path):
    folder = fast_folder(tmp_path / "fast", bpm=200.0, seconds=30.0)
    program = Program(screen, folder, tmp_path / "settings.ini")
    program.folder = folder
    try:
        program.until("ready")
        screen.focus("Rehearse")
        yield program
    finally:
        program.end()


def passes(program):
    with Logbook(program.folder / "practice.sqlite") as book:
        return book.history()


def test_the_clickers_back_button_held_stops_and_judges_nothing(screen, program):
    screen.key("space")
    program.until("now music")
    at = len(program.lines)
    began = time.monotonic()
    screen.hold("Prior", 2.0)  # held on long after it has stopped
    program.until("now over", 1.0, after=at)
    assert time.monotonic() - began < 3.5
    time.sleep(0.3)
    states = program.states(at)
    assert states[-1] == "over"
    assert "missed" not in program.lines
    chosen = {line.split(maxsplit=3)[3] for line in program.lines if line.startswith("now")}
    assert len(chosen) == 1  # it does not go on to choose other sections
    (broken,) = passes(program)
    assert not broken.complete
    assert broken.verdict is None


def test_held_keys_do_once_what_is_done_once_and_repeat_what_repeats(screen, program):
    screen.hold("minus", 1.2)
    percents = {int(line.split()[2]) for line in program.lines if line.startswith("now")}
    assert min(percents) == 40  # from 60, by repeats
    screen.key("space")
    program.until("now music")
    at = len(program.lines)
    screen.hold("space", 1.2)
    time.sleep(0.3)
    assert program.states(at)[-1] == "paused"
    assert program.states(at).count("paused") == 1
    screen.key("space")
    program.until("now music", 5.0, after=at)
    screen.key("Prior")  # short: missed
    screen.key("Prior")
    time.sleep(0.3)
    at = len(program.lines)
    assert program.states()[-1] == "music"
    screen.key("s")
    program.until("now over", 5.0, after=at)
    deadline = time.monotonic() + 5
    while not passes(program) and time.monotonic() < deadline:
        time.sleep(0.1)  # the logbook is written by a thread of its own
    (done,) = passes(program)
    assert done.verdict == "missed"
