"""Asking for files: Qt's own dialog with room, whole columns, the athlete's places, real keys."""

import pytest
from PySide6.QtCore import QDir, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QLineEdit, QTreeView, QWidget

from rehearse.ui import file_dialog

SONG = "a rather long name of a song that an athlete once bought (remastered, edit).ogg"


@pytest.fixture
def window(qtbot):
    window = QWidget()
    window.resize(1366, 768)
    qtbot.addWidget(window)
    with qtbot.waitExposed(window):
        window.show()
    return window


def answered(told):
    """Call `told(dialog)` once the dialog is up."""

    def look():
        dialog = QApplication.activeModalWidget()
        if isinstance(dialog, QFileDialog):
            told(dialog)
        else:
            QTimer.singleShot(20, look)

    QTimer.singleShot(20, look)


def write(dialog, name):
    """A name and Return; typed letter by letter, Qt's list of completions stays open off screen."""
    line = dialog.findChild(QLineEdit, "fileNameEdit")
    line.setText(name)
    QTest.keyClick(line, Qt.Key.Key_Return)


def test_no_column_is_cut_and_the_dialog_stays_inside_the_window(window, tmp_path):
    (tmp_path / SONG).write_bytes(b"x" * 4000)
    seen = {}

    def look(dialog):
        tree = dialog.findChild(QTreeView)
        QTest.qWait(150)  # the folder is read in a thread of Qt's
        name = tree.fontMetrics().horizontalAdvance(SONG)
        seen["room"] = tree.header().sectionSize(0) - name
        wide = sum(tree.header().sectionSize(k) for k in range(4))
        seen["spare"] = tree.viewport().width() - wide
        seen["size"] = dialog.width(), dialog.height()
        seen["hidden"] = bool(dialog.filter() & QDir.Filter.Hidden)
        seen["home"] = QDir.homePath() in [url.toLocalFile() for url in dialog.sidebarUrls()]
        dialog.reject()

    answered(look)
    assert file_dialog.open_file(window, "Choose a song", str(tmp_path), "Songs (*.ogg)") == ""
    assert seen["room"] >= 0
    assert seen["spare"] >= -1
    assert 900 <= seen["size"][0] < window.width()
    assert 500 <= seen["size"][1] < window.height()
    assert seen["home"]
    assert not seen["hidden"]


def test_a_file_is_opened_and_one_is_saved(window, tmp_path):
    (tmp_path / "song.ogg").write_bytes(b"x")
    answered(lambda dialog: write(dialog, str(tmp_path / "song.ogg")))
    assert file_dialog.open_file(window, "Choose a song") == str(tmp_path / "song.ogg")
    answered(lambda dialog: write(dialog, "song.ogg"))
    found = file_dialog.open_files(window, "Photos", str(tmp_path), "All files (*)")
    assert found == [str(tmp_path / "song.ogg")]
    answered(lambda dialog: write(dialog, "keys.pdf"))
    start = str(tmp_path / "keys.pdf")
    assert file_dialog.save_file(window, "Save the key sheet", start, "PDF (*.pdf)") == start
    answered(lambda dialog: dialog.accept())
    assert file_dialog.open_folder(window, "Keep routines in", str(tmp_path)) == str(tmp_path)
