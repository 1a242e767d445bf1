"""A wrong map is right after a few gestures, made with real keys and a real mouse."""

from __future__ import annotations

from dataclasses import replace

import mir_eval
import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt

from rehearse.playback.segment import OutputLost
from rehearse.routine.model import StagePart
from tests.ui.music.conftest import map_of

CTRL, SHIFT, ALT = (
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
    Qt.KeyboardModifier.AltModifier,
)


class Hand:
    """Counts what it does: a key or a click is a gesture."""

    def __init__(self, qtbot, page):
        self.qtbot, self.page, self.gestures = qtbot, page, 0

    def key(self, key, modifiers=Qt.KeyboardModifier.NoModifier):
        self.qtbot.keyClick(self.page.view, key, modifiers)
        self.qtbot.waitUntil(lambda: not self.page._workspace.jobs)
        self.gestures += 1

    def click(self, time):
        """Click on the waveform, without catching beats or accents."""
        point = self._point(time)
        self.qtbot.mouseClick(self.page.view, Qt.MouseButton.LeftButton, ALT, point)
        self.gestures += 1

    def drag(self, start, end):
        a, b = self._point(start), self._point(end)
        view, left = self.page.view, Qt.MouseButton.LeftButton
        self.qtbot.mousePress(view, left, ALT, a)
        self.qtbot.mouseMove(view, (a + b) / 2)
        self.qtbot.mouseMove(view, b)
        self.qtbot.mouseRelease(view, left, ALT, b)
        self.gestures += 1

    def _point(self, time):
        scale = self.page.view.scale
        return QPoint(round(scale.x(time)), round(scale.wave.center().y()))


def pose_times(workspace):
    return [p.times(workspace.beatmap) for p in workspace.routine.poses]


def test_half_tempo_on_the_off_beat_is_right_after_two_gestures(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, [b + 0.25 for b in truth[::2]]))
    before = pose_times(workspace)
    hand = Hand(qtbot, page)
    hand.key(Qt.Key.Key_Q)
    hand.key(Qt.Key.Key_Left, CTRL)
    assert hand.gestures <= 3
    assert workspace.beatmap.beats == pytest.approx(truth, abs=0.001)
    assert workspace.beatmap.places == tuple(k % 4 + 1 for k in range(60))
    for old, new in zip(before, pose_times(workspace), strict=True):
        assert new == pytest.approx(old, abs=0.001)


def faster_behind(bpm, until):
    """Forty beats at 120 BPM, then faster ones up to second `until`."""
    beats = [0.5 + 0.5 * k for k in range(40)]
    while beats[-1] < until:
        beats.append(beats[-1] + 60 / bpm)
    return beats


def test_a_missed_tempo_change_is_right_after_six_gestures_at_most(open_page, qtbot):
    truth = faster_behind(144, 43.0)
    wrong = [0.5 + 0.5 * k for k in range(87)]
    workspace, page = open_page(truth, 44.0, lambda t: map_of(t, wrong))
    poses = pose_times(workspace)
    hand = Hand(qtbot, page)
    page.view.set_range(20.0, 30.0)
    hand.click(truth[50])
    hand.key(Qt.Key.Key_J, SHIFT)
    found = np.asarray(workspace.beatmap.beats)
    f = mir_eval.beat.f_measure(np.asarray(truth), found, f_measure_threshold=0.025)
    assert hand.gestures <= 6
    assert f >= 0.97
    # What was right before the change stands where it stood.
    assert workspace.beatmap.beats[:36] == pytest.approx(truth[:36], abs=0.03)
    for old, new in zip(poses, pose_times(workspace), strict=True):
        assert new == pytest.approx(old, abs=0.06)


def test_behind_a_missed_tempo_change_the_map_is_right_to_the_end(open_page, qtbot):
    truth = faster_behind(156, 97.0)
    wrong = [0.5 + 0.5 * k for k in range(194)]
    workspace, page = open_page(truth, 98.0, lambda t: map_of(t, wrong))
    hand = Hand(qtbot, page)
    for beat in (46, 66):
        # A second pin, 8 s on, where the map is right by now, must not spoil it.
        page.view.set_range(truth[beat] - 5, truth[beat] + 5)
        hand.click(truth[beat])
        hand.key(Qt.Key.Key_J, SHIFT)
        found = np.asarray(workspace.beatmap.beats)
        assert mir_eval.beat.f_measure(np.asarray(truth), found, 0.025) >= 0.97
    assert hand.gestures <= 6


