"""A choreographer's list on 22 poses, by real keys and clicks, each the long way and the short one.

The long way is what there was before pins, phrases and moves by an eight, and still works; both
ways end in the same routine. Counted are presses and clicks; a name written is one.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import soundfile
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from rehearse.music.beatmap import Accent
from rehearse.music.position import Count, Length
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import Placed, Routine, Section, StagePart
from rehearse.ui.pages.routine import lanepaint
from rehearse.ui.window import ROUTINE, Window
from rehearse.ui.workspace import Workspace

from .routine.conftest import RATE, TRACK, HandClock, decoded_as, make_map

K = Qt.Key
SHIFT, CTRL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier
NAMES = ("front double biceps", "side chest left", "back lat spread", "lunge reach")
_MIRRORED = ("front double", "side chest right", "back lat", "lunge reach right")
#: Counts from 1:1 on: four poses with room between them, one on the accent, seventeen after it.
PLACES = (0, 6, 12, 18, 30, *range(34, 99, 4))
#: Half a second a count from 4.0 s on (120 BPM); three of the accents are a count beside a pose.
ACCENTS = (30, 51, 67, 83)
WALL = 4


def at(count: float) -> Count:
    return Count(1 + int(count) // 8, 1 + int(count) % 8)


def time_of(count: float) -> float:
    return 4.0 + 0.5 * count


class Hands:
    """Presses and clicks on the Routine page, counted."""

    def __init__(self, window):
        self.window, self.page, self.gestures = window, window.page, 0

    def press(self, *keys, held=Qt.KeyboardModifier.NoModifier, times=1):
        for key in keys * times:
            self.gestures += 1
            QTest.keyClick(QApplication.focusWidget(), key, held)

    def write(self, text):
        self.gestures += 1
        QTest.keyClicks(QApplication.focusWidget(), text)

    def click_music(self, count):
        self.gestures += 1
        wave = self.page.wave
        spot = QPoint(round(wave.scale.x(time_of(count))), round(wave.scale.wave.center().y()))
        QTest.mouseClick(wave, Qt.MouseButton.LeftButton, pos=spot)

    def click_pose(self, index, held=Qt.KeyboardModifier.NoModifier):
        self.gestures += 1
        lane = self.page.lane
        hit = self.page.timings.all[index].hit
        spot = QPoint(round(lane.scale.x(hit)) + 2, round(lanepaint.bar_top(lane.scene) + 10))
        assert 0 < spot.x() < lane.width(), "in view"
        QTest.mouseClick(lane, Qt.MouseButton.LeftButton, held, spot)

    def click_section(self, count):
        self.gestures += 1
        strip = self.page.strip
        spot = QPoint(round(strip.scale.x(time_of(count))), strip.height() // 2)
        QTest.mouseClick(strip, Qt.MouseButton.LeftButton, pos=spot)


@pytest.fixture
def workspace(qapp, settings, tmp_path, monkeypatch):
    monkeypatch.setattr(Workspace, "decode", decoded_as(TRACK))
    folder = tmp_path / "made"
    folder.mkdir()
    soundfile.write(folder / "song.wav", TRACK.samples, RATE)
    accents = tuple(Accent(time_of(c), 0.8) for c in ACCENTS)
    beatmap = replace(make_map(), accents=accents, builds=(), quiets=())
    poses = tuple(
        Placed(f"{k:08x}", NAMES[k % 4], at(c), Length(3 if k < WALL else 2), Length(2))
        for k, c in enumerate(PLACES)
    )
    part = Section("5ec70001", "Opening", at(0), at(22))
    stage = StagePart(0.0, 78.0)
    routine = Routine("Made", "song.wav", rules="open-90", stage=stage, poses=poses)
    save_folder(folder, replace(routine, sections=(part,)), beatmap)
    workspace = Workspace(settings, make_player=HandClock)
    assert workspace.open(folder)
    yield workspace
    workspace.save()
    workspace.close()


@pytest.fixture
def window(workspace, qtbot):
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    window.show_page(ROUTINE)
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    window.page.setFocus()
    yield window
    window.close()


def told(workspace) -> list[tuple]:
    """What the routine is, but for the ids of what is new."""
    poses = [(p.pose, str(p.hit), str(p.hold), str(p.transition)) for p in workspace.routine.poses]
    return [*poses, *((s.name, str(s.start), str(s.end)) for s in workspace.routine.sections)]


def walk(window, workspace, long, short, what=told):
    """Go both ways from the same start to the same end; returns the gestures of each."""
    start = workspace.routine
    counts, ends = [], []
    for way in (long, short):
        hands = Hands(window)
        way(hands)
        counts.append(hands.gestures)
        ends.append(what(workspace))
        steps = workspace.undo.index()
        while workspace.undo.canUndo():
            workspace.undo.undo()
        assert workspace.routine == start
        hands.press(K.Key_Escape, K.Key_Home)
        window.page.wave.set_range(0.0, 30.0)
    assert ends[0] == ends[1]
    assert steps == 1, "the short way is one step of undo"
    return tuple(counts)


def test_insert_between_pinned_hits(window, workspace):
    def insert(hands):
        hands.click_music(12)
        hands.press(K.Key_I)
        hands.write("victory")
        hands.press(K.Key_Return)

    def long(hands):
        insert(hands)
        hands.press(K.Key_I, held=SHIFT)  # as it was before: everything behind it has moved
        hands.click_pose(WALL + 1)
        hands.press(K.Key_Down, held=SHIFT, times=len(PLACES) - WALL - 1)
        hands.press(K.Key_Left, times=6)

    assert walk(window, workspace, long, insert) == (29, 4)


def test_take_out_between_pinned_hits(window, workspace):
    def take_out(hands):
        hands.click_pose(1)
        hands.press(K.Key_Delete, held=SHIFT)

    def long(hands):
        take_out(hands)
        hands.press(K.Key_I, held=SHIFT)
        hands.click_pose(WALL - 1)
        hands.press(K.Key_Down, held=SHIFT, times=len(PLACES) - WALL - 1)
        hands.press(K.Key_Right, times=6)

    assert walk(window, workspace, long, take_out) == (27, 2)


def test_a_section_copied_mirrored(window, workspace):
    def long(hands):
        hands.press(K.Key_Z, held=SHIFT, times=3)
        for k, name in enumerate(_MIRRORED):
            hands.click_music(112 + 6 * k)
            hands.press(K.Key_P)
            hands.write(name)
            hands.press(K.Key_Return)
            hands.press(K.Key_H, held=SHIFT)
        hands.press(K.Key_Up, held=SHIFT, times=3)
        hands.press(K.Key_E)
        hands.write("Opening mirrored")
        hands.press(K.Key_Return)

    def short(hands):
        hands.click_section(3)
        hands.press(K.Key_C, held=CTRL)
        hands.press(K.Key_Z, held=SHIFT, times=3)
        hands.click_music(112)
        hands.press(K.Key_V, held=CTRL | SHIFT)

    def what(workspace):
        # A section named by hand begins with its first way, a copied one as it did.
        assert [s.name for s in workspace.routine.sections] == ["Opening", "Opening mirrored"]
        return [t for t in told(workspace) if len(t) == 4]

    assert walk(window, workspace, long, short, what) == (29, 7)


def test_a_selection_moved_by_an_eight(window, workspace):
    def choose(hands):
        hands.press(K.Key_Z, held=SHIFT, times=3)
        hands.click_pose(18)
        hands.click_pose(21, SHIFT)

    def long(hands):
        choose(hands)
        hands.press(K.Key_Right, times=8)

    def short(hands):
        choose(hands)
        hands.press(K.Key_Right, held=SHIFT)

    assert walk(window, workspace, long, short) == (13, 6)


def test_all_on_accents(window, workspace):
    def long(hands):
        hands.press(K.Key_Z, held=SHIFT, times=3)
        for k in (9, 13, 17):
            hands.click_pose(k)
            hands.press(K.Key_Right)

    def short(hands):
        hands.press(K.Key_A, held=CTRL)
        hands.press(K.Key_A, held=SHIFT)

    assert [PLACES[k] + 1 for k in (9, 13, 17)] == list(ACCENTS[1:])
    assert walk(window, workspace, long, short) == (9, 2)
    workspace.undo.redo()
    assert workspace.save()
    assert open_folder(workspace.folder).routine == workspace.routine
