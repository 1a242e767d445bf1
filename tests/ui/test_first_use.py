"""Someone who has never seen the program: from nothing to five poses on the beat, by keys."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QFileDialog

from rehearse.routine.folder import open_folder
from rehearse.ui.pages.routine.side import SUGGESTIONS
from rehearse.ui.window import Window

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"
PATIENCE = 30_000


class Hands:
    """Presses real keys where the focus is, and counts them."""

    def __init__(self, qtbot):
        self.qtbot, self.gestures = qtbot, 0

    def press(self, *keys):
        for key in keys:
            self.gestures += 1
            self.qtbot.keyClick(QApplication.focusWidget(), key)


@pytest.fixture
def window(qtbot, desk, settings, tmp_path, monkeypatch):
    settings.put("routines", str(tmp_path / "routines"))
    song = tmp_path / "lanterns.ogg"
    shutil.copy(DEMO / "track.ogg", song)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *a: (str(song), ""))
    window = Window(desk)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    qtbot.waitExposed(window)
    window.activateWindow()
    window._empty.setFocus()
    return window


def test_five_poses_on_the_beat_in_few_gestures(qtbot, window, desk):
    hands = Hands(qtbot)
    hands.press(Qt.Key.Key_N, Qt.Key.Key_Space)
    qtbot.waitUntil(window.page.main.isEnabled, timeout=PATIENCE)
    hands.press(Qt.Key.Key_Return)
    page = window.page
    assert page.side.panel == SUGGESTIONS
    qtbot.waitUntil(lambda: len(page.findings.suggestions) > 0, timeout=PATIENCE)
    qtbot.waitUntil(lambda: desk.track is not None, timeout=PATIENCE)
    hands.press(Qt.Key.Key_S, Qt.Key.Key_Return)  # the first suggestion
    assert len(desk.routine.poses) == 1
    hands.press(Qt.Key.Key_Escape)
    first = desk.beatmap.time_of(desk.routine.poses[0].hit)
    for eight in range(4):  # and one every eight counts after it, at the cursor
        page.choice.select("")
        page.choice.cursor = first + 0.05 + 4.0 * (eight + 1)
        hands.press(Qt.Key.Key_P)
        if page.lower.currentWidget() is page.picker:
            hands.press(Qt.Key.Key_Return)
    poses = desk.routine.poses
    assert len(poses) == 5
    hits = np.array([desk.beatmap.time_of(p.hit) for p in poses])
    # The first suggestion may be an accent before the beat begins; the rest are on the beat.
    accents = np.array([a.time for a in desk.beatmap.accents])
    off = np.abs(desk.beatmap.times[None, :] - hits[:, None]).min(axis=1)
    assert min(off[0], np.abs(accents - hits[0]).min()) < 0.01
    assert off[1:].max() < 0.001
    assert hands.gestures <= 20
    assert desk.save()
    assert len(open_folder(desk.folder).routine.poses) == 5
