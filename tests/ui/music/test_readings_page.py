"""The other ways to count a song at one key, and the one that four taps mean."""

from __future__ import annotations

from dataclasses import replace

import mir_eval
import numpy as np
import pytest
from PySide6.QtCore import Qt

from rehearse.music.beatmap import Confidence
from tests.ui.music.conftest import map_of
from tests.ui.music.test_gestures import Hand, pose_times

TRUTH = [0.5 + 0.5 * k for k in range(56)]


def continuity(workspace) -> float:
    """CMLt of the map (Davies, Degara & Plumbley, C4DM-TR-09-06)."""
    return mir_eval.beat.continuity(np.asarray(TRUTH), np.asarray(workspace.beatmap.beats))[1]


def unsure(track, times):
    beatmap = map_of(track, times)
    return replace(beatmap, confidence=(Confidence(0.0, track.duration, 0.3),))


@pytest.mark.parametrize("step", [1 / 3, 0.375, 1.0], ids=["x1.5", "x1.33", "half"])
def test_a_map_at_another_tempo_is_right_after_three_presses(step, open_page, qtbot):
    wrong = np.arange(0.5, 28.5, step).tolist()
    workspace, page = open_page(TRUTH, 29.0, lambda t: map_of(t, wrong))
    before, old = pose_times(workspace), workspace.beatmap
    hand = Hand(qtbot, page)
    while continuity(workspace) < 0.95 and hand.gestures < 3:
        hand.key(Qt.Key.Key_Y, Qt.KeyboardModifier.ShiftModifier)
    assert continuity(workspace) >= 0.95
    assert page.song_playback.on  # it is heard, with the clicks of this reading
    clips = workspace.player.segments[-1].clips
    assert [c.at for c in clips] == pytest.approx(workspace.beatmap.beats)
    for was, now in zip(before, pose_times(workspace), strict=True):
        assert now == pytest.approx(was, abs=0.05)
    workspace.undo.undo()
    assert workspace.beatmap == old


def test_the_key_goes_on_through_all_readings_and_tells_how_likely_each_is(open_page, qtbot):
    workspace, page = open_page(TRUTH, 29.0, lambda t: map_of(t, TRUTH[::2]))
    old, seen = workspace.beatmap, []
    for _ in range(4):
        qtbot.keyClick(page.view, Qt.Key.Key_Y, Qt.KeyboardModifier.ShiftModifier)
        qtbot.waitUntil(lambda: not workspace.jobs)
        seen.append((page.place.text(), workspace.beatmap.beats, workspace.beatmap.places))
    assert len({(beats, places) for _, beats, places in seen}) == 4
    assert all("% likely" in words for words, _, _ in seen)
    # Going through them is one step.
    workspace.undo.undo()
    assert workspace.beatmap == old


def test_a_song_with_one_reading_names_the_key_that_taps(open_page, qtbot, monkeypatch):
    monkeypatch.setattr("rehearse.music.analysis.readings.find_readings", lambda *args, report: ())
    workspace, page = open_page(TRUTH, 29.0, lambda t: map_of(t, TRUTH))
    told = []
    monkeypatch.setattr(workspace.notice, "say", told.append)
    qtbot.keyClick(page.view, Qt.Key.Key_Y, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: bool(told))
    assert told == ["There is no other reading – tap four counts with Shift+K."]


def test_a_doubtful_song_asks_once_and_four_taps_answer(open_page, qtbot):
    # Three counts for two: the map of one who counts the triplets.
    wrong = np.arange(0.5, 28.5, 1 / 3).tolist()
    workspace, page = open_page(TRUTH, 29.0, lambda t: unsure(t, wrong))
    assert "tap four counts" in page.place.text()
    hand = Hand(qtbot, page)
    page.view.set_cursor(TRUTH[7])
    hand.key(Qt.Key.Key_K, Qt.KeyboardModifier.ShiftModifier)
    assert page.song_playback.on
    assert not workspace.player.segments[-1].clips  # the clicks of a wrong map lead the hand
    for k, stray in enumerate((-0.02, 0.015, -0.03, 0.01)):
        workspace.player.source = TRUTH[8 + k] + stray
        qtbot.keyClick(page.view, Qt.Key.Key_K, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: not workspace.jobs)
    assert continuity(workspace) >= 0.95
    index = workspace.beatmap.nearest(TRUTH[8])
    assert workspace.beatmap.places[index] == 1
    assert "tap four counts" not in page.place.text()
    assert len(workspace.player.segments[-1].clips) == len(workspace.beatmap.beats)


def test_escape_answers_too_and_a_sure_song_asks_nothing(open_page, qtbot):
    workspace, page = open_page(TRUTH, 29.0, lambda t: unsure(t, TRUTH))
    assert "tap four counts" in page.place.text()
    qtbot.keyClick(page.view, Qt.Key.Key_Escape)
    assert "tap four counts" not in page.place.text()
    sure = replace(workspace.beatmap, confidence=(Confidence(0.0, 29.0, 0.9),))
    workspace.edit("sure", beatmap=sure)
    assert "tap four counts" not in page.place.text()
