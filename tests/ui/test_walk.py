"""The first walk: each step is passed by the real thing being done, by key, pointer or clicker."""

from types import SimpleNamespace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from rehearse.ui import actions
from rehearse.ui.flows.new_routine import NewRoutine
from rehearse.ui.pages.rehearse.page_layout import Screen
from rehearse.ui.walk import DONE, LEFT, SETTING, STEPS
from rehearse.ui.window import REHEARSE, Window
from rehearse.ui.workspace import Workspace

from .made import DEMO, PromptWorkers, fast_folder, rehearsing
from .test_flows import drop

K = Qt.Key
CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
PATIENCE = 120_000


@pytest.fixture
def workspace(qapp, settings, tmp_path):
    settings.put("silent", True)
    settings.put("routines", str(tmp_path / "routines"))
    for caution in ("warm up", "ask"):
        settings.put(f"cautions/{caution}", "always")
    workspace = Workspace(settings, make_workers=PromptWorkers)
    yield workspace
    workspace.close()


@pytest.fixture
def window(workspace, tmp_path, qtbot):
    window = rehearsing(workspace, fast_folder(tmp_path / "fast"), qtbot)
    window.begin_walk()
    yield window
    window.close()


def press(key, held=Qt.KeyboardModifier.NoModifier):
    QTest.keyClick(QApplication.focusWidget(), key, held)


def reaches(qtbot, window, name):
    qtbot.waitUntil(lambda: window.walk.step and window.walk.step.name == name, timeout=PATIENCE)
    return True


def plays(window):
    return window.rehearse_page.host.view.state == "music"


def test_the_walk_by_clicker_and_then_by_keys(window, workspace, tmp_path, qtbot):
    host = window.page.host
    press(K.Key_C)  # not what was asked: nothing happens
    window.walk.look()
    assert window.walk.step.name == "play"
    press(K.Key_PageDown)
    assert reaches(qtbot, window, "slow")
    press(K.Key_PageDown)
    assert reaches(qtbot, window, "loop")
    press(K.Key_PageDown)
    assert reaches(qtbot, window, "clean")
    assert host.view.plan.scope.kind == "section"
    qtbot.waitUntil(lambda: plays(window), timeout=PATIENCE)
    press(K.Key_PageDown)
    assert reaches(qtbot, window, "export")
    window.begin_walk()  # once more, by keys; the music goes on
    assert reaches(qtbot, window, "slow")
    press(K.Key_Plus)
    window.walk.look()
    assert window.walk.step.name == "slow"
    press(K.Key_Minus)
    press(K.Key_Minus)
    qtbot.waitUntil(lambda: window.walk.number == 4, timeout=PATIENCE)  # a section repeats already
    qtbot.waitUntil(lambda: plays(window), timeout=PATIENCE)
    press(K.Key_C)
    assert reaches(qtbot, window, "export")
    press(K.Key_PageDown)
    window.page.place.setText(str(tmp_path))
    press(K.Key_Return)
    assert reaches(qtbot, window, "own")
    assert list(tmp_path.glob("*.pdf"))
    window.show_page(REHEARSE)
    press(K.Key_PageDown)  # the button is the page's again: it resumes
    qtbot.waitUntil(lambda: host.busy and not host.paused, timeout=PATIENCE)
    assert workspace.open(fast_folder(tmp_path / "own"))
    qtbot.waitUntil(lambda: window.walk.step is None, timeout=PATIENCE)  # it has five poses
    assert workspace.settings.get(SETTING, "") == DONE
    assert not window._band.isVisible()


def test_two_marks_are_a_loop(window):
    """The page's own tests set marks by hand; here only that the walk knows one."""
    for kind, scope, told in (
        ("drill", "marks", True),
        ("drill", "section", True),
        ("drill", "whole", False),
        ("run", "section", False),
    ):
        plan = SimpleNamespace(kind=kind, scope=SimpleNamespace(kind=scope))
        window.walk._view = lambda plan=plan: SimpleNamespace(plan=plan, state="music")
        assert window.walk._loops() is told


def test_one_key_opens_the_demo_and_the_same_leaves_it_for_good(workspace, tmp_path, qtbot):
    window = Window(workspace)
    qtbot.addWidget(window)
    with qtbot.waitExposed(window):
        window.show()
    window.activateWindow()
    assert window._empty.walk.isVisible()
    press(K.Key_F4)
    assert workspace.folder == tmp_path / "routines" / "Copper Lights"
    assert window.rehearse_page is window.page
    assert window.walk.step is STEPS[0]
    assert window._band.isVisible()
    press(K.Key_F4, SHIFT)
    assert window.walk.step is STEPS[1]
    press(K.Key_F4)
    assert window.walk.step is None
    assert not window._band.isVisible()
    assert workspace.settings.get(SETTING, "") == LEFT
    assert not window._empty.walk.isVisibleTo(window._empty)
    press(K.Key_F4)  # again, when it is asked for: the same copy
    assert window.walk.step is STEPS[0]
    assert [p.name for p in (tmp_path / "routines").iterdir()] == ["Copper Lights"]
    window.close()


def test_the_band_is_read_from_three_metres(window, workspace, qtbot):
    """ISO 9241-3 (from a copy): at least 16′ of arc, 14.0 mm at 3 m."""
    workspace.settings.put("screen_mm", 309.4)  # a 14 inch screen
    screen = Screen(workspace, window)
    for _ in STEPS[:-1]:
        band = window._band
        band.refresh()
        band.sentence.ensurePolished()
        metrics = QFontMetricsF(band.sentence.font())
        text = band.sentence.text()
        wide = metrics.horizontalAdvance(text)
        assert wide <= band.width(), text
        # A window of half the screen's width is for half the way.
        share = min(1.0, window.width() / window.screen().size().width())
        assert metrics.capHeight() * screen.pixel_mm() >= 14.0 * share - 0.3, text
        window.walk.go_on()


def test_a_song_dropped_on_the_handouts_is_the_own_one(window, workspace, tmp_path, monkeypatch):
    for _ in range(5):
        window.walk.go_on()
    assert window.walk.expects_song
    window.take_along()
    assert window.page.takes(tmp_path)
    assert not window.page.takes(DEMO / "track.ogg")  # so that the window gets it
    assert not window.page.takes(DEMO)
    monkeypatch.setattr(workspace, "run_job", lambda *a, **k: None)
    drop(window, DEMO / "track.ogg")
    assert isinstance(window.page, NewRoutine)
    assert window.page.goes_on


def test_every_key_named_by_the_walk_is_an_actions(settings):
    for step in STEPS:
        for text in (step.sentence, step.more):
            for name in [part.split("}")[0] for part in text.split("{")[1:]]:
                assert actions.key(name)
