"""A fault goes with its cause, and a wish waits for the song: with real keys in a real window."""

from __future__ import annotations

import shutil

import numpy as np
import pytest
import soundfile
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from rehearse.files.user_error import UserError
from rehearse.ui.status import FOLDER
from rehearse.ui.window import MUSIC, REHEARSE, ROUTINE, Window

from .made import fast_folder


def failing(fails, report):
    """A job that fails when told to."""
    if fails:
        raise UserError("the tape is torn", do="splice it")
    return "well"


@pytest.fixture
def folder(tmp_path):
    return fast_folder(tmp_path / "routine")


@pytest.fixture
def window(qtbot, workspace):
    workspace.settings.put("silent", True)
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    yield window
    window.close()


def press(key):
    QTest.keyClick(QApplication.focusWidget(), key)


def test_a_job_that_does_well_takes_its_own_fault_away(window, workspace, qtbot):
    def run(fails):
        before = window.error.text
        workspace.run_job("Splicing", failing, fails, done=lambda result: None)
        qtbot.waitUntil(lambda: not workspace.jobs and window.error.text != before, timeout=120_000)

    run(fails=True)
    assert window.error.text == "The tape is torn – splice it."
    workspace.notice.say("There is no pose here.")
    assert window.error.text == "There is no pose here."
    workspace.notice.drop()
    assert window.error.text == "The tape is torn – splice it."
    run(fails=False)
    assert window.error.isHidden()


def test_what_was_read_does_not_come_back(window, workspace):
    workspace.standing.stand("saving", "Not saved: the disk is full.")
    workspace.standing.stand("sound", "No speaker.")
    assert window.error.text == "No speaker."
    window.error.clear()
    workspace.standing.mend("sound")
    assert window.error.isHidden()
    workspace.standing.stand("saving", "Not saved: the disk is full.")
    assert window.error.text.startswith("Not saved")
    workspace.standing.mend("saving")
    assert window.error.isHidden()


def test_the_newest_that_stands_is_shown_and_the_one_before_it_after(window, workspace):
    workspace.standing.stand("saving", "Not saved: the disk is full.")
    workspace.standing.stand("sound", "No speaker.")
    workspace.standing.mend("sound")
    assert window.error.text.startswith("Not saved")


def test_another_routine_takes_the_faults_of_the_first_away(
    window, workspace, folder, tmp_path, qtbot
):
    odd = fast_folder(tmp_path / "odd")
    (odd / "track.wav").unlink()
    assert workspace.open(odd)
    qtbot.waitUntil(
        lambda: "track.wav" in window.error.text and not workspace.jobs, timeout=120_000
    )
    assert workspace.open(folder)
    assert window.error.isHidden()


def test_a_song_put_back_takes_its_fault_away(window, workspace, folder, tmp_path, qtbot):
    shutil.move(folder / "track.wav", tmp_path)
    workspace.open(folder)
    qtbot.waitUntil(lambda: "no such file" in window.error.text, timeout=120_000)
    shutil.move(tmp_path / "track.wav", folder)
    window.show_page(MUSIC)
    press(Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=120_000)
    assert window.error.isHidden() or "no such file" not in window.error.text


def test_what_stood_before_is_not_on_the_full_screen_but_afterwards(
    window, workspace, folder, qtbot
):
    workspace.open(folder)
    window.show_page(REHEARSE)
    workspace.standing.stand(FOLDER, "The picture is not in the folder.")
    window.page.set_full_screen(True)
    assert window.error.isHidden()
    workspace.standing.stand("sound", "No speaker.")
    assert window.error.text == "No speaker."
    workspace.standing.mend("sound")
    assert window.error.isHidden()
    window.page.set_full_screen(False)
    assert window.error.text == "The picture is not in the folder."


def test_a_fault_of_the_new_routine_goes_with_it(window, workspace, tmp_path, qtbot):
    (tmp_path / "notes.mp3").write_text("nothing to hear")
    window.new_routine(tmp_path / "notes.mp3")
    qtbot.waitUntil(lambda: "notes.mp3" in window.error.text, timeout=120_000)
    press(Qt.Key.Key_Escape)
    assert window.error.isHidden()


def open_unread(window, workspace, folder, page, qtbot):
    """The page as it is while the song is still being read."""
    assert workspace.open(folder)
    window.show_page(page)
    assert workspace.track is None
    return window.page


def test_space_while_the_song_is_read_plays_once_it_is_there(window, workspace, folder, qtbot):
    page = open_unread(window, workspace, folder, ROUTINE, qtbot)
    press(Qt.Key.Key_Space)
    assert "being read" in window.error.text
    assert workspace.wish.state.startswith("Reading the song …")
    assert "It plays as soon as it is there." in workspace.wish.state
    qtbot.waitUntil(lambda: page.playing.on, timeout=120_000)
    assert window.error.isHidden()
    assert workspace.wish.state == ""


def test_b_while_the_song_is_read_puts_nothing_and_says_why(window, workspace, folder, qtbot):
    page = open_unread(window, workspace, folder, ROUTINE, qtbot)
    before = workspace.routine
    for _ in range(5):
        press(Qt.Key.Key_B)
    assert workspace.routine == before
    assert "B adds a pose on each beat" in window.error.text
    qtbot.waitUntil(lambda: page.playing.on, timeout=120_000)
    assert workspace.routine == before


def test_space_on_the_other_pages_waits_for_the_song_too(window, workspace, folder, qtbot):
    page = open_unread(window, workspace, folder, MUSIC, qtbot)
    workspace.wish.ask("It plays", page.song_playback.begin)
    assert "being read" in window.error.text
    qtbot.waitUntil(lambda: page.song_playback.on, timeout=120_000)
    page = open_unread(window, workspace, folder, REHEARSE, qtbot)
    press(Qt.Key.Key_Space)
    assert page.missing.isVisible()
    assert "It begins as soon as it is there." in page.missing.text()
    qtbot.waitUntil(lambda: page.host.busy, timeout=120_000)
    assert page.stage.isVisible()


@pytest.mark.parametrize("how", ["stop", "page"])
def test_a_wish_is_dropped_by_the_emergency_stop_and_by_another_page(
    how, window, workspace, folder, qtbot
):
    page = open_unread(window, workspace, folder, ROUTINE, qtbot)
    press(Qt.Key.Key_Space)
    if how == "stop":
        press(Qt.Key.Key_D)
    else:
        press(Qt.Key.Key_4)
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=120_000)
    qtbot.wait(50)
    assert not page.playing.on
    assert not workspace.wish.waits


def test_another_song_in_its_place_is_told_and_neither_played_nor_rehearsed(
    window, workspace, folder, qtbot
):
    samples = np.random.default_rng(1).normal(0, 0.1, (14 * 44100, 2))
    soundfile.write(folder / "track.wav", samples, 44100)
    workspace.open(folder)
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=120_000)
    assert "is not the one the counts were found in" in window.error.text
    window.show_page(ROUTINE)
    assert window.page.wave._map is None, "counts of another song are not painted over this one"
    press(Qt.Key.Key_Space)
    assert not window.page.playing.on
    window.show_page(REHEARSE)
    press(Qt.Key.Key_Space)
    assert not window.page.host.busy
    assert "press 1 and Space to map this one" in window.page.missing.text()
    press(Qt.Key.Key_1)
    press(Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: not workspace.other_song and not workspace.jobs, timeout=120_000)
    assert "counts were found in" not in window.error.text
