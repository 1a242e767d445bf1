"""The emergency stop by real key presses from a real X server."""

import os
import queue
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from ..helpers import screen
from .made import fast_folder

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.skipif(
    not screen.available(), reason="needs a virtual X server and xdotool"
)


class Scene:
    """The window on its screen, and what it tells."""

    def __init__(self, display, folder, settings):
        command = [sys.executable, "-m", "tests.ui.stop_scene", str(folder), str(settings)]
        self.display = display
        self.process = subprocess.Popen(
            command,
            cwd=ROOT,
            env={**os.environ, **display.environment},
            stdout=subprocess.PIPE,
            text=True,
        )
        self.lines = queue.SimpleQueue()
        self.reader = threading.Thread(target=self._read)
        self.reader.start()

    def _read(self):
        for line in self.process.stdout:
            self.lines.put(line.strip())

    def wait_for(self, words, seconds=30.0):
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            try:
                if words in self.lines.get(timeout=0.2):
                    return
            except queue.Empty:
                continue
        raise AssertionError(f"never told: {words}")

    def end(self):
        self.process.terminate()
        self.process.wait()
        self.reader.join()
        self.process.stdout.close()


@pytest.fixture
def scene(tmp_path):
    with screen.Screen(1366, 768) as display:
        scene = Scene(display, fast_folder(tmp_path / "fast", seconds=40.0), tmp_path / "s.ini")
        try:
            scene.wait_for("silence", 60)
            display.focus("Rehearse")
            yield scene
        finally:
            scene.end()


def test_d_stops_every_page_and_from_a_field_and_a_menu(scene):
    press = scene.display.key
    for page, name in (("1", "MusicPage"), ("2", "RoutinePage"), ("3", "RehearsePage")):
        press(page)
        press("space")
        scene.wait_for(f"{name} sound")
        press("d")
        scene.wait_for("stop", 5)
        scene.wait_for(f"{name} silence", 5)
    press("2")
    press("space")
    scene.wait_for("RoutinePage sound")
    press("p")  # the picker: a text to search by
    press("d")  # typed
    press("ctrl+d")
    scene.wait_for("stop", 5)
    scene.wait_for("RoutinePage silence", 5)
