"""What the page says in each state, and that every control can be named and reached."""

from __future__ import annotations

import shutil
from dataclasses import replace

import numpy as np
import pytest
import soundfile
from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QAbstractSpinBox, QCheckBox, QPushButton

from rehearse.music.beatmap import Confidence, Stretch
from rehearse.routine.model import Routine, StagePart
from rehearse.ui import actions
from rehearse.ui.pages.music.page import MusicPage
from rehearse.ui.pages.music.songfile import fit_stage
from rehearse.ui.undo import Documents
from rehearse.ui.workspace import Workspace
from tests.ui.music.conftest import RATE, NotingPlayer, PromptWorkers, drums, map_of

TRUTH = [0.5 + 0.5 * k for k in range(40)]


def test_an_empty_page_says_what_to_do_with_its_key(qapp, settings, qtbot):
    workspace = Workspace(settings, make_workers=PromptWorkers, make_player=NotingPlayer)
    workspace._documents = Documents(Routine("Empty", ""), None)
    page = MusicPage(workspace)
    qtbot.addWidget(page)
    assert page.place.text() == "No song yet. Press Space to choose one, or drop it here."
    assert page.main.text().startswith("Choose a song")
    workspace.close()


def test_fades_and_length_stand_there_while_the_song_is_read(qapp, settings, qtbot):
    """They showed 0.0 s until the song was there."""
    workspace = Workspace(settings, make_workers=PromptWorkers, make_player=NotingPlayer)
    stage = StagePart(2.0, 12.0, 0.5, 3.0)
    workspace._documents = Documents(Routine("New", "song.wav", stage=stage), None)
    line = MusicPage(workspace).stage
    qtbot.addWidget(line)
    assert (line.fade_in.value(), line.fade_out.value()) == (0.5, 3.0)
    assert line.length.text().startswith("10.0 s on stage")
    assert not line.isEnabled()
    line.fade_out.setValue(1.0)
    assert workspace.routine.stage == stage
    workspace.close()


def test_a_song_without_a_map_is_mapped_at_once(qapp, settings, qtbot, tmp_path):
    soundfile.write(tmp_path / "song.wav", drums(TRUTH, 21.0), RATE)
    workspace = Workspace(settings, make_workers=PromptWorkers, make_player=NotingPlayer)
    workspace.folder = tmp_path
    workspace._documents = Documents(Routine("New", "song.wav"), None)
    page = MusicPage(workspace)
    qtbot.addWidget(page)
    workspace.decode()
    qtbot.waitUntil(lambda: workspace.beatmap is not None)
    assert len(workspace.beatmap.beats) > 15
    assert workspace.undo.undoText() == "map the song"
    assert workspace.beatmap.track_hash == workspace.track.content_hash
    workspace.close()


def test_a_swapped_song_is_told_and_not_mapped_over(open_page, qtbot, tmp_path):
    workspace, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    other = tmp_path / "other.wav"
    soundfile.write(other, drums([0.4 * k + 0.3 for k in range(40)], 17.0), RATE)
    page.files.use_song(other)
    qtbot.waitUntil(lambda: workspace.track is not None and workspace.track.duration < 18)
    assert "belongs to another song" in page.place.text()
    assert page.main.text().startswith("Map the song")
    before = workspace.beatmap
    for key in (Qt.Key.Key_Q, Qt.Key.Key_O, Qt.Key.Key_Delete):
        with qtbot.waitSignal(workspace.errorRaised) as told:
            qtbot.keyClick(page.view, key)
        assert "belongs to another song – press Space" in told.args[0]
    assert workspace.beatmap is before
    assert (workspace.folder / "other.wav").exists()
    assert (workspace.folder / "song.wav").exists()
    workspace.undo.undo()
    assert workspace.routine.track == "song.wav"
    qtbot.waitUntil(lambda: workspace.track is not None and workspace.track.duration > 20)
    assert page.main.text().startswith("Play")
    workspace.undo.redo()
    qtbot.waitUntil(lambda: workspace.track is not None and workspace.track.duration < 18)


