"""Odd music and odd routines: every gesture works or says why, and every screen can be painted."""

from __future__ import annotations

import sys

import numpy as np
import pytest
import soundfile
from PySide6.QtCore import Qt

from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.position import Count, Length, Seconds
from rehearse.music.track import Track, hash_samples
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import OwnPose, Placed, Routine, Section, StagePart
from rehearse.routine.poses import load_catalogue
from rehearse.ui.workspace import Workspace

from .conftest import decoded_as, shown

RATE = 4000
K = Qt.Key
SHIFT = Qt.KeyboardModifier.ShiftModifier
LONG = "a very long name of a pose that somebody made up in the gym x"
NAMES = tuple(pose.name for pose in load_catalogue().poses)


def counted(seconds, step=0.5, bar=4):
    """A map of steady beats from 0.5 s on."""
    beats = tuple(float(b) for b in np.arange(0.5, seconds - 0.5, step))
    return {"beats": beats, "places": tuple(k % bar + 1 for k in range(len(beats)))}


def placed(number, hit, name="", hold=4, **more):
    name = name or NAMES[number % len(NAMES)]
    return Placed(f"{number:08x}", name, hit, Length(hold), Length(2), **more)


def free(number, seconds):
    lengths = Length(3.0, in_counts=False), Length(1.5, in_counts=False)
    return Placed(f"{number:08x}", NAMES[number], Seconds(seconds), *lengths)


#: Name: seconds, the map, the routine.
ODD = {
    "no beat, no pose": (20, {"free": (Stretch(0.0, 20.0),)}, {}),
    "no beat": (20, {"free": (Stretch(0.0, 20.0),)},
                {"poses": (free(1, 0.0), free(2, 12.345678), free(3, 19.99))}),
    "one beat": (20, {"beats": (3.0,), "places": (1,)}, {"poses": (placed(1, Count(1, 1)),)}),
    "three to the bar": (30, counted(30, bar=3),
                         {"poses": tuple(placed(k, Count(k + 1, 1)) for k in range(6))}),
    "eight minutes": (480, counted(480),
                      {"poses": tuple(placed(k, Count(2 * k + 1, 1)) for k in range(59))}),
    "sixty poses in a minute": (
        60, counted(60),
        {"poses": tuple(placed(k, Count(k // 8 + 1, k % 8 + 1)) for k in range(60))}),
    "one pose": (30, counted(30), {"poses": (placed(1, Count(3, 1)),)}),
    "beyond the end": (20, counted(20), {
        "stage": StagePart(5.0, 15.0),
        "poses": (free(1, 19.5), free(2, 45.0), placed(3, Count(5, 1), hold=64))}),
    "long names": (30, counted(30), {
        "title": "T" * 60, "show": "S" * 60, "own_poses": (OwnPose(LONG),),
        "poses": tuple(placed(k, Count(k + 1, 1), LONG, note="Long note " * 40, say="say " * 20)
                       for k in range(5)),
        "sections": (Section("s1", LONG, Count(1, 1), Count(6, 1)),
                     Section("s2", LONG, Count(2, 1), Count(4, 1)),
                     Section("s3", "tiny", Count(3, 1), Count(3, 2)))}),
}  # fmt: skip

SHIFT, CTRL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier
GESTURES = (
    *(K.Key_Home, K.Key_P, K.Key_Return, K.Key_B, K.Key_A, K.Key_Right, K.Key_Left),
    *(K.Key_H, K.Key_T, K.Key_R, K.Key_L, K.Key_Y, (K.Key_X, SHIFT), K.Key_G, K.Key_Right),
    *(K.Key_B, K.Key_I, K.Key_Return, K.Key_Down, K.Key_Up, K.Key_Return, K.Key_Return),
    *((K.Key_M, SHIFT | CTRL), K.Key_E, K.Key_Return, K.Key_Z, (K.Key_C, SHIFT), K.Key_Return),
    *(K.Key_Escape, (K.Key_G, SHIFT), K.Key_Return, K.Key_V, (K.Key_V, SHIFT)),
    *(K.Key_Question, K.Key_End, K.Key_Delete, K.Key_Escape),
)


@pytest.fixture
def odd(request, qtbot, settings, tmp_path, clock, monkeypatch):
    """A page on one of the odd folders, as it opens from disk."""
    seconds, beats, routine = ODD[request.param]
    samples = np.random.default_rng(1).normal(0, 0.05, (seconds * RATE, 2)).astype(np.float32)
    samples.setflags(write=False)
    track = Track(samples, RATE, hash_samples(samples, RATE), "song")
    soundfile.write(tmp_path / "song.wav", samples, RATE, subtype="FLOAT")
    beatmap = BeatMap(track.content_hash, float(seconds), **beats)
    made = Routine(**{"title": "Odd", "track": "song.wav", "rules": "open-60", **routine})
    save_folder(tmp_path, made, beatmap)
    monkeypatch.setattr(Workspace, "decode", decoded_as(track))
    broken: list[BaseException] = []
    monkeypatch.setattr(sys, "excepthook", lambda kind, error, trace: broken.append(error))
    workspace = Workspace(settings, make_player=lambda: clock)
    assert workspace.open(tmp_path)
    page = shown(
        qtbot, workspace, 960, 504
    )  # what the smallest window leaves while a fault is shown
    yield page
    page.leave()
    workspace.save()
    workspace.close()
    assert not broken


@pytest.mark.parametrize("odd", ODD, indirect=True)
def test_every_gesture_on_odd_music_and_every_undo(odd, qtbot):
    before = odd.workspace.routine
    odd.grab()
    for key in GESTURES:
        name, held = key if isinstance(key, tuple) else (key, Qt.KeyboardModifier.NoModifier)
        qtbot.keyClick(odd.focusWidget() or odd, name, held)
        hits = [odd.workspace.beatmap.time_of(p.hit) for p in odd.workspace.routine.poses]
        assert hits == sorted(hits)
    for size in ((960, 504), (1366, 700), (2560, 1380)):
        odd.resize(*size)
        odd.grab()
    assert odd.workspace.save()
    assert open_folder(odd.workspace.folder).routine == odd.workspace.routine
    while odd.workspace.undo.canUndo():
        odd.workspace.undo.undo()
    assert odd.workspace.routine == before


@pytest.mark.parametrize("odd", ["no beat, no pose"], indirect=True)
def test_low_pages_keep_room_for_the_lists(odd, qtbot):
    for _ in range(2):
        assert odd.panels.checks.parentWidget().height() >= 15 * 8
        odd.bar.put.click()
        qtbot.waitUntil(lambda: odd.picker.grid.height() >= 25 * 8)
        odd.show_overview()
