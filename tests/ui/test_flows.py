"""A new routine from a song, and opening what is dropped, with real keys and drops."""

from __future__ import annotations

import shutil
import zipfile
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QPushButton, QWidget

from rehearse.files.user_error import UserError
from rehearse.routine.folder import open_folder
from rehearse.ui import file_dialog
from rehearse.ui.flows.new_routine import NewRoutine
from rehearse.ui.recent import days_left
from rehearse.ui.window import ROUTINE, Window

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"
#: Reading and mapping the demo song takes about two seconds on two free cores.
PATIENCE = 120_000


@pytest.fixture
def place(settings, tmp_path):
    settings.put("routines", str(tmp_path / "routines"))
    return tmp_path / "routines"


@pytest.fixture
def window(qtbot, workspace, place):
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    qtbot.waitExposed(window)
    return window


@pytest.fixture
def song(tmp_path):
    path = tmp_path / "Paper_Lanterns.ogg"
    shutil.copy(DEMO / "track.ogg", path)
    return path


def drop(widget, path):
    """Drag a file over the widget and let it go there."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    how = (
        *(Qt.DropAction.CopyAction, data),
        *(Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier),
    )
    QApplication.sendEvent(widget, QDragEnterEvent(QPoint(20, 20), *how))
    QApplication.sendEvent(widget, QDropEvent(QPointF(20, 20), *how))


def flow_of(window):
    assert isinstance(window.page, NewRoutine)
    return window.page


def press(qtbot, key, modifier=Qt.KeyboardModifier.NoModifier):
    qtbot.keyClick(QApplication.focusWidget(), key, modifier)


def test_a_new_routine_by_keys_alone(qtbot, window, workspace, place, song, monkeypatch):
    monkeypatch.setattr(file_dialog, "open_file", lambda *a: str(song))
    window.activateWindow()
    window._empty.setFocus()
    press(qtbot, Qt.Key.Key_Space)
    flow = flow_of(window)
    assert flow.title.text() == "Paper Lanterns"
    assert "the Routine page opens" in flow.sentence.text()
    press(qtbot, Qt.Key.Key_Return)  # nothing to make yet
    assert flow_of(window) is flow
    qtbot.keyClicks(QApplication.focusWidget(), "First")  # it waits for who fills something in
    assert "meanwhile choose" in flow.sentence.text()
    qtbot.waitUntil(flow.main.isEnabled, timeout=PATIENCE)
    assert "counts a minute" in flow.sentence.text()
    assert flow.wave.duration == pytest.approx(75.0, abs=0.1)
    qtbot.keyClicks(QApplication.focusWidget(), " try")
    press(qtbot, Qt.Key.Key_Tab)
    assert QApplication.focusWidget() is flow.rules
    press(qtbot, Qt.Key.Key_Down)  # open, 90 s
    press(qtbot, Qt.Key.Key_Return)
    assert workspace.folder == place / "First try"
    assert window._head.marked == ROUTINE
    opened = open_folder(workspace.folder)
    assert (opened.routine.title, opened.routine.rules) == ("First try", "open-90")
    assert opened.routine.stage is None  # 75 s within 90 s
    assert song.exists()


def test_a_dropped_song_becomes_a_routine_by_itself(qtbot, window, workspace, place, song):
    jobs = []
    workspace.jobChanged.connect(lambda: jobs.extend(j for j in workspace.jobs if j not in jobs))
    drop(window, song)
    qtbot.waitUntil(lambda: workspace.routine is not None, timeout=PATIENCE)
    assert workspace.folder == place / "Paper Lanterns"
    assert window._head.marked == ROUTINE
    assert workspace.routine.stage.length == 60.0
    assert workspace.settings.get("rules", "") == "open-60"
    assert workspace.track is not None
    assert workspace.track.content_hash == workspace.beatmap.track_hash
    assert [job.words for job in jobs].count("Reading the song") == 1


def test_a_song_dropped_on_an_open_routine_waits_for_enter(qtbot, window, workspace, song, place):
    drop(window, shutil.copytree(DEMO, place / "mine"))
    drop(window, song)
    flow = flow_of(window)
    qtbot.waitUntil(flow.main.isEnabled, timeout=PATIENCE)
    assert "first 60 s are used" in flow.about.text()
    assert workspace.folder == place / "mine"
    qtbot.mouseClick(flow.main, Qt.MouseButton.LeftButton)
    assert workspace.folder == place / "Paper Lanterns"


def test_a_routine_that_cannot_be_opened_is_not_left_behind(
    qtbot, window, workspace, song, place, monkeypatch
):
    def refuse(folder):
        raise UserError("the folder cannot be read", where=folder)

    with monkeypatch.context() as patched:
        patched.setattr("rehearse.ui.workspace.open_folder", refuse)
        drop(window, song)
        flow = flow_of(window)
        qtbot.waitUntil(lambda: window.error.text != "", timeout=PATIENCE)
    assert "cannot be read" in window.error.text
    assert list(place.iterdir()) == []
    qtbot.mouseClick(flow.main, Qt.MouseButton.LeftButton)
    assert [p.name for p in place.iterdir()] == ["Paper Lanterns"]


def test_escape_stops_the_work_and_goes_back(qtbot, window, workspace, song):
    drop(window, song)
    assert workspace.jobs
    press(qtbot, Qt.Key.Key_Escape)
    assert not workspace.jobs
    assert window.page is None
    assert workspace.folder is None


def test_stopping_the_work_begins_again(qtbot, window, workspace, song):
    drop(window, song)
    flow = flow_of(window)
    workspace.stop_job(workspace.jobs[0])
    assert "Press Space" in flow.sentence.text()
    assert not flow.main.isVisible()


def test_what_is_no_song_is_told_in_one_sentence(qtbot, window, tmp_path):
    path = tmp_path / "notes.mp3"
    path.write_text("nothing to hear")
    drop(window, path)
    qtbot.waitUntil(lambda: bool(window.error.text), timeout=PATIENCE)
    assert window.error.text.startswith("notes.mp3: ")
    assert "Press Space" in flow_of(window).sentence.text()


def test_a_title_is_needed(qtbot, window, song):
    drop(window, song)
    flow = flow_of(window)
    qtbot.keyClicks(flow.title, "x")  # it waits
    qtbot.waitUntil(flow.main.isEnabled, timeout=PATIENCE)
    flow.title.selectAll()
    press(qtbot, Qt.Key.Key_Backspace)
    assert not flow.main.isEnabled()


def test_a_place_that_cannot_be_written_is_told(qtbot, window, workspace, song, tmp_path):
    (tmp_path / "file").write_text("x")
    drop(window, song)
    flow = flow_of(window)
    flow.place.setText(str(tmp_path / "file"))
    qtbot.waitUntil(lambda: str(tmp_path / "file") in window.error.text, timeout=PATIENCE)
    assert workspace.folder is None
    assert flow_of(window) is flow


def zipped(folder, path):
    with zipfile.ZipFile(path, "w") as archive:
        for file in folder.iterdir():
            archive.write(file, f"From the coach/{file.name}")
    return path


def test_a_dropped_zip_opens_as_it_is(qtbot, window, workspace, place, tmp_path):
    drop(window, zipped(DEMO, tmp_path / "coach.zip"))
    assert workspace.jobs  # the window goes on while it is unpacked
    qtbot.waitUntil(lambda: workspace.folder is not None, timeout=120_000)
    assert workspace.folder == place / "From the coach"
    assert workspace.routine == open_folder(DEMO).routine


def test_a_dropped_folder_and_a_file_of_one_open(window, workspace, tmp_path):
    folder = tmp_path / "mine"
    shutil.copytree(DEMO, folder)
    drop(window, folder)
    assert workspace.folder == folder
    drop(window, folder / "routine.yaml")
    assert workspace.folder == folder


def test_a_bad_zip_is_told_in_one_sentence(qtbot, window, workspace, tmp_path):
    path = tmp_path / "coach.zip"
    path.write_bytes(b"PK")
    drop(window, path)
    qtbot.waitUntil(lambda: window.error.text != "", timeout=120_000)
    assert window.error.text == ("coach.zip: is no zip that can be read – have it sent again.")
    assert workspace.folder is None


def test_the_zip_key_asks_for_a_zip(qtbot, window, workspace, tmp_path, monkeypatch):
    path = zipped(DEMO, tmp_path / "coach.zip")
    monkeypatch.setattr(file_dialog, "open_file", lambda *a: str(path))
    window.activateWindow()
    window._empty.setFocus()
    press(
        qtbot,
        Qt.Key.Key_O,
        Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier,
    )
    qtbot.waitUntil(lambda: workspace.routine is not None, timeout=120_000)
    assert workspace.routine.title == "Copper Lights"


def test_another_page_leaves_the_flow(qtbot, window, workspace, tmp_path, song, monkeypatch):
    monkeypatch.setattr(file_dialog, "open_file", lambda *a: str(song))
    shutil.copytree(DEMO, tmp_path / "mine")
    drop(window, tmp_path / "mine")
    before = window.page
    window.activateWindow()
    press(qtbot, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    flow_of(window)
    press(qtbot, Qt.Key.Key_Escape)
    assert window.page is before
    press(qtbot, Qt.Key.Key_N, Qt.KeyboardModifier.ControlModifier)
    drop(flow_of(window), song)
    qtbot.mouseClick(window._head.buttons[2], Qt.MouseButton.LeftButton)
    assert window.page is before
    assert not [job for job in workspace.jobs if job.words == "Making the beat map"]


def test_every_control_has_a_name_and_is_reached_by_keys(qtbot, window, song):
    drop(window, song)
    flow = flow_of(window)
    hands = [w for w in flow.findChildren(QWidget) if w.focusPolicy() & Qt.FocusPolicy.TabFocus]
    assert {flow.choose, flow.title, flow.rules, flow.place} <= set(hands)
    for hand in hands:
        assert hand.accessibleName() or (isinstance(hand, QPushButton) and hand.text()), hand


def test_show_and_rules_by_keys(qtbot, window, workspace, tmp_path):
    shutil.copytree(DEMO, tmp_path / "mine")
    drop(window, tmp_path / "mine")
    before, page = workspace.routine, window.page
    window.activateWindow()
    press(qtbot, Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    flow = window.page
    assert flow.title.text() == "Copper Lights"
    assert flow.rules.chosen.key == "open-90"
    assert flow.about.text().startswith("90 s of free posing; the warning comes at 10 s left.")
    assert "Check your show's own sheet" in flow.about.text()
    QApplication.focusWidget().selectAll()
    qtbot.keyClicks(QApplication.focusWidget(), "Harbour Hall Open")
    flow.rules.setFocus()
    press(qtbot, Qt.Key.Key_Home)
    while flow.rules.currentText() != "IFBB amateur, 60 s":
        press(qtbot, Qt.Key.Key_Down)
    flow.date.setFocus()
    flow.date.selectAll()
    qtbot.keyClicks(flow.date, "soon")
    press(qtbot, Qt.Key.Key_Return)
    assert "write year-month-day" in window.error.text
    assert workspace.routine == before
    flow.date.selectAll()
    qtbot.keyClicks(flow.date, "2031-04-17")
    assert flow.left.text().endswith("days left.")
    press(qtbot, Qt.Key.Key_Return)
    assert window.page is page
    routine = workspace.routine
    assert (routine.show, routine.show_date) == ("Harbour Hall Open", "2031-04-17")
    assert routine.rules == "ifbb-amateur"
    workspace.undo.undo()
    assert workspace.routine == before


def test_a_rule_set_from_another_machine_is_kept(qtbot, window, workspace, tmp_path):
    shutil.copytree(DEMO, tmp_path / "mine")
    path = tmp_path / "mine" / "routine.yaml"
    path.write_text(path.read_text().replace("rules: open-90", "rules: club-night"))
    drop(window, tmp_path / "mine")
    window.show_and_rules()
    assert window.page.rules.chosen.key == "club-night"


@pytest.mark.parametrize(
    ("show", "words"),
    [("2027-04-17", "16 days left."), ("2027-04-02", "One day left."), ("", ""), ("x", ""),
     ("2027-04-01", "The show is today."), ("2027-03-31", "The show is over.")],
)  # fmt: skip
def test_days_left(show, words):
    assert days_left(show, date(2027, 4, 1)) == words


def test_rules_of_no_body_name_none():
    from rehearse.routine.rules import list_rules
    from rehearse.ui.flows.rulebox import tell_rules

    told = [line for rules in list_rules() for line in tell_rules(rules)]
    assert not [line for line in told if "none" in line.casefold()]
