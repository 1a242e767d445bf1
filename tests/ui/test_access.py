"""The window for every eye and hand: names and roles, text size, keys and mouse alone, colours.

What a screen reader is told is read back through Qt's accessibility interface (QAccessible).
"""

from __future__ import annotations

import itertools
import shutil
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtGui import QAccessible, QContextMenuEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QScrollArea, QWidget

from rehearse.ui import actions, theme
from rehearse.ui.growth import TEXT_SIZES, style, wished
from rehearse.ui.page_menu import GROUPS, make_menu
from rehearse.ui.settings import Settings
from rehearse.ui.window import MUSIC, REHEARSE, ROUTINE, Window
from rehearse.ui.workspace import Workspace

from . import fits
from .made import DEMO

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))
from colour_blind import linear, luminance, pixels

LOGBOOK = 3
PANELS = ("checks", "suggestions", "versions", "copy", "remarks")
FLOWS = (
    *("new_rounds", "recent_routines", "another_show", "new_routine", "show_and_rules"),
    *("take_along", "own_voice", "cut_song", "film_of_a_run", "show_keys"),
)
PAGES = (MUSIC, ROUTINE, REHEARSE, LOGBOOK)
NAME, DESCRIPTION = QAccessible.Text.Name, QAccessible.Text.Description
SMALL = (1366, 768)


@pytest.fixture(autouse=True)
def no_thread_left():
    """A workspace's threads live as long as its window, which these tests share."""
    return


@pytest.fixture(scope="module")
def windows(qapp, tmp_path_factory):
    """The real window on the demo, its song read."""
    before, place = set(threading.enumerate()), tmp_path_factory.mktemp("access")
    workspace = Workspace(Settings(place / "settings.ini"))
    window = Window(workspace)
    window.workspace = workspace
    window.resize(*SMALL)
    window.show()
    assert workspace.open(shutil.copytree(DEMO, place / "copper-lights"))
    deadline = time.monotonic() + 20
    while workspace.track is None and time.monotonic() < deadline:
        qapp.processEvents()
        time.sleep(0.005)
    assert workspace.track is not None
    yield window
    window.close()
    workspace.close()
    theme.set_scale(1.0)
    qapp.setStyleSheet(style())
    deadline = time.monotonic() + 5
    while set(threading.enumerate()) - before and time.monotonic() < deadline:
        time.sleep(0.02)


@pytest.fixture
def window(windows):
    yield windows
    windows.workspace.settings.put("text_size", 1.0)
    windows._drop_help()
    windows._drop_flow()
    fits.settle(windows, SMALL)


def places(window):
    """Every page, panel, form and flow, one after another, by its name."""
    for page in PAGES:
        window.show_page(page)
        yield f"page {page + 1}"
    window.page.focusWidget()
    window.show_page(ROUTINE)
    for panel in PANELS:
        window.page.actions_by_name[panel].trigger()
        yield panel
    window.page.actions_by_name["put"].trigger()
    yield "pose picker"
    window.page.show_overview()
    window.show_page(REHEARSE)
    window.page.drill_panel.offer_rounds()
    yield "rounds"
    window.page.drill_panel.offer_rounds(False)
    window.page.toggle_setup()
    yield "set-up"
    window.page.close_setup()
    for flow in FLOWS:
        getattr(window, flow)()
        yield flow
    window._flow.leave()


def takers(window):
    """Every visible widget that a key or a click gives the focus."""
    return [
        w
        for w in window.findChildren(QWidget)
        if w.isVisible() and w.focusPolicy() != Qt.FocusPolicy.NoFocus and w.focusProxy() is None
    ]


def told(widget, text=NAME):
    return QAccessible.queryAccessibleInterface(widget).text(text).strip()


def labelled(widget):
    """Whether a label names it: how Qt tells the name of a list of choices, whose own text is
    what is chosen.
    """
    return any(label.buddy() is widget for label in widget.window().findChildren(fits.QLabel))


