"""Space is the page's main action wherever the focus is, unless a text is edited; Return presses.

In the real window, with real key events where the focus is.
"""

from __future__ import annotations

import shutil

import pytest
from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QApplication,
    QLineEdit,
    QPlainTextEdit,
    QWidget,
)

from rehearse.music.position import Length
from rehearse.routine import edits
from rehearse.routine.folder import open_folder, save_routine
from rehearse.ui import file_dialog
from rehearse.ui.mainkey import in_form
from rehearse.ui.pages.routine.panel_stack import SUGGESTIONS
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace

from .made import DEMO
from .routine.conftest import HandClock

K = Qt.Key
MUSIC, ROUTINE, REHEARSE, LOGBOOK = range(4)
_TEXTS = (QLineEdit, QPlainTextEdit, QAbstractSpinBox)


@pytest.fixture
def workspace(qapp, settings):
    workspace = Workspace(settings, make_player=HandClock)
    yield workspace
    workspace.save()
    workspace.close()


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(DEMO, tmp_path / "copper-lights")


@pytest.fixture
def window(workspace, folder, qtbot):
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    assert workspace.open(folder)
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=120_000)
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    yield window
    window.close()


def counted(window, monkeypatch, page):
    """Show a page whose main action is only counted."""
    window.show_page(page)
    done: list[int] = []
    shown = window.page
    if page == MUSIC:
        shown.main.clicked.disconnect()
        shown.main.clicked.connect(lambda: done.append(page))
    elif page == ROUTINE:
        monkeypatch.setattr(shown.playing, "toggle", lambda: done.append(page))
        shown.actions_by_name["play"].triggered.disconnect()
        shown.actions_by_name["play"].triggered.connect(lambda: done.append(page))
    elif page == REHEARSE:
        shown.controller.begun.disconnect()
        shown.controller.begun.connect(lambda _: done.append(page))
    else:
        monkeypatch.setattr(shown, "start_plan", lambda: done.append(page))
    return done


def takers(window) -> list[QWidget]:
    """Every visible widget that Tab or a click gives the focus, but texts and forms."""
    return [
        w
        for w in window.findChildren(QWidget)
        if w.isVisible()
        and w.isEnabled()
        and w.focusPolicy() != Qt.FocusPolicy.NoFocus
        and w.focusProxy() is None
        and not isinstance(w, _TEXTS)
        and not in_form(w)
    ]


@pytest.mark.parametrize("page", [MUSIC, ROUTINE, REHEARSE, LOGBOOK])
def test_space_is_the_main_action_whatever_has_the_focus(window, workspace, monkeypatch, page):
    done = counted(window, monkeypatch, page)
    workspace.errorRaised.emit("Something to understand.")
    seen = takers(window)
    assert len(seen) >= 8
    assert any(w is b for w in seen for b in window._head.buttons)
    for widget in seen:
        if not widget.isVisible():
            continue
        widget.setFocus(Qt.FocusReason.TabFocusReason)
        if QApplication.focusWidget() is not widget:
            continue
        before = len(done)
        was = widget.isChecked() if isinstance(widget, QAbstractButton) else None
        QTest.keyClick(widget, K.Key_Space)
        assert QApplication.activePopupWidget() is None, widget
        assert len(done) == before + 1, widget
        if isinstance(widget, QAbstractButton):
            assert widget.isChecked() == was
        assert window._head.marked == page, widget


def test_return_presses_the_button_that_has_the_focus(window):
    window.show_page(ROUTINE)
    music = window._head.buttons[MUSIC]
    music.setFocus()
    QTest.keyClick(music, K.Key_Return)
    assert window._head.marked == MUSIC
    window.show_page(LOGBOOK)
    kind = window.page.kinds[1]
    kind.setFocus()
    QTest.keyClick(kind, K.Key_Return)
    assert kind.isChecked()
    window.show_page(ROUTINE)
    hand = window.page.bar.hand
    hand.setFocus()
    QTest.keyClick(hand, K.Key_Return)
    assert window.page.below.currentWidget() is window.page.picker


def test_after_the_last_suggestion_space_plays(window, workspace, qtbot):
    window.show_page(ROUTINE)
    page = window.page
    accents = workspace.beatmap.accents[:1]
    quiet = type(workspace.beatmap)(
        **{**vars_of(workspace.beatmap), "accents": accents, "builds": (), "quiets": ()}
    )
    workspace.edit("one accent", routine=none_placed(workspace.routine), beatmap=quiet)
    page.findings.look()
    QTest.keyClick(page, K.Key_G, Qt.KeyboardModifier.ShiftModifier)
    assert page.panels.panel == SUGGESTIONS
    for _ in range(len(page.findings.suggestions)):
        QTest.keyClick(QApplication.focusWidget(), K.Key_Return)
    assert page.findings.suggestions == ()
    assert not isinstance(QApplication.focusWidget(), QAbstractButton)
    routine = workspace.routine
    for _ in range(2):  # once more than there were lines
        QTest.keyClick(QApplication.focusWidget(), K.Key_Return)
    assert page.below.currentWidget() is not page.picker
    assert workspace.routine == routine
    QTest.keyClick(QApplication.focusWidget(), K.Key_Space)
    assert page.playing.on
    assert QApplication.activePopupWidget() is None


def vars_of(beatmap):
    from dataclasses import fields

    return {f.name: getattr(beatmap, f.name) for f in fields(beatmap)}


def none_placed(routine):
    from dataclasses import replace

    return replace(routine, poses=())


def test_after_a_copy_was_opened_enter_takes_over(window, workspace, folder, tmp_path, monkeypatch):
    copy = shutil.copytree(folder, tmp_path / "copy")
    theirs = open_folder(copy)
    first = theirs.routine.poses[1].id
    held = edits.change(theirs.routine, theirs.beatmap, first, hold=Length(5))
    save_routine(copy, held, theirs.beatmap)
    window.show_page(ROUTINE)
    page = window.page
    QTest.keyClick(page, K.Key_V, Qt.KeyboardModifier.ShiftModifier)
    monkeypatch.setattr(file_dialog, "open_folder", lambda *_: str(copy))
    page.panels.copy.folder.setFocus()
    QTest.keyClick(page.panels.copy.folder, K.Key_Return)
    assert page.panels.copy.list.notes
    QTest.keyClick(QApplication.focusWidget(), K.Key_Return)
    assert workspace.routine.placed(first).hold == Length(5)
    assert page.below.currentWidget() is not page.picker


def test_enter_adds_a_pose_that_nobody_knows_as_ones_own(window, workspace):
    window.show_page(ROUTINE)
    page = window.page
    QTest.keyClick(page, K.Key_P)
    QTest.keyClicks(QApplication.focusWidget(), "starfall")
    assert "press Enter to add it as your own" in page.picker._nothing.text()
    QTest.keyClick(QApplication.focusWidget(), K.Key_Return)
    assert page.below.currentWidget() is page.own
    assert page.own.name.text() == "starfall"
    QTest.keyClick(QApplication.focusWidget(), K.Key_Return)
    assert any(o.name == "starfall" for o in workspace.routine.own_poses)


def test_a_line_that_goes_gives_the_keys_to_the_page(window, workspace):
    window.show_page(ROUTINE)
    workspace.errorRaised.emit("Something to understand.")
    window.error._close.setFocus()
    QTest.keyClick(window.error._close, K.Key_Return)
    assert window.error.text == ""
    QCoreApplication.processEvents()
    assert window.page.isAncestorOf(QApplication.focusWidget()) or (
        QApplication.focusWidget() is window.page
    )
    assert not isinstance(QApplication.focusWidget(), QAbstractButton)
