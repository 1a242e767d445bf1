"""Keys pressed fast, held down and at random; the routine changed or gone while it is drilled."""

import contextlib
import random
import shutil
import sqlite3
import time
from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from rehearse.practice.logbook import Logbook
from rehearse.routine.folder import open_folder
from rehearse.ui.pages.logbook.page import LogbookPage
from rehearse.ui.pages.rehearse.drill_settings import DrillSettings

from .made import fast_folder, rehearsing, settle


@pytest.fixture
def page(workspace, tmp_path, qtbot, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "machine"))
    workspace.settings.put("silent", True)
    window = rehearsing(workspace, fast_folder(tmp_path / "fast"), qtbot)
    page = window.page
    page.drill_panel.form.set_drill_settings(replace(DrillSettings(), count_in=1))
    yield page
    window.close()


def key(page, name, held=Qt.KeyboardModifier.NoModifier):
    QTest.keyClick(page.window().focusWidget() or page.window(), name, held)


def playing(page, qtbot):
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: page.host.view.state == "music", timeout=120_000)


def history(folder):
    identity = open_folder(folder).routine.id
    with Logbook(folder / "practice.sqlite", identity=identity) as book:
        return book.history()


KEYS = [
    *(Qt.Key.Key_Space, Qt.Key.Key_S, Qt.Key.Key_C, Qt.Key.Key_X, Qt.Key.Key_Right),
    *(Qt.Key.Key_Left, Qt.Key.Key_Minus, Qt.Key.Key_Plus, Qt.Key.Key_M, Qt.Key.Key_D),
    *(Qt.Key.Key_F, Qt.Key.Key_F11, Qt.Key.Key_PageDown, Qt.Key.Key_PageUp),
    *(Qt.Key.Key_Escape, Qt.Key.Key_3),
]


@pytest.mark.parametrize("seed", [1, 2])
def test_any_keys_in_any_order_leave_a_page_that_works(page, workspace, qtbot, seed):
    draw = random.Random(seed)
    for _ in range(80):
        key(page, draw.choice(KEYS))
        if draw.random() < 0.2:
            qtbot.wait(draw.randrange(200))
    for name in (Qt.Key.Key_Escape, Qt.Key.Key_Escape, Qt.Key.Key_3, Qt.Key.Key_S):
        key(page, name)
    page.setFocus()
    page.host.stop()
    page.drill_panel.form.set_drill_settings(replace(DrillSettings(), count_in=1))
    settle(workspace)
    before = len(history(workspace.folder))
    playing(page, qtbot)
    key(page, Qt.Key.Key_S)
    settle(workspace)
    passes = history(workspace.folder)
    assert len(passes) == before + 1
    assert len({p.id for p in passes}) == len(passes)
    assert not QApplication.activeModalWidget()


def test_a_clicker_button_held_down_counts_once(page, workspace, qtbot):
    page.drill_panel.form.set_drill_settings(replace(DrillSettings(), way="steps", count_in=1))
    playing(page, qtbot)
    judged = []
    judge = page.host.judge
    page.host.judge = lambda verdict: (judged.append(verdict), judge(verdict))
    for k in range(8):
        for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
            repeated = k > 0 if kind == QEvent.Type.KeyPress else k < 7
            none = Qt.KeyboardModifier.NoModifier
            event = QKeyEvent(kind, Qt.Key.Key_PageUp, none, "", repeated)
            QApplication.sendEvent(page.window().focusWidget(), event)
    QTest.keyRelease(page, Qt.Key.Key_PageUp)
    assert judged == ["missed"]
    assert page.host.busy


def test_the_pose_being_drilled_is_taken_out(page, workspace, qtbot):
    page.drill_panel._kinds[1].setChecked(True)
    page.drill_panel.step(1)
    playing(page, qtbot)
    pose = page.drill_panel.line.scope.item.partition(">")[2]
    poses = tuple(p for p in workspace.routine.poses if p.id != pose)
    workspace.edit("take out", routine=replace(workspace.routine, poses=poses))
    assert not page.host.busy
    settle(workspace)
    (broken,) = history(workspace.folder)
    assert (broken.transition, broken.complete) == (pose, False)
    playing(page, qtbot)  # and the next line is drilled
    workspace.edit("take all out", routine=replace(workspace.routine, poses=()))
    key(page, Qt.Key.Key_Space)
    assert page.host.missing
    workspace.undo.undo()
    workspace.undo.undo()
    assert len(workspace.routine.poses) == len(poses) + 1
    playing(page, qtbot)