# -- names, roles, states ---------------------------------------------------------------------
def test_everything_that_takes_the_focus_is_named_and_every_text_read_at_200_percent(window):
    """One walk through all places: names and roles, and at 1366 × 768, scrolled where there is no
    room, nothing cut, glued or hidden.
    """
    window.workspace.settings.put("text_size", 2.0)
    fits.settle(window, SMALL)
    assert theme.scale() == 2.0
    seen, nameless, cut = set(), [], []
    for place in places(window):
        fits.settle(window)
        cut += [f"{place}: {words}" for words in fits.unfitting(window)]
        assert window.size().toTuple() == SMALL, place
        names = [(told(w), w.isEnabled()) for w in takers(window) if not isinstance(w, QComboBox)]
        nameless += [f"{place}: twice {name}" for name in set(names) if names.count(name) > 1]
        for widget in takers(window):
            interface = QAccessible.queryAccessibleInterface(widget)
            role = interface.role()
            if not interface.text(NAME).strip() or role == QAccessible.Role.NoRole:
                nameless.append(f"{place}: {fits._name(widget)}")
            if isinstance(widget, QComboBox) and not (labelled(widget) or widget.accessibleName()):
                nameless.append(f"{place}: {fits._name(widget)} has a value, but no name")
            seen.add(role)
    assert nameless == []
    assert cut == []
    roles = QAccessible.Role
    assert {roles.Button, roles.CheckBox, roles.RadioButton, roles.EditableText} <= seen
    assert {roles.ComboBox, roles.SpinBox, roles.Slider, roles.List, roles.Table} <= seen


def test_states_are_told(window):
    window.show_page(REHEARSE)
    states = [QAccessible.queryAccessibleInterface(b).state() for b in window._head.buttons]
    assert [bool(s.checked) for s in states] == [False, False, True, False]
    window.show_page(LOGBOOK)
    window.workspace.errorRaised.emit("Something to understand.")
    assert told(window.error) == "Something to understand."
    window.workspace.errorRaised.emit("")
    window.show_page(ROUTINE)
    window.page.choreography.editor.select("")
    table = window.page.table
    focus = QAccessible.queryAccessibleInterface(table)
    assert focus.state().focusable


