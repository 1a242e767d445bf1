"""Every control of every page says what it does and with which key."""

import re
import shutil
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QHelpEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QCheckBox,
    QFormLayout,
    QLineEdit,
    QPushButton,
    QToolTip,
    QWidget,
)

from rehearse.ui import actions
from rehearse.ui.tips import CONTROLS, tip_of
from rehearse.ui.window import PAGES, REHEARSE, ROUTINE, Window

from .made import DEMO
from .test_help import FLOWS

PANELS = ("checks", "suggestions", "versions", "copy", "remarks", "put", "put_move")
#: A tooltip's end: the key in brackets.
KEY = re.compile(r"\(([^()]+)\)$")


@pytest.fixture
def window(workspace, qtbot, tmp_path, monkeypatch, request):
    folder = shutil.copytree(DEMO, tmp_path / "demo", ignore=shutil.ignore_patterns("*.sqlite*"))
    needs_song = request.node.name.startswith("test_every_control")
    if not needs_song:
        monkeypatch.setattr(workspace, "decode", lambda: None)
    window = Window(workspace)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    with qtbot.waitExposed(window):
        window.show()
    assert workspace.open(Path(folder))
    qtbot.waitUntil(lambda: workspace.track is not None or not needs_song, timeout=120_000)
    yield window
    window.close()


def silent(window, where):
    """The controls in sight that say nothing, or no key."""
    QApplication.processEvents()
    found = []
    for control in window.findChildren(QWidget):
        if not (isinstance(control, CONTROLS) and control.isVisible()):
            continue
        if isinstance(control, QLineEdit) and control.focusPolicy() == Qt.FocusPolicy.NoFocus:
            continue
        if control.objectName().startswith("qt_") and not isinstance(control, QLineEdit):
            continue  # parts of Qt's own controls, which speak for them
        said = tip_of(control)
        own = control.toolTip() or control.parentWidget().toolTip()
        if own and not isinstance(control, QAbstractButton):
            continue  # what a field means; Tab goes from one to the next
        if not said or not KEY.search(said):
            found.append((where, type(control).__name__, said))
    return found


def test_every_control_of_every_page_and_form(window):
    found = []
    for index, (word, _, _) in enumerate(PAGES):
        window.show_page(index)
        found += silent(window, word)
    window.show_page(0)
    window.page.bindings.actions["more"].trigger()
    found += silent(window, "more corrections")
    window.show_page(ROUTINE)
    for panel in PANELS:
        window.page.actions_by_name[panel].trigger()
        found += silent(window, panel)
    window.show_page(REHEARSE)
    window.page.toggle_rounds()
    found += silent(window, "rounds")
    window.page.toggle_setup()
    found += silent(window, "set-up")
    for opener in FLOWS:
        getattr(window, opener)()
        found += silent(window, opener)
        for kind in window._flow.kinds.buttons() if opener == "take_along" else ():
            kind.click()
            found += silent(window, kind.text())
    window.begin_walk()
    found += silent(window, "walk")
    for opener in (window.show_help, window.show_keys, window.show_about):
        opener()
        found += silent(window, opener.__name__)
    assert found == []


def test_a_button_of_an_action_says_its_key_of_now(window, workspace):
    workspace.settings.put("keys/clean", "B")
    window.show_page(REHEARSE)
    keys = window.page.keys
    for button in window.page.footer.findChildren(QPushButton):
        for name, action in keys.actions.items():
            if button.text().endswith(f"   {keys.label(name)}"):
                assert tip_of(button).endswith(f"({keys.label(name)})"), action.text()


def test_names_and_keys_are_made_of_what_stands_there(qtbot):
    window = QWidget()
    form = QFormLayout(window)
    title, bare = QLineEdit(), QLineEdit()
    title.setAccessibleName("Title")
    form.addRow("&Title", title)
    form.addRow("Rest", bare)
    box, back, plain = (
        QCheckBox("With the &song"),
        QPushButton("Back   Esc"),
        QPushButton("Fish && <b>"),
    )
    back.setAccessibleName("Back, key Escape")
    for widget in (box, back, plain):
        form.addRow(widget)
    qtbot.addWidget(window)
    assert tip_of(title) == "Title (Alt+T)"
    assert tip_of(bare) == "Rest (Tab)"
    assert tip_of(box) == "With the song (Alt+S)"
    assert tip_of(back) == "Back (Esc)"
    assert "&lt;b&gt;" in tip_of(plain)  # no markup
    assert tip_of(window) == ""


def test_the_window_shows_it(window):
    window.show_page(REHEARSE)
    stop = window.page.footer.unwell
    at = stop.mapToGlobal(stop.rect().center())
    QApplication.sendEvent(window, QHelpEvent(QEvent.Type.ToolTip, QPoint(), at))
    assert QToolTip.text().endswith(f"({actions.key('stop everything')})")
    QToolTip.hideText()