def test_a_pin_goes_to_the_onset_that_the_hand_can_mean(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    _, page = open_page(truth, 31.0, lambda t: map_of(t, [b + 0.2 for b in truth]))
    page.view.set_cursor(12.54)
    assert page.corrections.exact_cursor() == pytest.approx(12.5, abs=0.003)
    # From near, 40 ms are a distance that no hand overlooks.
    page.view.set_range(12.0, 13.0)
    assert page.corrections.exact_cursor() == pytest.approx(12.54, abs=0.016)


def test_a_stretch_is_found_again_in_two_gestures(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    wrong = [t + (0.21 if 10 < t < 20 else 0.0) for t in truth]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, wrong))
    hand = Hand(qtbot, page)
    hand.drag(9.8, 20.4)
    hand.key(Qt.Key.Key_M, SHIFT)
    f = mir_eval.beat.f_measure(np.asarray(truth), np.asarray(workspace.beatmap.beats), 0.025)
    assert hand.gestures == 2
    assert f >= 0.97


def test_tapping_along_replaces_a_stretch(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, [b + 0.2 for b in truth]))
    rng = np.random.default_rng(5)
    hand = Hand(qtbot, page)
    hand.key(Qt.Key.Key_K)
    assert workspace.player.playing
    for beat in truth[8:24]:
        workspace.player.source = beat - 0.03 + rng.normal(0, 0.02)
        hand.key(Qt.Key.Key_K)
    hand.key(Qt.Key.Key_Return)
    inside = [b for b in workspace.beatmap.beats if 4.3 <= b <= 12.1]
    assert inside == pytest.approx(truth[8:24], abs=0.02)
    assert workspace.beatmap.places[workspace.beatmap.beats.index(inside[0])] == 1