def test_what_is_painted_by_hand_says_what_it_shows(window):
    """Waveform, lane, sections, pose card and stage display: what is seen there is told, too."""
    window.show_page(MUSIC)
    wave = window.page.view
    QTest.keyClick(wave, Qt.Key.Key_Home)
    before = told(wave, DESCRIPTION)
    QTest.keyClick(wave, Qt.Key.Key_Right)
    assert told(wave, DESCRIPTION) not in ("", before)
    QTest.keyClick(wave, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert "selected" in told(wave, DESCRIPTION)
    window.show_page(ROUTINE)
    page, routine = window.page, window.workspace.routine
    first, second = routine.poses[:2]
    page.choreography.editor.select(first.id)
    assert told(page.lane, DESCRIPTION) == f"{first.hit} {first.pose}"
    assert first.pose in told(page.card)
    page.choreography.editor.select(second.id)
    assert told(page.lane, DESCRIPTION) == f"{second.hit} {second.pose}"
    assert second.pose in told(page.card)
    assert told(page.strip, DESCRIPTION) == ", ".join(s.name for s in routine.sections)
    window.show_page(REHEARSE)
    stage = window.page.stage
    stage.refresh()
    assert told(stage, DESCRIPTION).startswith(f"Next: {first.pose} on {first.hit}, ")
    cue = window.workspace.sheet.cues[0]
    stage.set_start(cue.hit + 0.05)
    assert f"Held: {cue.name}" in told(stage, DESCRIPTION)
    stage.set_start(0.0)


def test_a_magnifier_is_told_where_to_look(window, qtbot):
    """The focus is what magnifiers follow; within the waveform and the lane it is the cursor."""
    window.show_page(MUSIC)
    wave = window.page.view
    window.activateWindow()
    wave.setFocus()
    QTest.keyClick(wave, Qt.Key.Key_Home)
    at = wave.inputMethodQuery(Qt.InputMethodQuery.ImCursorRectangle)
    QTest.keyClick(wave, Qt.Key.Key_Down)
    now = wave.inputMethodQuery(Qt.InputMethodQuery.ImCursorRectangle)
    assert now.x() > at.x()
    assert abs(now.x() - wave.scale.x(wave.cursor_time)) <= 1
    window.show_page(ROUTINE)
    page = window.page
    pose = window.workspace.routine.poses[1]
    page.choreography.editor.select(pose.id)
    place = page.lane.inputMethodQuery(Qt.InputMethodQuery.ImCursorRectangle)
    assert place.contains(round(page.lane.scale.x(page.timings.find(pose.id).hit)), place.y())


# -- text size ----------------------------------------------------------------------------------
@pytest.mark.parametrize(("size", "most"), [(0.8, 1), (1.3, 1)])
def test_every_text_is_read_whole_at_other_sizes(window, size, most):
    """At 1366 × 768, scrolled where there is no room: nothing cut, glued or hidden."""
    window.workspace.settings.put("text_size", size)
    fits.settle(window, SMALL)
    found = []
    for place in itertools.islice(places(window), most):
        fits.settle(window)
        found += [f"{place}: {words}" for words in fits.unfitting(window)]
        assert window.size().toTuple() == SMALL, place
    assert found == []
    assert theme.scale() == pytest.approx(size)


def test_text_is_sized_by_key_within_limits_and_stays_so(window):
    settings = window.workspace.settings
    window.show_page(LOGBOOK)
    window.activateWindow()
    fits.settle(window)
    assert window.isActiveWindow()
    window.page.setFocus()
    sizes = []
    settings.put("text_size", 1.8)
    for _ in range(3):
        QTest.keyClick(window.page, Qt.Key.Key_Plus, Qt.KeyboardModifier.ControlModifier)
        sizes.append(settings.get("text_size"))
    assert sizes == [1.9, 2.0, 2.0]
    assert TEXT_SIZES == (0.8, 2.0)
    assert "200 %" in window.error.text
    assert theme.scale() == pytest.approx(2.0)
    QTest.keyClick(window.page, Qt.Key.Key_0, Qt.KeyboardModifier.ControlModifier)
    assert theme.scale() == settings.get("text_size") == 1.0
    settings.put("text_size", 0.9)
    for _ in range(2):
        QTest.keyClick(window.page, Qt.Key.Key_Minus, Qt.KeyboardModifier.ControlModifier)
    assert settings.get("text_size") == theme.scale() == 0.8


@pytest.mark.parametrize(("stored", "size"), [(99.0, 2.0), (-1.0, 0.8), (float("nan"), 1.0)])
def test_a_size_that_somebody_wrote_into_the_file_is_kept_within_limits(settings, stored, size):
    settings.put("text_size", stored)
    assert wished(settings) == size


def test_what_has_the_focus_is_scrolled_into_view(window):
    window.workspace.settings.put("text_size", 2.0)
    fits.settle(window, SMALL)
    window.activateWindow()
    window.show_and_rules()
    fits.settle(window)
    area = window.findChild(QScrollArea, "pages")
    assert area.verticalScrollBar().maximum() > 100
    seen = []
    for widget in takers(window._flow):
        widget.setFocus(Qt.FocusReason.TabFocusReason)
        QApplication.processEvents()
        middle = widget.mapTo(area.viewport(), widget.rect().center())
        if widget.height() <= area.viewport().height():
            assert area.viewport().rect().contains(middle), fits._name(widget)
            seen.append(area.verticalScrollBar().value())
    assert len(set(seen)) > 1
    window.show_page(LOGBOOK)
    fits.settle(window)
    assert area.verticalScrollBar().value() == area.horizontalScrollBar().value() == 0


# -- by the mouse alone ---------------------------------------------------------------------------
def entries(menu):
    for action in menu.actions():
        if action.menu() is not None:
            yield from entries(action.menu())
        elif not action.isSeparator():
            yield action


def widest(menu):
    yield menu
    for action in menu.actions():
        if action.menu() is not None:
            yield from widest(action.menu())


@pytest.mark.parametrize("page", PAGES)
def test_the_right_button_offers_everything_the_page_can_do(window, page):
    window.show_page(page)
    menu = make_menu(window.page)
    offered = [action.objectName() for action in entries(menu)]
    assert len(offered) == len(set(offered))
    word = actions.PAGES[page]
    wanted = {a.name for a in actions.on_page(word) if a not in actions.WAVE}  # those are gestures
    assert wanted - set(offered) <= {"leave_front"}
    assert {"undo", "redo", "keys"} <= set(offered)
    assert all(m.sizeHint().height() <= SMALL[1] for m in widest(menu))
    menu.deleteLater()


def test_groups_name_actions_that_there_are():
    known = [action.name for action in actions.ALL]
    named = [name for _, names in GROUPS for name in names]
    assert len(named) == len(set(named))
    assert set(named) <= set(known)


def test_a_pose_is_held_longer_by_a_line_of_the_menu(window):
    """Asked for on the lane, which has no menu of its own: the page's is shown there."""
    window.show_page(ROUTINE)
    page, pose = window.page, window.workspace.routine.poses[1]
    page.choreography.editor.select(pose.id)
    where = page.lane.rect().center()
    asked = QContextMenuEvent(QContextMenuEvent.Reason.Mouse, where, page.lane.mapToGlobal(where))
    QApplication.sendEvent(page.lane, asked)
    menu = QApplication.activePopupWidget()
    assert menu is not None
    next(a for a in entries(menu) if a.objectName() == "hold_longer").trigger()
    menu.close()
    longer = window.workspace.routine.placed(pose.id).hold
    window.workspace.undo.undo()
    assert longer.value > pose.hold.value
    assert window.workspace.routine.placed(pose.id).hold == pose.hold


def test_the_stop_key_works_while_the_menu_is_open(window):
    window.show_page(REHEARSE)
    window.activateWindow()
    stopped = []
    window.workspace.stopped.connect(lambda: stopped.append(True))
    menu = make_menu(window.page)
    menu.popup(window.mapToGlobal(window.rect().center()))
    QTest.keyClick(window.windowHandle(), Qt.Key.Key_D)
    menu.close()
    assert len(stopped) == 1


# -- by the keys alone ----------------------------------------------------------------------------
def test_the_focus_can_be_seen_wherever_tab_leads(window):
    """As light and dark, for every eye; a page as a whole has it when nothing in it has."""
    window.activateWindow()
    unseen = []
    for place in itertools.chain(
        (window.show_page(page) or f"page {page + 1}" for page in (MUSIC, REHEARSE)),
        (getattr(window, flow)() or flow for flow in ("take_along", "show_keys")),
    ):
        fits.settle(window)
        for widget in takers(window):
            by_tab = widget.focusPolicy() & Qt.FocusPolicy.TabFocus
            if not (by_tab and widget.isEnabled()) or widget is window.page:
                continue
            QApplication.focusWidget().clearFocus()
            before = luminance(linear(pixels(widget.grab().toImage())))
            widget.setFocus(Qt.FocusReason.TabFocusReason)
            now = luminance(linear(pixels(widget.grab().toImage())))
            same = before.shape == now.shape and np.count_nonzero(np.abs(before - now) > 0.05) < 20
            if same and widget.hasFocus():
                unseen.append(f"{place}: {fits._name(widget)}")
    assert unseen == []


def test_without_animation_no_figure_moves_with_the_music(window):
    window.show_page(ROUTINE)
    page, settings = window.page, window.workspace.settings
    page.choreography.editor.select("")
    spans = page.timings.all
    still = [span.figure for span in spans]
    way = [spans[1].start + part * (spans[1].hit - spans[1].start) for part in (0.3, 0.5, 0.8)]
    for reduced in (True, False):
        settings.put("reduced_motion", reduced)
        shown = []
        for time_ in way:
            page.card.show_time(time_)
            shown.append(page.card.figure.figure in still)
        assert all(shown) == reduced


def test_a_form_that_ends_by_itself_under_its_help_leaves_the_help(window):
    """As when a long job in it is done: closing the help looked for a form that was gone."""
    window.show_page(LOGBOOK)
    window.new_rounds()
    window.show_keys()
    shown = window._stack.currentWidget()
    window._drop_flow()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    assert window._stack.currentWidget() is shown
    window._drop_help()
    assert window.page is not shown
    assert window._head.marked == LOGBOOK
    assert window._stack.currentWidget() is window._pages[LOGBOOK]
