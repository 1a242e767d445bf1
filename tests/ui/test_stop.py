"""D stops everything: on every page, in every state and dialogue, and means nothing else."""

import shutil

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QDialog, QLabel, QLineEdit, QMenu, QSpinBox

from rehearse.practice.cautions import stopped
from rehearse.ui import actions
from rehearse.ui.stopkey import HELD, takes_letters
from rehearse.ui.window import PAGES, Window

from .made import DEMO, fast_folder, rehearsing


@pytest.fixture
def window(workspace, tmp_path, qtbot):
    workspace.settings.put("silent", True)
    window = rehearsing(workspace, fast_folder(tmp_path / "fast"), qtbot)
    yield window
    window.close()


def press(window, key=Qt.Key.Key_D, held=Qt.KeyboardModifier.NoModifier):
    """A key as the window system hands it on: to the window, which finds out who has the focus."""
    QTest.keyClick(window.windowHandle(), key, held)


def begin(window, page, qtbot):
    window.show_page(page)
    press(window, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: sounds(window), timeout=120_000)


def sounds(window):
    page = window.page
    if hasattr(page, "song_playback"):
        return page.song_playback.on
    if hasattr(page, "playing"):
        return page.playing.on
    return page.host.view.state in ("count-in", "music")


@pytest.mark.parametrize(("page", "held"), [(0, ""), (1, ""), (2, ""), (1, "Ctrl"), (1, "Shift")])
def test_it_stops_the_music_of_every_page(window, workspace, qtbot, page, held):
    begin(window, page, qtbot)
    modifiers = {
        "": Qt.KeyboardModifier.NoModifier,
        "Ctrl": Qt.KeyboardModifier.ControlModifier,
        "Shift": Qt.KeyboardModifier.ShiftModifier,
    }
    before = workspace.routine
    press(window, held=modifiers[held])
    assert not sounds(window)
    assert workspace.routine is before
    said = window.page.footer.notice.text() if page == 2 else window.error.text
    assert said == stopped().text


@pytest.mark.parametrize(
    "flow", ["take_along", "show_and_rules", "own_voice", "new_routine", "cut_song"]
)
def test_it_is_heard_in_whatever_fills_the_window(window, workspace, qtbot, flow):
    told = []
    workspace.stopAsked.connect(lambda: told.append(flow))
    getattr(window, flow)()
    window.setFocus()
    press(window)
    focus = window.focusWidget()
    if takes_letters(focus):
        assert told == []
    press(window, held=Qt.KeyboardModifier.ControlModifier)
    assert told


def test_typed_into_a_text_it_is_text_and_with_ctrl_it_stops(window, workspace, qtbot):
    begin(window, 1, qtbot)
    field = QLineEdit(window.page)
    field.show()
    field.setFocus()
    press(window)
    assert field.text() == "d"
    assert window.page.playing.on
    press(window, held=Qt.KeyboardModifier.ControlModifier)
    assert field.text() == "d"
    assert not window.page.playing.on


def test_where_no_letters_are_taken_it_stops(window, workspace, qtbot):
    digits = QLineEdit(window.page)
    digits.setInputMethodHints(Qt.InputMethodHint.ImhDigitsOnly)
    for field in (QSpinBox(window.page), digits, window.page.footer.question._number):
        begin(window, 2, qtbot)
        field.show()
        field.setFocus()
        press(window)
        assert not window.page.host.busy
        field.hide()


def test_it_is_heard_in_a_dialogue(window, workspace, qtbot):
    dialogue = QDialog(window)
    dialogue.setModal(True)
    begin(window, 2, qtbot)
    dialogue.show()
    qtbot.waitUntil(dialogue.isActiveWindow)
    press(dialogue)
    assert not window.page.host.busy
    dialogue.close()


def test_it_is_heard_over_a_menu(window, workspace, qtbot):
    begin(window, 2, qtbot)
    menu = QMenu(window)
    menu.addAction("Down the line")
    menu.popup(window.pos())
    press(menu)
    assert not window.page.host.busy
    menu.close()


def test_a_key_held_down_stops_once(window, workspace):
    told = []
    workspace.stopAsked.connect(lambda: told.append(1))
    for repeats in (False, True, True):
        event = QKeyEvent(
            QEvent.Type.KeyPress,
            Qt.Key.Key_D,
            Qt.KeyboardModifier.NoModifier,
            "d",
            repeats,
        )
        QCoreApplication.sendEvent(window.windowHandle(), event)
    assert told == [1]


