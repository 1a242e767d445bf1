"""Several shows a season: recent routines on the start page, and one routine for another show."""

import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton

from rehearse.routine.glance import Glance, glance
from rehearse.ui import theme
from rehearse.ui.recent import pose_of, words_of
from rehearse.ui.settings import MOST_RECENT
from rehearse.ui.window import Window

from . import fits
from .made import DEMO

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def folder(tmp_path):
    return Path(
        shutil.copytree(DEMO, tmp_path / "demo", ignore=shutil.ignore_patterns("*.sqlite*"))
    )


@pytest.fixture
def window(workspace, qtbot, monkeypatch):
    monkeypatch.setattr(workspace, "decode", lambda: None)
    window = Window(workspace)
    qtbot.addWidget(window)
    with qtbot.waitExposed(window):
        window.show()
    workspace.finish_start()
    yield window
    window.close()


def test_a_show_is_told_with_the_days_left():
    today = date(2026, 11, 30)
    seen = Glance(Path("x"), "A", "The Hall", "Open class", "2026-12-10")
    assert words_of(seen, today) == "The Hall, Open class, 2026-12-10 – 10 days left"
    assert words_of(Glance(Path("x"), "A"), today) == "no show yet"
    over = Glance(Path("x"), "A", "The Hall", show_date="2026-11-01")
    assert words_of(over, today) == "The Hall, 2026-11-01 – the show is over"


def test_a_routine_is_shown_by_its_first_pose_and_its_own_figure(folder):
    assert pose_of(glance(folder)).name == "kneeling double biceps"
    assert pose_of(Glance(folder, "A", pose="crucifix", figure="woman")).look.figure == "woman"
    photo = pose_of(Glance(folder, "A", pose="my lantern", photo="pictures/lantern.jpg"))
    assert (photo.name, photo.picture) == ("my lantern", "pictures/lantern.jpg")
    for unknown in ("", "a pose of another version"):
        assert pose_of(Glance(folder, "A", pose=unknown)).name == "front stance"


def test_folders_are_remembered_newest_first_once_each(settings):
    for k in (*range(MOST_RECENT + 3), 5):
        settings.remember_folder(Path(f"/routines/{k}"))
    found = [path.name for path in settings.recent_folders]
    assert found[:2] == ["5", str(MOST_RECENT + 2)]
    assert len(found) == len(set(found)) == MOST_RECENT
    assert settings.get("folder") == "/routines/5"


def test_the_start_page_lists_what_was_opened_last_and_enter_opens_it(
    window, workspace, folder, qtbot
):
    empty = window._empty
    workspace.settings.remember_folder(folder)
    workspace.settings.remember_folder(folder.parent / "gone")
    empty.show_recent()
    assert empty._list.count() == 1
    title, under = empty._list.item(0).text().split("\n")
    assert title == "Copper Lights"
    assert under.startswith("The Lantern Hall Open")
    assert "2027-05-22" in under
    qtbot.waitUntil(lambda: not empty._list.item(0).icon().isNull())
    shown = empty._list.item(0).icon().pixmap(58, 64).toImage()
    assert any(shown.pixelColor(x, y).alpha() for x in range(0, 58, 4) for y in range(0, 64, 4))
    row = empty._list.visualItemRect(empty._list.item(0)).height()
    assert row >= 2 * empty._list.fontMetrics().lineSpacing() + theme.STEP  # else the show is cut
    QTest.keyClick(empty._list, Qt.Key.Key_Return)
    assert workspace.folder == folder


@pytest.mark.parametrize("size", fits.SIZES[::2], ids=str)
@pytest.mark.parametrize("there", [False, True])
def test_every_text_of_the_start_page_is_read_whole(window, workspace, folder, size, there):
    """At 960 × 600 its five buttons had no room in one row."""
    if there:
        workspace.settings.remember_folder(folder)
    window._empty.show_recent()
    fits.settle(window, size)
    assert fits.unfitting(window) == []
    empty = window._empty
    assert all(b.geometry().right() <= empty.width() for b in empty.findChildren(QPushButton))


def test_another_show_by_keys_copies_opens_and_tells_the_limit(window, workspace, folder, qtbot):
    assert workspace.open(folder)
    QTest.keyClick(window, Qt.Key.Key_R, CTRL | SHIFT)
    flow = window._flow
    assert not flow.main.isEnabled()
    QTest.keyClicks(window.focusWidget(), "Harbour Classic")
    flow.date.setText((date.today() + timedelta(days=30)).isoformat())
    assert flow.left.text() == "30 days left."
    flow.rules.setCurrentIndex([r.key for r in flow.rules.sets].index("open-60"))
    QTest.keyClick(flow.title, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: workspace.folder != folder, timeout=120_000)
    assert workspace.folder.name == "Copper Lights – Harbour Classic"
    assert workspace.routine.show == "Harbour Classic"
    assert "15.0 s over this show's limit of 60 s" in window.error.text
    assert "Ctrl+X for a shorter cut" in window.error.text
    assert workspace.settings.recent_folders == [workspace.folder, folder]
    QTest.keyClick(window, Qt.Key.Key_H, CTRL | SHIFT)
    other = window._flow.list
    assert [other.item(k).text().split("\n")[0] for k in range(other.count())] == ["Copper Lights"]
    QTest.keyClick(other, Qt.Key.Key_Return)
    assert workspace.folder == folder