def test_another_routine_opened_in_mid_pass_keeps_the_pass(page, workspace, qtbot, tmp_path):
    told = []
    workspace.errorRaised.connect(lambda sentence: sentence and told.append(sentence))
    first = workspace.folder
    playing(page, qtbot)
    assert workspace.open(fast_folder(tmp_path / "other"))
    assert told == []
    (broken,) = history(first)
    assert not broken.complete


def test_a_folder_removed_in_mid_pass_is_told_and_play_goes_on(page, workspace, qtbot):
    told = []
    workspace.errorRaised.connect(lambda sentence: sentence and told.append(sentence))
    folder = workspace.folder
    page.drill_panel.step(1)
    playing(page, qtbot)
    aside = folder.with_name("aside")
    shutil.copytree(folder, aside)
    shutil.rmtree(folder)
    qtbot.waitUntil(lambda: bool(told), timeout=120_000)
    assert told[0].endswith("bring it back, passes are kept on this machine meanwhile.")
    assert page.host.busy
    number = page.host.view.plan.number
    qtbot.waitUntil(lambda: page.host.view.plan.number > number, timeout=120_000)
    key(page, Qt.Key.Key_S)
    page.window().close()
    workspace.close()
    shutil.copytree(aside, folder)
    assert sum(p.complete for p in history(folder)) >= 2


def test_two_windows_on_one_folder_keep_every_pass(page, workspace, qtbot):
    other = Logbook(workspace.folder / "practice.sqlite")
    page.drill_panel.step(1)
    playing(page, qtbot)
    from tests.practice.made import make_pass

    other.record(make_pass())
    qtbot.waitUntil(lambda: page.host.view.plan.number > 1, timeout=120_000)
    key(page, Qt.Key.Key_S)
    other.close()
    settle(workspace)
    passes = history(workspace.folder)
    assert "Opening" in {p.section_name for p in passes}
    assert sum(p.complete for p in passes) >= 2


def test_the_logbook_in_full_screen_is_no_dead_end(page, qtbot):
    key(page, Qt.Key.Key_F)
    key(page, Qt.Key.Key_4)
    window = page.window()
    assert isinstance(window.page, LogbookPage)
    assert window._head.isVisible()


@pytest.mark.parametrize("number", [Qt.Key.Key_1, Qt.Key.Key_2])
@pytest.mark.parametrize("stopped", [True, False])
def test_the_first_press_on_another_page_plays_there(page, qtbot, number, stopped):
    playing(page, qtbot)
    if stopped:
        key(page, Qt.Key.Key_S)
    key(page, number)
    there = page.window().page
    key(there, Qt.Key.Key_Space)
    hears = there.song_playback if number == Qt.Key.Key_1 else there.playing
    qtbot.waitUntil(lambda: 0.5 < hears.now() < 2.0, timeout=120_000)
    assert hears.on
    assert not page.host.busy


def test_no_sound_is_asked_for_on_any_page_where_none_is_wanted(page, workspace):
    assert workspace.player.silent
    workspace.settings.put("silent", False)
    assert not workspace.player.silent
    workspace.settings.put("silent", True)
    assert workspace.player.silent


def test_after_going_on_silently_the_next_begin_looks_for_the_speaker(page, workspace, qtbot):
    workspace.settings.put("silent", False)
    lost = page.host
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: bool(lost.view.sentence) or lost.view.state == "music", timeout=120_000)
    if not lost.view.sentence:
        pytest.skip("this machine has a speaker")
    key(page, Qt.Key.Key_N, Qt.KeyboardModifier.ShiftModifier)
    assert workspace.player.silent
    qtbot.waitUntil(lambda: lost.view.state == "music", timeout=120_000)
    key(page, Qt.Key.Key_S)
    key(page, Qt.Key.Key_Space)
    assert not workspace.player.silent
    qtbot.waitUntil(lambda: bool(lost.view.sentence), timeout=120_000)


