"""The start: the stage is on the screen first, everything else follows at once and in its place."""

import shutil
import sqlite3
import subprocess
import sys

import pytest

from rehearse.practice.logbook import FILE_NAME, Logbook
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace

from .made import DEMO, kept


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(DEMO, tmp_path / "copper-lights")


@pytest.fixture
def deferred(qapp, settings):
    workspace = Workspace(settings, deferred=True)
    yield workspace
    workspace.close()


@pytest.mark.parametrize("size", [(960, 600), (1366, 768), (1920, 1080), (2560, 1440)])
def test_what_follows_does_not_move_the_stage(deferred, folder, qtbot, size):
    window = Window(deferred)
    qtbot.addWidget(window)
    window.resize(*size)
    assert deferred.open(folder)
    with qtbot.waitExposed(window):
        window.show()
    page = window.page
    assert page.stage.isVisible()
    assert not hasattr(page, "drill_panel"), "nothing was deferred"
    before = page.stage.geometry()
    deferred.finish_start()
    # The line of work, below the page, comes and goes with the reading of the song.
    qtbot.waitUntil(lambda: deferred.track is not None and not deferred.jobs, timeout=120_000)
    qtbot.waitUntil(page.footer.isVisible)
    assert page.drill_panel.isVisible()
    qtbot.waitUntil(lambda: page.stage.geometry() == before)
    page.leave()


def test_a_window_closed_before_anything_followed_leaves_in_peace(deferred, folder, qtbot):
    window = Window(deferred)
    qtbot.addWidget(window)
    deferred.open(folder)
    window.show()
    assert window.close()
    assert deferred.logbook is None


def test_a_newer_logbook_found_after_the_first_picture_is_told_and_left_alone(
    deferred, folder, qtbot, tmp_path, monkeypatch
):
    monkeypatch.setattr("platformdirs.user_data_path", lambda _name: tmp_path / "machine")
    Logbook(folder / FILE_NAME).close()
    with sqlite3.connect(folder / FILE_NAME) as db:
        db.execute("PRAGMA user_version = 99")
    db.close()
    window = Window(deferred)
    qtbot.addWidget(window)
    assert deferred.open(folder)
    before = (folder / FILE_NAME).read_bytes()
    deferred.finish_start()
    qtbot.waitUntil(lambda: "newer version" in window.error.text, timeout=5000)
    assert "kept on this machine" in window.error.text
    assert deferred.routine is not None
    assert window.page is not None
    assert kept(deferred) == ()
    window.close()
    deferred.close()
    assert (folder / FILE_NAME).read_bytes() == before


def test_the_first_picture_needs_neither_numpy_nor_the_logbook(folder):
    """What the window's process has imported when its first picture is painted."""
    scene = """
import enum, os, sys
made, new = set(), enum.EnumType.__new__
def noting(kind, name, *args, **kwargs):
    made.add(name)
    return new(kind, name, *args, **kwargs)
enum.EnumType.__new__ = noting
from pathlib import Path
import rehearse.app, rehearse.ui.window
from PySide6.QtCore import Qt
class Window(rehearse.ui.window.Window):
    def __init__(self, workspace):
        super().__init__(workspace)
        self.painted.connect(self.tell, Qt.ConnectionType.QueuedConnection)
    def tell(self):
        print(*sorted(sys.modules), *(f"enum:{kind}" for kind in made), flush=True)
        os._exit(0)
rehearse.app.Window = Window
rehearse.app.run(Path(sys.argv[1]))
"""
    done = subprocess.run(
        [sys.executable, "-c", scene, str(folder)], capture_output=True, text=True, check=True
    )
    modules = set(done.stdout.split())
    assert {"rehearse.ui.stage.paint", "rehearse.cueing.cues"} <= modules
    late = {"numpy", "librosa", "scipy", "av", "sqlite3", "statistics", "rehearse.ui.icons"}
    late |= {"html", "platformdirs", "concurrent.futures", "rehearse.ui.file_dialog"}
    late |= {"rehearse.routine.rounds", "rehearse.routine.rules", "rehearse.music.song_import"}
    late |= {"rehearse.routine.zip_import", "rehearse.routine.photos", "rehearse.ui.tips"}
    assert not modules & late
    # Of gradients, icons, styles, file dialogs and docks: members of each are made one by one.
    heavy = {"Preset", "ThemeIcon", "PixelMetric", "FileMode", "DockWidgetFeature"}
    assert "enum:Key" in modules
    assert not modules & {f"enum:{name}" for name in heavy}