def test_taps_to_a_song_that_is_taken_away_are_dropped_with_a_sentence(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    hand = Hand(qtbot, page)
    hand.key(Qt.Key.Key_K)
    for beat in truth[8:16]:
        workspace.player.source = beat
        hand.key(Qt.Key.Key_K)
    before = workspace.beatmap
    with qtbot.waitSignal(workspace.errorRaised) as told:
        workspace.edit("use gone.wav", routine=replace(workspace.routine, track="gone.wav"))
    assert "The song is being read" in told.args[0]
    assert not page.song_playback.on
    assert workspace.beatmap is before


def test_every_correction_is_one_step_back(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    hand = Hand(qtbot, page)
    hand.click(8.1)
    before, routine = workspace.beatmap, workspace.routine
    page.view.select(None)
    steps = [
        (Qt.Key.Key_Q, None),
        (Qt.Key.Key_Q, SHIFT),
        (Qt.Key.Key_O, None),
        (Qt.Key.Key_O, SHIFT),
        (Qt.Key.Key_A, CTRL | SHIFT),
        (Qt.Key.Key_Left, CTRL),
        (Qt.Key.Key_Right, CTRL | SHIFT),
        (Qt.Key.Key_Left, ALT),
        (Qt.Key.Key_S, SHIFT),
        (Qt.Key.Key_E, SHIFT),
    ]
    for key, modifiers in steps:
        page.view.set_cursor(8.1)
        hand.key(key, modifiers or Qt.KeyboardModifier.NoModifier)
        assert workspace.undo.count() == 1, key
        workspace.undo.undo()
        assert workspace.beatmap == before
        assert workspace.routine == routine


def test_free_time_is_marked_by_dragging_and_lifted_by_the_same_key(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    hand = Hand(qtbot, page)
    hand.drag(10.2, 16.2)
    hand.key(Qt.Key.Key_F, SHIFT)
    (free,) = workspace.beatmap.free
    assert (free.start, free.end) == pytest.approx((10.2, 16.2), abs=0.05)
    hand.click(12.0)
    hand.key(Qt.Key.Key_F, SHIFT)
    assert workspace.beatmap.free == ()
    assert workspace.beatmap.beats == pytest.approx(truth, abs=0.001)


def test_an_accent_comes_and_goes(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    hand = Hand(qtbot, page)
    # The map misses the drum at 12.5; the hand is 20 ms beside it, the accent is not.
    hand.key(Qt.Key.Key_Q, SHIFT)
    page.view.set_cursor(12.52)
    hand.key(Qt.Key.Key_A, CTRL | SHIFT)
    assert [a.time for a in workspace.beatmap.accents] == pytest.approx([12.5], abs=0.003)
    hand.key(Qt.Key.Key_Delete)
    assert workspace.beatmap.accents == ()
    hand.key(Qt.Key.Key_Delete)
    assert workspace.undo.count() == 3


def test_the_stage_part_is_set_and_its_overrun_told(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(150)]
    workspace, page = open_page(truth, 76.0, lambda t: map_of(t, truth))
    hand = Hand(qtbot, page)
    page.view.set_cursor(truth[0])
    hand.key(Qt.Key.Key_S, SHIFT)
    page.view.set_cursor(truth[130])
    hand.key(Qt.Key.Key_E, SHIFT)
    assert (workspace.routine.stage.start, workspace.routine.stage.end) == (truth[0], truth[130])
    assert "65.0 s on stage" in page.stage.length.text()
    assert "5.0 s over the limit of 60 s" in page.stage.length.text()
    page.stage.fade_out.setValue(3.0)
    assert workspace.routine.stage.fade_out == 3.0
    page.view.set_cursor(truth[120])
    hand.key(Qt.Key.Key_E, SHIFT)
    assert "over" not in page.stage.length.text()


def test_a_stage_part_keeps_a_second_and_room_for_its_fades(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    page.stage.fade_in.setValue(10.0)
    page.stage.fade_out.setValue(15.0)
    page.view.set_cursor(20.0)
    page.stage.end_here()
    assert workspace.routine.stage == StagePart(0.0, 20.0, 10.0, 10.0)
    for time in (19.5, 20.0, 25.0):
        page.view.set_cursor(time)
        with qtbot.waitSignal(workspace.errorRaised) as told:
            page.stage.begin_here()
        assert told.args == ["The part would be shorter than a second – move its other end first."]
    assert workspace.routine.stage.start == 0.0
    page.stage.whole()
    assert workspace.routine.stage == StagePart(0.0, 31.0, 10.0, 10.0)


def test_an_end_of_the_stage_part_is_dragged_onto_a_beat(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    view, left = page.view, Qt.MouseButton.LeftButton
    scale = view.scale
    y = round(scale.layers.center().y())
    start = QPoint(round(scale.x(31.0)) - 2, y)
    qtbot.mousePress(view, left, Qt.KeyboardModifier.NoModifier, start)
    page.stage.fade_out.setValue(4.0)
    for time in (28.0, 2.0, 25.1):
        qtbot.mouseMove(view, QPoint(round(scale.x(time)), y))
    qtbot.mouseRelease(view, left, Qt.KeyboardModifier.NoModifier, QPoint(round(scale.x(25.1)), y))
    assert workspace.routine.stage == StagePart(0.0, 25.0, 0.0, 4.0)
    assert workspace.undo.count() == 2


def test_the_clicks_follow_the_map_while_it_is_heard(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    hand = Hand(qtbot, page)
    hand.key(Qt.Key.Key_Space)
    assert [c.at for c in workspace.player.segments[-1].clips] == pytest.approx(truth)
    hand.key(Qt.Key.Key_Q)
    assert len(workspace.player.segments[-1].clips) > 110
    hand.key(Qt.Key.Key_K, CTRL)
    assert workspace.player.segments[-1].clips == ()
    hand.key(Qt.Key.Key_Space)
    assert not workspace.player.playing


def test_a_lost_speaker_stops_the_music_where_it_was_and_space_tries_again(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    hand = Hand(qtbot, page)
    hand.key(Qt.Key.Key_Space)
    workspace.player.source = 7.25
    with qtbot.waitSignal(workspace.errorRaised) as told:
        workspace.player.events.append(OutputLost("The speaker is gone."))
    assert told.args == ["The speaker is gone."]
    assert page.view.cursor_time == pytest.approx(7.25)
    hand.key(Qt.Key.Key_Space)
    assert workspace.player.starts[-1] == pytest.approx(7.25)


def test_a_selected_stretch_goes_round(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    hand = Hand(qtbot, page)
    hand.drag(10.0, 14.0)
    hand.key(Qt.Key.Key_Space)
    assert workspace.player.repeat
    assert workspace.player.segments[-1].start == pytest.approx(10.0, abs=0.05)
    hand.key(Qt.Key.Key_Escape)
    assert page.view.selection is None


def test_arrows_step_and_select_by_beats_and_bars(open_page, qtbot):
    truth = [0.5 + 0.5 * k for k in range(60)]
    _, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    hand = Hand(qtbot, page)
    hand.key(Qt.Key.Key_Right)
    hand.key(Qt.Key.Key_Right)
    assert page.view.cursor_time == 1.0
    hand.key(Qt.Key.Key_Down)
    assert page.view.cursor_time == 2.5
    hand.key(Qt.Key.Key_Down, SHIFT)
    hand.key(Qt.Key.Key_Down, SHIFT)
    assert (page.view.selection.start, page.view.selection.end) == (2.5, 6.5)
    hand.key(Qt.Key.Key_Left)
    assert page.view.selection is None


def test_beat_lists_go_out_and_come_in(open_page, qtbot, tmp_path, monkeypatch):
    from rehearse.ui import file_dialog

    truth = [0.5 + 0.5 * k for k in range(60)]
    workspace, page = open_page(truth, 31.0, lambda t: map_of(t, truth))
    path = tmp_path / "out.beats"
    monkeypatch.setattr(file_dialog, "save_file", lambda *a: str(path))
    hand = Hand(qtbot, page)
    hand.key(Qt.Key.Key_E, CTRL)
    assert len(path.read_text().splitlines()) == 60
    path.write_text("1.0\t1\n2.0\t2\n")
    monkeypatch.setattr(file_dialog, "open_file", lambda *a: str(path))
    hand.key(Qt.Key.Key_I, CTRL)
    assert workspace.beatmap.beats == (1.0, 2.0)
    path.write_text("1.0\t1\nno\n")
    with qtbot.waitSignal(workspace.errorRaised) as told:
        hand.key(Qt.Key.Key_I, CTRL)
    assert "line 2" in told.args[0]