def test_space_begins_although_a_number_was_just_typed(page, qtbot):
    _, tempo = page.drill_panel.form._numbers["percent"]
    tempo.setFocus()
    qtbot.waitUntil(lambda: tempo.lineEdit().hasSelectedText())
    QTest.keyClicks(tempo, "85")
    assert page.drill_panel.form.drill_settings.percent == 85
    playing(page, qtbot)
    assert page.host.view.plan.percent == 85
    key(page, Qt.Key.Key_Minus)
    assert page.host.view.plan.percent == 80
    key(page, Qt.Key.Key_S)
    assert not page.host.busy
    tempo.setFocus()
    key(page, Qt.Key.Key_Return)
    assert page.hasFocus()


def longest_gap(qtbot, until, timeout):
    """Milliseconds that the window's thread did not get round to a timer, at most."""
    last, gaps = [time.monotonic()], [0.0]

    def tick():
        now = time.monotonic()
        gaps.append(now - last[0])
        last[0] = now

    timer = QTimer(interval=5)
    timer.timeout.connect(tick)
    timer.start()
    qtbot.waitUntil(until, timeout=timeout)
    timer.stop()
    return max(gaps) * 1000


@contextlib.contextmanager
def held_by_another(workspace):
    """Another program writes to the logbook and does not let go."""
    settle(workspace)
    with contextlib.closing(
        sqlite3.connect(workspace.folder / "practice.sqlite", isolation_level=None)
    ) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


def test_a_locked_logbook_does_not_hold_the_window_up(page, workspace, qtbot):
    told = []
    workspace.errorRaised.connect(lambda sentence: sentence and told.append(sentence))
    page.drill_panel.step(1)
    with held_by_another(workspace):
        playing(page, qtbot)
        gap = longest_gap(qtbot, lambda: page.host.view.plan.number > 3, 20_000)
        qtbot.waitUntil(lambda: bool(told), timeout=120_000)
    assert gap < 1000  # 2000 ms are what SQLite waits; the bench of the window has the bound
    assert "another program holds the logbook" in told[0]
    key(page, Qt.Key.Key_S)
    settle(workspace)
    passes = history(workspace.folder)
    assert sum(p.complete for p in passes) >= 3
    for done in passes:
        length = (done.ended - done.started).total_seconds()
        assert length < 2.0 + (done.end - done.start) / done.tempo


def test_the_stop_for_dizziness_with_a_locked_logbook_is_silence_at_once(page, workspace, qtbot):
    told = []
    workspace.errorRaised.connect(lambda sentence: sentence and told.append(sentence))
    with held_by_another(workspace):
        playing(page, qtbot)
        began = time.monotonic()
        key(page, Qt.Key.Key_D)
        assert time.monotonic() - began < 1.0
        assert not page.host.busy
        qtbot.waitUntil(lambda: not workspace.is_playing, timeout=2000)
        qtbot.waitUntil(lambda: bool(told), timeout=120_000)
    assert told[0].startswith("practice.sqlite: another program holds the logbook")
    settle(workspace)
    assert len(history(workspace.folder)) == 1
    with contextlib.closing(sqlite3.connect(workspace.folder / "practice.sqlite")) as db:
        assert db.execute("SELECT stopped FROM sessions").fetchall() == [("unwell",)]


@pytest.mark.parametrize("what", ["folder", "text", "values"])
def test_a_window_with_a_damaged_logbook_works(workspace, tmp_path, qtbot, what):
    workspace.settings.put("silent", True)
    folder = fast_folder(tmp_path / "odd")
    path = folder / "practice.sqlite"
    if what == "folder":
        path.mkdir()
    elif what == "text":
        path.write_bytes(b"\x00\xff" * 5000)
    else:
        with Logbook(path) as book:
            from tests.practice.made import make_pass

            book.record(make_pass(section_name="X" * 40))
        path.write_bytes(path.read_bytes().replace(b"XXXX", b"\xff\xfe\xff\xfe"))
    window = rehearsing(workspace, folder, qtbot)
    page = window.page
    settle(workspace)
    assert "practice.sqlite: the logbook was" in window.error.text
    assert "kept as practice damaged" in window.error.text
    assert len(page.drill_panel.list.lines.lines) > 1
    page.drill_panel.step(1)
    page.drill_panel.form.set_drill_settings(replace(DrillSettings(), count_in=0))
    playing(page, qtbot)
    qtbot.waitUntil(lambda: len(history(folder)) > 0, timeout=120_000)
    key(page, Qt.Key.Key_4)
    settle(workspace)
    assert window.page.panel.plan.lines
    window.close()
