"""The window: pages by key, empty state, fault line, busy line, what is imported when it opens."""

import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import (
    QCoreApplication,
    QMimeData,
    QPointF,
    QStandardPaths,
    Qt,
    QUrl,
)
from PySide6.QtGui import QDropEvent, QTextDocument
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel

from rehearse.ui import file_dialog
from rehearse.ui.flows import opening
from rehearse.ui.pages.rehearse.prompts import RunQuestion
from rehearse.ui.window import Window

from .made import DEMO, sheet

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(DEMO, tmp_path / "copper-lights")


@pytest.fixture
def window(workspace, qtbot):
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    qtbot.waitExposed(window)
    yield window
    window.close()


def texts(widget):
    return " ".join(label.text() for label in widget.findChildren(QLabel) if label.isVisible())


def test_the_empty_window_says_what_to_do_with_its_key(window):
    assert window.page is None
    assert "Space to start with a song" in texts(window)


def test_ctrl_o_asks_for_a_folder(window, folder, qtbot, monkeypatch):
    monkeypatch.setattr(file_dialog, "open_folder", lambda *_: str(folder))
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_O, Qt.KeyboardModifier.ControlModifier)
    assert window.page is not None
    assert window.windowTitle().startswith("Copper Lights")


def test_a_dropped_folder_is_opened(window, workspace, folder):
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(folder / "routine.yaml"))])
    drop = QDropEvent(
        QPointF(10, 10),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    window.dropEvent(drop)
    assert workspace.folder == folder


def test_keys_1_to_4_show_the_pages_in_the_order_of_the_job(window, workspace, folder, qtbot):
    workspace.open(folder)
    names = ("Music", "Routine", "Rehearse", "Logbook")
    for key, name in zip("1234", names, strict=True):
        qtbot.keyClick(window, key)
        assert window.page.accessibleName() == f"{name} page"
    assert window.error.text == ""


def test_a_fault_is_one_line_that_escape_or_its_button_clears(window, workspace, qtbot):
    workspace.errorRaised.emit("routine.yaml, line 3: has 'hit' twice – keep one.\nand another.")
    assert window.error.text.startswith("routine.yaml, line 3")
    assert "1 more" in window.error.text
    button = window.error.findChild(QAbstractButton)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert window.error.isHidden()


def test_why_a_gesture_did_nothing_is_not_taken_to_the_next_page(window, workspace, folder, qtbot):
    workspace.open(folder)
    workspace.notice.say("There is no pose here.")
    assert "There is no pose here." in texts(window)
    qtbot.keyClick(window, Qt.Key.Key_3)
    assert "There is no pose here." not in texts(window)
    workspace.errorRaised.emit("Not saved: the disk is full.")
    qtbot.keyClick(window, Qt.Key.Key_4)
    assert "Not saved: the disk is full." in texts(window)


def test_the_window_comes_back_where_it_was(workspace, qtbot):
    first = Window(workspace)
    qtbot.addWidget(first)
    first.resize(960, 640)  # within the off-screen platform's screen
    first.show()
    first.close()
    second = Window(workspace)
    qtbot.addWidget(second)
    assert second.size() == first.size()


def test_every_control_in_sight_has_a_name(window, workspace, folder):
    workspace.open(folder)
    for button in window.findChildren(QAbstractButton):
        assert button.accessibleName() or button.text(), button


IMPORTS = """
import sys
from dataclasses import replace
from pathlib import Path
from PySide6.QtCore import QTimer
import rehearse.app, rehearse.ui.window
class Window(rehearse.ui.window.Window):
    def __init__(self, workspace):
        super().__init__(workspace)
        self.painted.connect(lambda: QTimer.singleShot(0, self.tell))
    def tell(self):
        print(" ".join(sorted({name.split(".")[0] for name in sys.modules})))
        self.close()
rehearse.app.Window = Window
rehearse.app.run(Path(sys.argv[1]))
"""


def test_nothing_heavy_is_imported_when_the_window_opens(folder, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    done = subprocess.run(
        [sys.executable, "-c", IMPORTS, str(folder)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=60,
        check=True,
    )
    there = set(done.stdout.split())
    assert "PySide6" in there
    heavy = {"librosa", "scipy", "av", "sounddevice", "soundfile", "numba", "sklearn"}
    assert not there & heavy


def cut(widget):
    """The words of buttons that are narrower than these."""
    return [
        b.text()
        for b in widget.findChildren(QAbstractButton)
        if b.isVisible() and b.width() < b.sizeHint().width()
    ]


@pytest.mark.parametrize("size", [(960, 600), (1366, 768), (2560, 1440)])
@pytest.mark.parametrize("number", [1, 2, 3])
def test_no_button_is_cut_at_any_size(window, workspace, folder, qtbot, size, number):
    assert workspace.open(folder)
    window.resize(*size)
    window.show_page(number)
    QCoreApplication.processEvents()
    assert cut(window) == []


def test_a_long_title_ends_in_dots_and_is_told_in_full(window, workspace, folder):
    assert workspace.open(folder)
    long = "A very long evening of copper lights and lanterns over the old harbour, part two"
    workspace.edit("name it", routine=replace(workspace.routine, title=long))
    window.resize(960, 600)
    QCoreApplication.processEvents()
    title = window._head.title
    assert title.text().endswith("…")
    assert title.toolTip() == long
    window.resize(2560, 1440)
    QCoreApplication.processEvents()
    assert title.text() == long


def test_a_strangers_title_is_text_and_no_markup(window, workspace, folder):
    assert workspace.open(folder)
    foreign = "<b>Copper</b> <img src='/no/such'>"
    workspace.edit("name it", routine=replace(workspace.routine, title=foreign))
    QCoreApplication.processEvents()
    assert window._head.title.textFormat() == Qt.TextFormat.PlainText
    workspace.errorRaised.emit(f"{foreign}: is not a song.")
    foreign_labels = [
        label
        for number in range(4)
        for label in labels_after(lambda k=number: window.show_page(k), window)
        if label.textFormat() != Qt.TextFormat.PlainText and label.property("role") != "table"
    ]
    assert foreign_labels == []
    shown = QTextDocument()
    shown.setHtml(window._head.title.toolTip())
    assert shown.toPlainText() == foreign


def labels_after(act, window):
    act()
    QCoreApplication.processEvents()
    return [label for label in window.findChildren(QLabel) if label.isVisible()]


def test_a_flow_that_cannot_be_made_leaves_the_page_in_sight(
    window, workspace, folder, monkeypatch
):
    assert workspace.open(folder)

    def fail(_workspace):
        raise RuntimeError("no such flow")

    monkeypatch.setattr("rehearse.ui.handout.ownvoice.OwnVoice", fail)
    monkeypatch.setattr("rehearse.ui.handout.handout_flow.HandoutFlow", fail)
    for open_flow in (window.own_voice, window.take_along):
        with pytest.raises(RuntimeError):
            open_flow()
        assert window.page.isVisible()


def test_a_dialog_begins_in_a_folder_that_is_there(tmp_path, monkeypatch):
    monkeypatch.setattr(QStandardPaths, "writableLocation", lambda _: str(tmp_path / "gone"))
    for begin in (opening.music_folder, opening.pictures_folder, opening.downloads_folder):
        assert Path(begin()) == Path.home()
    assert opening.music_folder(str(tmp_path)) == str(tmp_path)
    assert Path(opening.music_folder(str(tmp_path / "gone"))) == Path.home()


@pytest.mark.parametrize("typed", ["²", "crab", "-1"])
def test_where_it_was_lost_takes_digits_only(qtbot, typed):
    """A name typed there stood in the field; without one, Return would have said "clean"."""
    question, answers = RunQuestion(), []
    qtbot.addWidget(question)
    question.lostAt.connect(answers.append)
    question.clean.connect(lambda: answers.append(None))
    question.ask(sheet().cues)
    qtbot.keyClicks(question._number, typed)
    assert question._number.text() in ("", "1")
    question._number.clear()
    qtbot.keyClick(question._number, Qt.Key.Key_Return)
    assert "Type a pose's number" in texts(question)
    assert answers == []
    qtbot.keyClicks(question._number, "2")
    qtbot.keyClick(question._number, Qt.Key.Key_Return)
    assert answers == [sheet().cues[1].hit]


def test_progress_moves_nothing(window, workspace):
    """A line of progress came and went below the page, and all of it moved."""
    parts = (window._stack, *window._head.buttons, window._head.title, window._head)
    assert not window._busy.isVisible()
    before = [part.geometry() for part in parts]
    window._busy._words.setText("Finding the beats of a song with a long name …")
    window._busy.show()
    QApplication.processEvents()
    assert window._busy.isVisible()
    assert [part.geometry() for part in parts] == before
