"""Remarks from the coach in the window: dropped, shown at their place, answered, taken over."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QColor, QDragEnterEvent, QDropEvent, QGuiApplication
from PySide6.QtWidgets import QApplication

from rehearse.routine.remarks import fingerprint, load_remarks
from rehearse.routine.versions import keep_copied
from rehearse.ui import theme
from rehearse.ui.pages.routine import remarkpanel
from rehearse.ui.pages.routine.page import RoutinePage
from rehearse.ui.pages.routine.panel_stack import COPY, REMARKS
from rehearse.ui.pages.routine.pose_rows import POSE
from rehearse.ui.window import Window

from .conftest import hits

K = Qt.Key
ALOUD = Qt.ItemDataRole.AccessibleTextRole


@pytest.fixture
def remarks(workspace, folder, tmp_path):
    """The file that came back: a change of a pose, a word on another, one on a place."""
    keep_copied(folder)
    base = fingerprint((folder / "routine.yaml").read_bytes())
    when = "2026-11-30T18:30:00.000Z"
    rows = [
        {
            "id": "a1",
            "pose": "bbbbbbbb",
            "text": "Later.",
            "change": {"hit": "17.000 s", "hold": "6 counts"},
            "written": when,
        },
        {"id": "a2", "pose": "cccccccc", "text": "<b>Wider</b>\u202e lats.", "written": when},
        {"id": "a3", "time": 10.0, "text": "Breathe.", "written": when},
    ]
    head = {"format": 1, "remarks_on": workspace.routine.id, "base": base, "title": "Made"}
    path = tmp_path / "Made remarks.json"
    path.write_text(json.dumps(head | {"author": "<i>Coach</i>", "remarks": rows}))
    return path


def shown(page):
    return [(note.sign, note.head, note.text) for note in page.panels.remarks.list.notes]


def test_remarks_stand_at_their_place_and_their_changes_go_through_the_copys_list(
    page, workspace, press, folder, remarks
):
    page.take_remarks(remarks)
    assert page.panels.panel == COPY
    assert [n.text for n in page.panels.copy.list.notes] == [
        "Side chest left: moved from 4:1 to 4:3, held 2 counts longer (4 counts → 6 counts). "
        "Changed there."
    ]
    assert page.panels.copy.told.text().startswith("Proposed by <i>Coach</i>: 1 change")
    press(K.Key_Return)
    assert hits(workspace) == ["2:1", "4:3", "6:1"]
    assert str(workspace.routine.placed("bbbbbbbb").hold) == "6 counts"
    press(K.Key_M, Qt.KeyboardModifier.ControlModifier)
    assert page.panels.panel == REMARKS
    first, second, third = shown(page)
    assert first == ("◆", "2:5", "<i>Coach</i>, 30 Nov 2026: Breathe.")
    assert second[1] == "4:3 side chest left"
    assert third[2] == "<i>Coach</i>, 30 Nov 2026: <b>Wider</b> lats."
    press(K.Key_Down)
    press(K.Key_Down)
    assert workspace.selected == "cccccccc"


def test_a_remark_is_taken_answered_or_set_aside_and_that_stays_in_the_folder(
    page, workspace, press, qtbot, folder, remarks
):
    page.take_remarks(remarks)
    panel = page.panels.remarks
    page.panels.show_panel(REMARKS)
    press(K.Key_Return)
    assert [r.state for r in load_remarks(folder)] == ["new", "new", "taken"]
    qtbot.mouseClick(panel.aside, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(panel.answer, Qt.MouseButton.LeftButton)
    qtbot.keyClicks(page.ask.answer, "Will do")
    qtbot.keyClick(page.ask.answer, K.Key_Return)
    states = {r.id: (r.state, r.answer) for r in load_remarks(folder)}
    assert sorted(state for state, _ in states.values()) == ["answered", "set aside", "taken"]
    assert ("answered", "Will do") in states.values()
    # The same file once more changes nothing of it.
    page.take_remarks(remarks)
    assert {r.id: (r.state, r.answer) for r in load_remarks(folder)} == states


def test_copied_text_is_pasted(page, folder, remarks, qtbot):
    QGuiApplication.clipboard().setText(remarks.read_text())
    page.panels.show_panel(REMARKS)
    qtbot.mouseClick(page.panels.remarks.paste, Qt.MouseButton.LeftButton)
    assert len(load_remarks(folder)) == 3


def test_another_file_is_one_sentence_and_keeps_nothing(page, workspace, folder, tmp_path, qtbot):
    other = tmp_path / "notes.json"
    other.write_text('{"a": 1}')
    with qtbot.waitSignal(workspace.errorRaised) as told:
        page.take_remarks(other)
    assert (
        told.args[0]
        == "notes.json: holds no remarks – choose the file that the coach's page saved."
    )
    assert load_remarks(folder) == ()


def test_a_file_dropped_on_the_window_is_taken(qtbot, workspace, page, folder, remarks):
    window = Window(workspace)
    qtbot.addWidget(window)
    window.show()
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(remarks))])
    how = (Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton)
    QApplication.sendEvent(
        window, QDragEnterEvent(QPoint(20, 20), *how, Qt.KeyboardModifier.NoModifier)
    )
    QApplication.sendEvent(
        window, QDropEvent(QPointF(20, 20), *how, Qt.KeyboardModifier.NoModifier)
    )
    assert len(load_remarks(folder)) == 3
    window.close()


def test_an_edit_reads_no_remarks_while_they_are_not_seen(page, workspace, press, monkeypatch):
    read = []
    monkeypatch.setattr(remarkpanel, "load_remarks", lambda folder: read.append(folder) or ())
    workspace.edit("other title", routine=replace(workspace.routine, title="Other"))
    assert not read
    press(K.Key_M, Qt.KeyboardModifier.ControlModifier)
    assert read


def test_rows_with_an_open_remark_are_marked_until_something_became_of_it(
    page, workspace, qtbot, remarks
):
    """As drawn, and as a screen reader says it; a page made later knows of them too."""

    def marked(seen):
        said = [seen.rows.data(seen.rows.index(k, POSE), ALOUD) for k in range(3)]
        light, picture = QColor(theme.NEXT), seen.table.grab().toImage()
        drawn = []
        for k in range(3):
            box = seen.table.visualRect(seen.rows.index(k, POSE))
            at = seen.table.viewport().mapTo(seen.table, box.topLeft())
            y = at.y() + box.height() // 2
            across = range(at.x() + 50, at.x() + box.width())  # past the figure
            drawn.append(any(picture.pixelColor(x, y) == light for x in across))
        assert drawn == [text.endswith(", open remark") for text in said]
        return drawn

    assert marked(page) == [False] * 3
    page.take_remarks(remarks)
    assert marked(page) == [False, True, True]
    page.panels.show_panel(REMARKS)
    panel = page.panels.remarks
    row = [note.data.id for note in panel.list.notes].index("a2")
    panel.list.setCurrentIndex(panel.list.model().index(row, 0))
    qtbot.mouseClick(panel.aside, Qt.MouseButton.LeftButton)
    assert marked(page) == [False, True, False]
    later = RoutinePage(workspace)
    qtbot.addWidget(later)
    later.resize(page.size())
    later.show()
    assert marked(later) == [False, True, False]
