"""Faults inside the program, and being ended by the system: what is said, what is kept."""

import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtGui import QDesktopServices, QGuiApplication

from rehearse.files.error_log import log_folder
from rehearse.files.user_error import UserError
from rehearse.practice.logbook import Logbook
from rehearse.routine.folder import open_folder
from rehearse.routine.unsaved import list_unsaved
from rehearse.ui.crash import ExceptionHook
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace

from .made import DEMO, fast_folder

pytestmark = pytest.mark.realtime

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(DEMO, tmp_path / "copper-lights")


@pytest.fixture
def hook(workspace, folder, monkeypatch):
    monkeypatch.setattr(Workspace, "decode", lambda self: None)
    assert workspace.open(folder)
    workspace.said = []
    workspace.errorRaised.connect(workspace.said.append)
    hook = ExceptionHook(workspace)
    hook.install()
    yield hook
    hook.remove()


def fall(text):
    raise ZeroDivisionError(text)


def caught(text):
    try:
        fall(text)
    except ZeroDivisionError:
        return sys.exc_info()


@pytest.mark.expects_log
def test_the_same_fault_is_said_once_calmly_and_counted_in_the_log(hook, workspace):
    for k in range(56):
        hook(*caught(f"text {k}"))
    (said,) = workspace.said
    assert said == (
        "Something went wrong inside the program. Your routine is saved. "
        "Ctrl+Shift+L opens the folder with what happened."
    )
    text = (log_folder() / "rehearse.log").read_text()
    assert text.count("ZeroDivisionError") == 1
    assert "the same fault for the 32. time" in text
    assert "text 7" not in text
    hook(UserError, UserError("the disk is full", do="free some space"), None)
    assert workspace.said[-1] == "The disk is full – free some space."


@pytest.mark.expects_log
def test_saved_is_said_only_where_a_save_was_seen_to_end(hook, workspace, folder):
    workspace.edit("name it", routine=replace(workspace.routine, title="Typed before"))
    hook(*caught("x"))
    assert "Your routine is saved." in workspace.said[-1]
    assert open_folder(folder).routine.title == "Typed before"
    folder.rename(folder.parent.parent / f"{folder.parent.name}-gone")
    workspace.edit("name it", routine=replace(workspace.routine, title="Typed without the stick"))
    try:
        [].pop()
    except IndexError:
        hook(*sys.exc_info())
    assert "is not saved yet, it is kept on this machine" in workspace.said[-1]
    assert [state.title for state in list_unsaved()] == ["Typed without the stick"]


@pytest.mark.expects_log
def test_a_fault_in_a_thread_is_said_in_the_window_too(hook, workspace, qtbot):
    thread = threading.Thread(target=fall, args=("in a thread",))
    thread.start()
    thread.join()
    qtbot.waitUntil(lambda: bool(workspace.said))
    assert "Something went wrong inside the program" in workspace.said[-1]


def test_the_log_can_be_opened_by_a_key(workspace, qtbot, monkeypatch):
    opened = []
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: opened.append(url) or True)
    window = Window(workspace)
    qtbot.addWidget(window)
    window.show_log()
    assert opened[0].toLocalFile() == str(log_folder())
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: False)
    window.show_log()
    assert str(log_folder()) in window.error.text
    assert "Ctrl+Shift+L" in window._bindings.of("log")


def test_the_session_managers_end_saves(workspace, folder, monkeypatch):
    monkeypatch.setattr(Workspace, "decode", lambda self: None)
    assert workspace.open(folder)
    application = QGuiApplication.instance()
    application.commitDataRequest.connect(workspace.save)
    workspace.edit("name it", routine=replace(workspace.routine, title="Typed before log-out"))
    application.commitDataRequest.emit(None)
    application.commitDataRequest.disconnect(workspace.save)
    assert open_folder(folder).routine.title == "Typed before log-out"


SCENE = """
import sys
from dataclasses import replace
from pathlib import Path
from PySide6.QtCore import QTimer
import rehearse.app, rehearse.ui.window
class Window(rehearse.ui.window.Window):
    def __init__(self, workspace):
        super().__init__(workspace)
        workspace.startFinished.connect(lambda: QTimer.singleShot(0, self.edit))
    def edit(self):
        workspace = self._workspace
        workspace.edit("name it", routine=replace(workspace.routine, title="Typed at last"))
        QTimer.singleShot(0, lambda: print("edited", flush=True))
rehearse.app.Window = Window
"""


def ended_by(number, folder, tmp_path, scene):
    environment = {**os.environ, "XDG_CONFIG_HOME": str(tmp_path), "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", f"{scene}\nsys.exit(rehearse.app.run(Path(sys.argv[1])))"]
    with subprocess.Popen(
        [*command, str(folder)], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        text=True, env=environment,
    ) as process:  # fmt: skip
        assert process.stdout.readline() == "edited\n", process.stderr.read()
        process.send_signal(number)
        _, err = process.communicate(timeout=20)
    return process.returncode, err


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_being_ended_by_the_system_saves_as_quitting_does(name, folder, tmp_path):
    if not hasattr(signal, name):
        pytest.skip(f"there is no {name} here")
    status, err = ended_by(getattr(signal, name), folder, tmp_path, SCENE)
    assert (status, err) == (0, "")
    assert open_folder(folder).routine.title == "Typed at last"


def test_the_running_pass_is_logged_when_the_system_ends_all_processes(tmp_path):
    """As log-out and shut-down do it: every process of the session is told at once."""
    folder = fast_folder(tmp_path / "fast", bpm=150.0, seconds=28.0)
    home = {name: str(tmp_path / name) for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME")}
    with subprocess.Popen(
        [sys.executable, "-m", "tests.helpers.driven", str(folder), "drill"],
        stdout=subprocess.PIPE, text=True, cwd=ROOT, start_new_session=True,
        env={**os.environ, **home, "PYTHONPATH": str(ROOT)},
    ) as process:  # fmt: skip
        while (line := process.stdout.readline()) != "music\n":
            assert line
            assert not line.startswith("said"), line
        time.sleep(0.5)
        os.killpg(process.pid, signal.SIGTERM)
        rest, _ = process.communicate(timeout=20)
    assert process.returncode == 0
    # A busy machine may have torn the music; that is told, and is no fault of the ending.
    said = [line for line in rest.splitlines() if line.startswith("said")]
    assert all("too busy" in line for line in said), rest
    with Logbook(folder / "practice.sqlite") as book:
        (broken,) = book.history()
    assert not broken.complete
    assert broken.reached > broken.start
