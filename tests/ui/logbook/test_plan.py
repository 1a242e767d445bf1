"""Today's plan by real keys: started, struck, moved, shortened, gone on with."""

from datetime import timedelta

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from rehearse.practice.guided import Guided
from rehearse.practice.running import Running
from rehearse.practice.scope import spots_of
from rehearse.ui.pages.logbook.page import LogbookPage

from ..made import settle
from .conftest import NOW, practise, press


def test_space_starts_the_plan_as_it_stands(page, opened, qtbot):
    with qtbot.waitSignal(opened.workAsked, timeout=1000) as asked:
        press(page, Qt.Key.Key_Space)
    (work,) = asked.args
    assert isinstance(work, Guided)
    first = work.upcoming(())
    assert (first.kind, first.cueing) == ("run", "all")


def test_a_struck_line_is_left_out_and_put_back(page, opened, qtbot):
    press(page, Qt.Key.Key_Down)
    chosen = page.panel.list.chosen
    press(page, Qt.Key.Key_Delete)
    assert page.panel.list.chosen.struck
    assert page.panel.strike.text().startswith("Put back")
    with qtbot.waitSignal(opened.workAsked) as asked:
        press(page, Qt.Key.Key_Space)
    assert chosen.id not in [x.id for x in asked.args[0].plan.lines]
    press(page, Qt.Key.Key_Delete)
    assert not page.panel.list.chosen.struck


def test_a_line_is_moved_by_keys_and_stays_chosen(page):
    press(page, Qt.Key.Key_Down)
    second = page.panel.list.chosen.id
    press(page, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    assert [x.id for x in page.panel.plan.lines].index(second) == 2
    assert page.panel.list.chosen.id == second
    for _ in range(5):
        press(page, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert page.panel.plan.lines[0].id == second


def test_minus_and_plus_change_the_minutes_and_the_plan(page, settings):
    long = len(page.panel.plan.lines)
    for _ in range(4):
        press(page, Qt.Key.Key_Minus)
    assert page.panel.minutes.value() == 10
    assert page.panel.plan.minutes == 10
    assert len(page.panel.plan.lines) < long
    press(page, Qt.Key.Key_Plus)
    assert settings.get("plan_minutes", 30) == 15


def test_space_starts_the_plan_wherever_the_focus_is(page, opened, qtbot):
    page.kinds[1].setFocus(Qt.FocusReason.TabFocusReason)
    with qtbot.waitSignal(opened.workAsked):
        QTest.keyClick(page.kinds[1], Qt.Key.Key_Space)
    assert not page.kinds[1].isChecked()


def test_a_plan_in_hand_stays_until_the_log_changes(page):
    press(page, Qt.Key.Key_Down)
    press(page, Qt.Key.Key_Delete)
    struck = page.panel.plan
    page.hide()
    page.show()
    settle(page._workspace)
    assert page.panel.plan == struck


def test_what_was_struck_stays_struck_in_a_new_plan(page, opened):
    rows = page.panel.list.lines.lines
    line = next(x for x in rows if x.group == "rotate")
    page.panel.list.choose(line.id)
    press(page, Qt.Key.Key_Delete)
    kept = page.panel.plan
    practise(opened, NOW, section=3)
    page.refresh()
    settle(page._workspace)
    assert page.panel.plan == kept
    press(page, Qt.Key.Key_Plus)
    assert page.panel.plan != kept
    again = [x for x in page.panel.plan.lines if x.item == line.item and x.group == "rotate"]
    assert again
    assert all(x.struck for x in again)


def again(page, workspace, qtbot):
    """The page as it is after the program was ended and started again."""
    folder = workspace.folder
    page.hide()
    assert workspace.open(folder)
    other = LogbookPage(workspace, today=NOW.date)
    other.resize(1366, 700)
    qtbot.addWidget(other)
    with qtbot.waitExposed(other):
        other.show()
        settle(page._workspace)
    other.activateWindow()
    other.panel.list.setFocus()
    return other


def test_a_plan_struck_and_moved_is_there_after_a_restart(page, opened, qtbot):
    for _ in range(4):
        press(page, Qt.Key.Key_Minus)
    press(page, Qt.Key.Key_Down)
    press(page, Qt.Key.Key_Delete)
    press(page, Qt.Key.Key_Down)
    press(page, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    press(page, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    changed = page.panel.plan
    opened.settings.put("plan_minutes", 45)  # another routine was open in between
    other = again(page, opened, qtbot)
    assert other.panel.plan == changed
    assert other.panel.minutes.value() == 10
    assert [x.struck for x in other.panel.plan.lines].count(True) == 1


def test_a_session_goes_on_after_a_restart_where_it_was(page, opened, qtbot):
    with qtbot.waitSignal(opened.workAsked) as asked:
        press(page, Qt.Key.Key_Space)
    spots = spots_of(opened.routine, opened.beatmap)
    state, at = Running(asked.args[0], spots), NOW
    for _ in range(4):
        state = state.count_in().music(at)
        at += timedelta(seconds=30)
        state, done = state.ended(at)
        opened.logbook.record(done)
    expected = state.upcoming
    other = again(page, opened, qtbot)
    assert other.panel.start.text() == "Resume the plan   Space"
    assert other.panel.list.lines.states[0] == "✓ done"
    assert "left of" in other.panel.takes.text()
    with qtbot.waitSignal(opened.workAsked) as asked:
        press(other, Qt.Key.Key_Space)
    found = asked.args[0].upcoming(())
    assert (found.line, found.percent, found.number) == (
        expected.line, expected.percent, expected.number,
    )  # fmt: skip


def test_after_the_end_of_a_plan_one_key_starts_another(page, opened, qtbot):
    for _ in range(9):
        press(page, Qt.Key.Key_Minus)
    with qtbot.waitSignal(opened.workAsked) as asked:
        press(page, Qt.Key.Key_Space)
    spots = spots_of(opened.routine, opened.beatmap)
    state, at = Running(asked.args[0], spots), NOW
    while state.upcoming is not None:
        state = state.count_in().music(at)
        at += timedelta(seconds=30)
        state, done = state.ended(at)
        opened.logbook.record(done)
    other = again(page, opened, qtbot)
    assert other.panel.start.text() == "Another plan   Space"
    assert other.panel.takes.text().startswith("done in")
    with qtbot.waitSignal(opened.workAsked) as asked:
        press(other, Qt.Key.Key_Space)
    assert asked.args[0].upcoming(()).kind == "run"
    assert other.panel.start.text() == "Start the plan   Space"