def test_what_is_no_song_changes_nothing(open_page, qtbot, tmp_path):
    workspace, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    (tmp_path / "letter.mp3").write_text("Dear coach,\n" * 50)
    files, routine, track = sorted(workspace.folder.iterdir()), workspace.routine, workspace.track
    with qtbot.waitSignal(
        workspace.errorRaised,
        check_params_cb=lambda words: words.startswith("letter.mp3: is not a"),
    ):
        page.files.use_song(tmp_path / "letter.mp3")
    assert (workspace.routine, workspace.track) == (routine, track)
    assert sorted(workspace.folder.iterdir()) == files
    assert page.main.text().startswith("Play")


def test_a_song_that_cannot_be_read_is_said_and_read_again_by_space(open_page, qtbot):
    workspace, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    song = workspace.folder / "song.wav"
    sound = song.read_bytes()
    song.write_bytes(b"")
    other = Workspace(workspace.settings, make_workers=PromptWorkers, make_player=NotingPlayer)
    page = MusicPage(other)
    qtbot.addWidget(page)
    with qtbot.waitSignal(other.errorRaised, check_params_cb=lambda words: "is empty" in words):
        other.open(workspace.folder)
    assert (
        page.place.text()
        == "Couldn't read the song. Space tries again, Ctrl+G chooses another one."
    )
    song.write_bytes(sound)
    page.main.click()
    qtbot.waitUntil(lambda: other.track is not None)
    assert page.main.text().startswith("Play")
    other.close()


def test_a_shorter_song_takes_the_stage_part_along(open_page, qtbot, tmp_path):
    workspace, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    page.view.set_cursor(2.0)
    page.stage.begin_here()
    page.stage.fade_out.setValue(3.0)
    other = tmp_path / "other.wav"
    soundfile.write(other, drums(TRUTH[:10], 8.0), RATE)
    page.files.use_song(other)
    qtbot.waitUntil(lambda: workspace.routine.track == "other.wav")
    assert workspace.routine.stage == StagePart(2.0, 8.0, 0.0, 3.0)
    assert page.stage.length.text().startswith("6.0 s on stage")


@pytest.mark.parametrize(
    ("stage", "fitted"),
    [
        (None, None),
        (StagePart(0.0, 8.0), StagePart(0.0, 8.0)),
        (StagePart(1.0, 20.0, 6.0, 4.0), StagePart(1.0, 10.0, 6.0, 3.0)),
        (StagePart(9.5, 20.0), None),
    ],
)
def test_a_stage_part_is_fitted_into_ten_seconds(stage, fitted):
    assert fit_stage(stage, 10.0) == fitted


def test_a_song_of_the_same_name_overwrites_nothing(open_page, qtbot, tmp_path):
    workspace, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    before = (workspace.folder / "song.wav").read_bytes()
    other = tmp_path / "song.wav"
    soundfile.write(other, drums(TRUTH[:20], 12.0), RATE)
    page.files.use_song(other)
    qtbot.waitUntil(lambda: workspace.routine.track == "song 2.wav")
    assert (workspace.folder / "song.wav").read_bytes() == before


def test_doubtful_stretches_are_counted_and_selected_in_turn(open_page, qtbot):
    def doubtful(track):
        sure = tuple(
            Confidence(2.0 * k, 2.0 * k + 2, 0.2 if k in (2, 3, 6) else 0.9) for k in range(10)
        )
        return replace(map_of(track, TRUTH), confidence=sure)

    _, page = open_page(TRUTH, 21.0, doubtful)
    assert page.words.text().endswith("5 eights · 2 unsure")
    for start, end in ((4.0, 8.0), (12.0, 14.0), (4.0, 8.0)):
        qtbot.keyClick(page.view, Qt.Key.Key_U)
        assert page.view.cursor_time == start
        assert page.view.selection == Stretch(start, end)