def test_what_waits_for_the_song_does_not_begin_after_it(workspace, tmp_path, qtbot):
    window = Window(workspace)
    qtbot.addWidget(window)
    window.show()
    folder = shutil.copytree(DEMO, tmp_path / "routine")
    assert workspace.open(folder)
    window.show_page(2)
    assert workspace.track is None
    window.page.controller.begin_chosen()
    workspace.stop_everything()
    qtbot.waitUntil(lambda: workspace.track is not None, timeout=120_000)
    assert not window.page.host.busy
    window.close()


def is_d(sequence):
    """Whether a key sequence has the key D anywhere, whatever is held with it."""
    return any(sequence[k].key() == Qt.Key.Key_D for k in range(sequence.count()))


def bound(window):
    """Every key sequence that something in the window is bound to, with what it is."""
    for action in window.findChildren(QAction):
        for sequence in action.shortcuts():
            yield sequence, action.text()
    for shortcut in window.findChildren(QShortcut):
        yield shortcut.key(), str(shortcut.parent())
    for widget in (*window.findChildren(QAbstractButton), *window.findChildren(QLabel)):
        if isinstance(widget, QLabel) and widget.buddy() is None:
            continue
        yield QKeySequence.mnemonic(widget.text()), widget.text()
        if isinstance(widget, QAbstractButton):
            yield widget.shortcut(), widget.text()


def test_nothing_else_in_the_window_is_bound_to_it(window, workspace):
    found = []
    for page in range(len(PAGES)):
        window.show_page(page)
    window.show_page(2)
    window.page.toggle_setup()
    found += bound(window)
    flows = ("take_along", "show_and_rules", "own_voice", "new_routine", "cut_song")
    for flow in flows:
        getattr(window, flow)()
        found += bound(window)
    assert len(found) > 100
    ours = {key.toString() for key, _ in found if is_d(key)}
    assert ours == set(actions.STOP.keys)
    assert sum(is_d(key) for key, _ in found) == (1 + len(flows)) * len(actions.STOP.keys)


def test_every_window_key_has_one_meaning_and_words():
    keys = [key for action in actions.WINDOW for key in action.keys]
    assert len(keys) == len(set(keys))
    assert all(action.words and action.pages for action in actions.WINDOW)


def test_it_cannot_be_given_away(window):
    keys = window.page.keys
    for key in ("D", "Shift+D", "Ctrl+D"):
        assert "belongs to the window" in keys.assign("clean", key)
    window._workspace.settings.put("keys/clean", "D")  # as set before the key was taken
    assert keys.of("clean") == ("C",)


@pytest.mark.parametrize("page", [0, 1, 2])
def test_the_held_clicker_key_stops_every_page(window, workspace, qtbot, page):
    begin(window, page, qtbot)
    handle = window.windowHandle()
    QTest.keyPress(handle, Qt.Key.Key_PageUp)
    footer, error = getattr(window.page, "footer", None), window.error
    said = lambda: footer.notice.text() if footer else error.text  # noqa: E731
    qtbot.waitUntil(lambda: said() == stopped().text, timeout=3 * HELD)
    QTest.keyRelease(handle, Qt.Key.Key_PageUp)
    assert not sounds(window)


def test_a_short_press_of_the_clicker_stops_nothing(window, workspace, qtbot):
    begin(window, 1, qtbot)
    told = []
    workspace.stopAsked.connect(lambda: told.append(1))
    for _ in range(3):
        press(window, Qt.Key.Key_PageUp)
        qtbot.wait(HELD // 3)
    qtbot.wait(HELD // 2)
    assert told == []
    assert window.page.playing.on


def test_repeats_as_x_tells_them_are_one_held_press(window, workspace, qtbot):
    """Seen with Qt 6.11 under X: every repeat is a release and a fresh press of one moment."""
    told = []
    workspace.stopAsked.connect(lambda: told.append(1))
    handle = window.windowHandle()
    for _ in range(HELD // 30 + 10):
        QTest.keyPress(handle, Qt.Key.Key_PageUp)
        qtbot.wait(30)
        QTest.keyRelease(handle, Qt.Key.Key_PageUp)
        if told:
            break
    assert told == [1]


def test_the_clickers_assigned_key_is_heard_and_typed_text_is_not(window, workspace, qtbot):
    workspace.settings.put("keys/clicker_back", "B")
    begin(window, 1, qtbot)
    field = QLineEdit(window.page)
    field.show()
    field.setFocus()
    handle = window.windowHandle()
    QTest.keyPress(handle, Qt.Key.Key_B)
    qtbot.wait(HELD + 100)
    QTest.keyRelease(handle, Qt.Key.Key_B)
    assert window.page.playing.on
    field.hide()
    window.page.setFocus()
    QTest.keyPress(handle, Qt.Key.Key_B)
    qtbot.waitUntil(lambda: not sounds(window), timeout=2 * HELD)
    QTest.keyRelease(handle, Qt.Key.Key_B)
