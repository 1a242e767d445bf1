"""A fault goes with its cause, and a wish waits for the song: with real keys in a real window."""

from __future__ import annotations

import shutil

import numpy as np
import pytest
import soundfile
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from rehearse.files.fault import Fault
from rehearse.ui.faults import FOLDER
from rehearse.ui.window import MUSIC, REHEARSE, ROUTINE, Window

from .made import fast_folder


def failing(fails, report):
    """A job that fails when told to."""
    if fails:
        raise Fault("the tape is torn", do="splice it")
    return "well"


@pytest.fixture
def folder(tmp_path):
    return fast_folder(tmp_path / "routine")


@pytest.fixture
def window(qtbot, desk):
    desk.settings.put("silent", True)
    window = Window(desk)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    yield window
    window.close()


def press(key):
    QTest.keyClick(QApplication.focusWidget(), key)


def test_a_job_that_does_well_takes_its_own_fault_away(window, desk, qtbot):
    def run(fails):
        before = window.fault.text
        desk.run_job("Splicing", failing, fails, done=lambda result: None)
        qtbot.waitUntil(lambda: not desk.jobs and window.fault.text != before, timeout=12_000)

    run(fails=True)
    assert window.fault.text == "The tape is torn – splice it."
    desk.hint.say("There is no pose here.")
    assert window.fault.text == "There is no pose here."
    desk.hint.drop()
    assert window.fault.text == "The tape is torn – splice it."
    run(fails=False)
    assert window.fault.isHidden()


def test_what_was_read_does_not_come_back(window, desk):
    desk.standing.stand("saving", "Not saved: the disk is full.")
    desk.standing.stand("sound", "No speaker.")
    assert window.fault.text == "No speaker."
    window.fault.clear()
    desk.standing.mend("sound")
    assert window.fault.isHidden()
    desk.standing.stand("saving", "Not saved: the disk is full.")
    assert window.fault.text.startswith("Not saved")
    desk.standing.mend("saving")
    assert window.fault.isHidden()


def test_the_newest_that_stands_is_shown_and_the_one_before_it_after(window, desk):
    desk.standing.stand("saving", "Not saved: the disk is full.")
    desk.standing.stand("sound", "No speaker.")
    desk.standing.mend("sound")
    assert window.fault.text.startswith("Not saved")


def test_another_routine_takes_the_faults_of_the_first_away(window, desk, folder, tmp_path, qtbot):
    odd = fast_folder(tmp_path / "odd")
    (odd / "track.wav").unlink()
    assert desk.open(odd)
    qtbot.waitUntil(lambda: "track.wav" in window.fault.text and not desk.jobs, timeout=12_000)
    assert desk.open(folder)
    assert window.fault.isHidden()


def test_a_song_put_back_takes_its_fault_away(window, desk, folder, tmp_path, qtbot):
    shutil.move(folder / "track.wav", tmp_path)
    desk.open(folder)
    qtbot.waitUntil(lambda: "no such file" in window.fault.text, timeout=12_000)
    shutil.move(tmp_path / "track.wav", folder)
    window.show_page(MUSIC)
    press(Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: desk.track is not None, timeout=12_000)
    assert window.fault.isHidden() or "no such file" not in window.fault.text


def test_what_stood_before_is_not_on_the_full_screen_but_afterwards(window, desk, folder, qtbot):
    desk.open(folder)
    window.show_page(REHEARSE)
    desk.standing.stand(FOLDER, "The picture is not in the folder.")
    window.page.set_alone(True)
    assert window.fault.isHidden()
    desk.standing.stand("sound", "No speaker.")
    assert window.fault.text == "No speaker."
    desk.standing.mend("sound")
    assert window.fault.isHidden()
    window.page.set_alone(False)
    assert window.fault.text == "The picture is not in the folder."


def test_a_fault_of_the_new_routine_goes_with_it(window, desk, tmp_path, qtbot):
    (tmp_path / "notes.mp3").write_text("nothing to hear")
    window.new_routine(tmp_path / "notes.mp3")
    qtbot.waitUntil(lambda: "notes.mp3" in window.fault.text, timeout=12_000)
    press(Qt.Key.Key_Escape)
    assert window.fault.isHidden()


def open_unread(window, desk, folder, page, qtbot):
    """The page as it is while the song is still being read."""
    assert desk.open(folder)
    window.show_page(page)
    assert desk.track is None
    return window.page


def test_space_while_the_song_is_read_plays_once_it_is_there(window, desk, folder, qtbot):
    page = open_unread(window, desk, folder, ROUTINE, qtbot)
    press(Qt.Key.Key_Space)
    assert "being read" in window.fault.text
    assert desk.wish.state.startswith("Reading the song …")
    assert "It plays as soon as it is there." in desk.wish.state
    qtbot.waitUntil(lambda: page.playing.on, timeout=12_000)
    assert window.fault.isHidden()
    assert desk.wish.state == ""


def test_b_while_the_song_is_read_puts_nothing_and_says_why(window, desk, folder, qtbot):
    page = open_unread(window, desk, folder, ROUTINE, qtbot)
    before = desk.routine
    for _ in range(5):
        press(Qt.Key.Key_B)
    assert desk.routine == before
    assert "B puts a pose on each beat" in window.fault.text
    qtbot.waitUntil(lambda: page.playing.on, timeout=12_000)
    assert desk.routine == before


def test_space_on_the_other_pages_waits_for_the_song_too(window, desk, folder, qtbot):
    page = open_unread(window, desk, folder, MUSIC, qtbot)
    desk.wish.ask("It plays", page.hearing.begin)
    assert "being read" in window.fault.text
    qtbot.waitUntil(lambda: page.hearing.on, timeout=12_000)
    page = open_unread(window, desk, folder, REHEARSE, qtbot)
    press(Qt.Key.Key_Space)
    assert page.missing.isVisible()
    assert "It begins as soon as it is there." in page.missing.text()
    qtbot.waitUntil(lambda: page.conductor.busy, timeout=12_000)
    assert page.stage.isVisible()


@pytest.mark.parametrize("how", ["stop", "page"])
def test_a_wish_is_dropped_by_the_emergency_stop_and_by_another_page(
    how, window, desk, folder, qtbot
):
    page = open_unread(window, desk, folder, ROUTINE, qtbot)
    press(Qt.Key.Key_Space)
    if how == "stop":
        press(Qt.Key.Key_D)
    else:
        press(Qt.Key.Key_4)
    qtbot.waitUntil(lambda: desk.track is not None, timeout=12_000)
    qtbot.wait(50)
    assert not page.playing.on
    assert not desk.wish.waits


def test_another_song_in_its_place_is_told_and_neither_played_nor_rehearsed(
    window, desk, folder, qtbot
):
    samples = np.random.default_rng(1).normal(0, 0.1, (14 * 44100, 2))
    soundfile.write(folder / "track.wav", samples, 44100)
    desk.open(folder)
    qtbot.waitUntil(lambda: desk.track is not None, timeout=12_000)
    assert "is not the one the counts were found in" in window.fault.text
    window.show_page(ROUTINE)
    assert window.page.wave._map is None, "counts of another song are not painted over this one"
    press(Qt.Key.Key_Space)
    assert not window.page.playing.on
    window.show_page(REHEARSE)
    press(Qt.Key.Key_Space)
    assert not window.page.conductor.busy
    assert "press 1 and Space to map this one" in window.page.missing.text()
    press(Qt.Key.Key_1)
    press(Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: not desk.other_song and not desk.jobs, timeout=30_000)
    assert "counts were found in" not in window.fault.text