def test_every_control_has_a_name_and_is_reached_by_keyboard(open_page, qtbot):
    _, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    controls = [
        c for kind in (QPushButton, QCheckBox, QAbstractSpinBox) for c in page.findChildren(kind)
    ]
    assert len(controls) >= 12
    for control in controls:
        assert control.accessibleName(), control
        assert control.focusPolicy() & Qt.FocusPolicy.TabFocus, control.accessibleName()
    names = [c.accessibleName() for c in controls]
    assert len(set(names)) == len(names)


def test_four_corrections_are_in_view_and_the_rest_one_step_away(open_page, qtbot):
    workspace, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    shown = page.controls.buttons
    corrections = {a.name for a in (*actions.COMMON, *actions.COUNTS, *actions.MARKS)}
    assert corrections & set(shown) == {action.name for action in actions.COMMON}
    assert len(actions.COMMON) == 4
    lines = {line.text(): line for line in shown["more"].menu().actions() if line.text()}
    pairs = [action for _, *pair in actions.SHIFTS for action in pair]
    rest = (*actions.COUNTS, *pairs, *actions.MARKS, actions.BAR, actions.SONG, *actions.LISTS)
    assert set(lines) == {f"{a.words}\t{a.key}" for a in rest}
    page.view.set_cursor(TRUTH[4] + 0.2)
    lines["Accent here\tCtrl+Shift+A"].trigger()
    assert len(workspace.beatmap.accents) == 1


def test_the_count_heard_and_what_was_done_are_said(open_page, qtbot):
    workspace, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    page.view.set_cursor(TRUTH[9])
    assert (page.count.text(), page.place.text()) == ("2:2", "0:05.000")
    qtbot.keyClick(page.view, Qt.Key.Key_Space)
    workspace.player.source = TRUTH[12] + 0.3
    page.song_playback._tick()
    assert (page.count.text(), page.place.text()) == ("2:5", "0:06.800")
    assert page.place.accessibleName() == "Heard now: 2:5 0:06.800"
    qtbot.keyClick(page.view, Qt.Key.Key_Q)
    assert page.done.text() == "twice the counts   Ctrl+Z"
    page.song_playback._tick()
    assert page.count.text() == "4:2"
    qtbot.keyClick(page.view, Qt.Key.Key_Space)
    assert page.place.text() == "0:05.000"


@pytest.mark.parametrize("width", [960, 1366, 1920, 2560])
def test_no_word_is_cut_off(width, open_page, qtbot):
    _, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    page.resize(QSize(width, 680))
    qtbot.wait(20)
    for button in page.findChildren(QPushButton):
        assert button.width() >= button.minimumSizeHint().width(), button.text()
        assert page.rect().contains(button.mapTo(page, button.rect().bottomRight()))


def test_corrections_where_there_are_no_beats_say_what_to_do(open_page, qtbot):
    workspace, page = open_page(TRUTH, 31.0, lambda t: map_of(t, TRUTH))
    page.view.select(Stretch(25.0, 30.0))
    with qtbot.waitSignal(workspace.errorRaised) as told:
        qtbot.keyClick(page.view, Qt.Key.Key_Q)
    assert told.args[0] == "There are no beats here – tap along to set them."


def test_the_folder_keeps_what_was_corrected(open_page, qtbot, tmp_path):
    from rehearse.music.mapfile import load_map

    workspace, page = open_page(TRUTH, 21.0, lambda t: map_of(t, TRUTH))
    qtbot.keyClick(page.view, Qt.Key.Key_Q)
    qtbot.waitUntil(
        lambda: load_map(workspace.folder / "beats.yaml").beats == workspace.beatmap.beats
    )
    shutil.copytree(workspace.folder, tmp_path / "copy")
    other = Workspace(workspace.settings, make_workers=PromptWorkers, make_player=NotingPlayer)
    assert other.open(tmp_path / "copy")
    assert np.allclose(other.beatmap.beats, workspace.beatmap.beats)
    other.close()
