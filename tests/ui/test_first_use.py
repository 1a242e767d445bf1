"""Someone who has never seen the program: from nothing to five poses on the beat.

Every gesture is a real event: keys where the focus is, the pointer where things lie.
"""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from rehearse.music.beatmap import BeatMap, Reading, Stretch
from rehearse.routine.folder import open_folder, save_folder
from rehearse.ui import file_dialog
from rehearse.ui.pages.routine.panel_stack import SUGGESTIONS
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace

from .made import PromptWorkers
from .routine.conftest import (
    RATE,
    TRACK,
    HandClock,
    decoded_as,
    make_routine,
)

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"
PATIENCE = 120_000
K = Qt.Key


class Hands:
    """Presses, clicks and writes, and counts: a name written is one gesture."""

    def __init__(self):
        self.gestures = 0

    def press(self, *keys):
        for key in keys:
            self.gestures += 1
            QTest.keyClick(QApplication.focusWidget(), key)

    def click(self, widget, x, y):
        self.gestures += 1
        QTest.mouseClick(widget, Qt.MouseButton.LeftButton, pos=QPoint(round(x), round(y)))

    def choose_file(self, path):
        """Answer the system's own dialog, which no test can press keys in: a name and Return."""
        self.gestures += 2
        return str(path)


@pytest.fixture
def clock():
    return HandClock()


@pytest.fixture
def workspace(qapp, settings, clock):
    workspace = Workspace(settings, make_player=lambda: clock)
    yield workspace
    workspace.close()


@pytest.fixture
def hands():
    return Hands()


@pytest.fixture
def page(qtbot, workspace, settings, tmp_path, hands, monkeypatch):
    """The Routine page after: Space, the song's name, Return; it goes on from there."""
    settings.put("routines", str(tmp_path / "routines"))
    song = tmp_path / "lanterns.ogg"
    shutil.copy(DEMO / "track.ogg", song)
    monkeypatch.setattr(file_dialog, "open_file", lambda *_: hands.choose_file(song))
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    qtbot.waitExposed(window)
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    window._empty.setFocus()
    hands.press(K.Key_Space)
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=PATIENCE)
    yield window.page
    window.page.leave()


def off_the_beat(workspace) -> np.ndarray:
    """Seconds from every hit to the nearest beat."""
    hits = np.array([workspace.beatmap.time_of(p.hit) for p in workspace.routine.poses])
    return np.abs(workspace.beatmap.times[None, :] - hits[:, None]).min(axis=1)


def test_five_poses_tapped_while_the_music_plays(page, workspace, hands, clock):
    hands.press(K.Key_Space)
    first = workspace.beatmap.beats[0]
    for eight in range(5):
        clock.source = first + 4.0 * eight + 0.07  # a hand is late
        hands.press(K.Key_B)
    hands.press(K.Key_Space)
    assert len(workspace.routine.poses) == 5
    assert off_the_beat(workspace).max() < 0.001
    assert hands.gestures == 10
    assert workspace.save()
    assert open_folder(workspace.folder).routine == workspace.routine


def test_five_poses_by_suggestion_and_pointer(page, workspace, hands):
    assert page.panels.panel == SUGGESTIONS
    first = page.findings.suggestions[0]
    hands.press(K.Key_Return)  # the first suggestion is marked
    assert [p.hit for p in workspace.routine.poses] == [first.hit]
    beats = [b for b in workspace.beatmap.beats if b > first.time + 3.0]
    for eight in range(4):
        x = page.wave.scale.x(beats[8 * eight]) + 3  # the pointer is a little beside it
        hands.click(page.wave, x, page.wave.scale.wave.center().y())
        hands.press(K.Key_P, K.Key_Return)
    assert len(workspace.routine.poses) == 5
    assert off_the_beat(workspace)[1:].max() < 0.001
    assert hands.gestures == 16


def test_five_suggestions_taken_one_after_the_other(page, workspace, hands):
    hands.press(*[K.Key_Return] * 5)
    assert len(workspace.routine.poses) == 5
    assert hands.gestures == 8


def test_a_song_without_a_beat_asks_for_four_taps_and_poses_stand_on_their_counts(
    qtbot, workspace, clock, tmp_path, monkeypatch
):
    """It had four suggestions in seconds, and four taps were refused: no beats in this reading."""
    monkeypatch.setattr(Workspace, "decode", decoded_as(TRACK))
    nothing = Reading("as tapped", 1.0, (), ())
    monkeypatch.setattr("rehearse.music.analysis.readings.tapped_reading", lambda *a, **k: nothing)
    free = BeatMap(TRACK.content_hash, TRACK.duration, (), (), free=(Stretch(0.0, TRACK.duration),))
    folder = tmp_path / "made"
    folder.mkdir()
    soundfile.write(folder / "song.wav", TRACK.samples, RATE)
    save_folder(folder, replace(make_routine(), poses=(), sections=()), free)
    monkeypatch.setattr(workspace._jobs, "_workers", PromptWorkers)
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    qtbot.waitExposed(window)
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    assert workspace.open(folder)
    window._show_made()
    music = window.page
    assert "tap four counts" in music.place.text()
    music.setFocus()
    shift = Qt.KeyboardModifier.ShiftModifier
    for k in range(5):  # the first starts the song
        clock.source = 8.0 + 0.6 * k
        QTest.keyClick(music.view, K.Key_K, shift)
    qtbot.waitUntil(lambda: window.page is not music and not workspace.jobs)
    assert len(workspace.beatmap.beats) > 100
    page = window.page
    page.findings.look()
    assert page.panels.panel == SUGGESTIONS
    control = Qt.KeyboardModifier.ControlModifier
    QTest.keyClick(QApplication.focusWidget() or page, K.Key_Return, control)
    assert len(workspace.routine.poses) >= 5
    assert off_the_beat(workspace).max() < 0.001
    workspace.undo.undo()  # all of them are one step
    assert not workspace.routine.poses
    page.leave()
