"""The Logbook page by real keys and clicks: plan, tables, ribbon, calendar, export."""

import csv
import io
import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QAbstractSpinBox, QWidget

from rehearse.practice.guided import Guided
from rehearse.practice.heat import Heat
from rehearse.practice.passes import Pass
from rehearse.practice.running import Running
from rehearse.practice.scope import section_scope, spots_of, taken_in, whole_scope
from rehearse.ui import theme
from rehearse.ui.pages.logbook.page import LogbookPage
from rehearse.ui.pages.logbook.ribbon import bars, blend, paint_ribbon, two_lines
from rehearse.ui.window import Window

DEMO = Path(__file__).parents[2] / "demo" / "copper-lights"
NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)


@pytest.fixture
def opened(desk, tmp_path, monkeypatch):
    """The demo routine on the desk, its song left alone."""
    monkeypatch.setattr(desk, "decode", lambda: None)
    shutil.copytree(DEMO, tmp_path / "routine", ignore=shutil.ignore_patterns("*.sqlite*"))
    assert desk.open(tmp_path / "routine")
    return desk


@pytest.fixture
def page(opened, qtbot):
    page = LogbookPage(opened, today=NOW.date)
    qtbot.addWidget(page)
    page.resize(1366, 700)
    with qtbot.waitExposed(page):
        page.show()
    page.activateWindow()
    page.panel.list.setFocus()
    return page


def practise(desk, at, section=0, verdict="clean", **changes):
    """Log one pass of a section."""
    spots = spots_of(desk.routine, desk.beatmap)
    scope = section_scope(desk.routine, desk.beatmap, desk.routine.sections[section].id)
    done = Pass(
        "drill", scope.start, scope.end, at, at + timedelta(seconds=20), section=scope.item,
        section_name=scope.name, verdict=verdict, taken=taken_in(spots, scope.start, scope.end),
    )  # fmt: skip
    desk.logbook.record(replace(done, **changes))


def press(page, key, modifier=Qt.KeyboardModifier.NoModifier):
    QTest.keyClick(page.focusWidget() or page, key, modifier)


def test_space_starts_the_plan_as_it_stands(page, opened, qtbot):
    with qtbot.waitSignal(opened.workAsked, timeout=1000) as asked:
        press(page, Qt.Key.Key_Space)
    (work,) = asked.args
    assert isinstance(work, Guided)
    first = work.upcoming(())
    assert (first.kind, first.cueing) == ("run", "memory")


def test_a_struck_line_is_left_out_and_put_back(page, opened, qtbot):
    press(page, Qt.Key.Key_Down)
    chosen = page.panel.list.chosen
    press(page, Qt.Key.Key_X)
    assert page.panel.list.chosen.struck
    assert page.panel.strike.text().startswith("Put back")
    with qtbot.waitSignal(opened.workAsked) as asked:
        press(page, Qt.Key.Key_Space)
    assert chosen.id not in [x.id for x in asked.args[0].plan.lines]
    press(page, Qt.Key.Key_X)
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


def test_space_on_a_button_presses_that_button(page, opened, qtbot):
    asked = []
    opened.workAsked.connect(asked.append)
    page.kinds[1].setFocus(Qt.FocusReason.TabFocusReason)
    QTest.keyClick(page.kinds[1], Qt.Key.Key_Space)
    assert page.kinds[1].isChecked()
    assert asked == []


def test_t_shows_sections_transitions_and_poses_in_turn(page, opened):
    counts = []
    for _ in range(3):
        counts.append(page.table.rows.rowCount())
        press(page, Qt.Key.Key_T)
    poses = len(opened.routine.poses)
    assert counts == [len(opened.routine.sections) + 1, poses, poses]
    assert page.kinds[0].isChecked()


def test_what_was_practised_is_there_when_the_page_is_looked_at(page, opened):
    assert page.show_line.text().startswith("Nothing is logged yet: press Space")
    before = page.panel.plan
    page.hide()
    for k in range(3):
        practise(opened, NOW - timedelta(minutes=k), section=1)
    practise(opened, NOW - timedelta(days=2), section=1, verdict="missed")
    page.show()
    row = [page.table.rows.index(2, k).data() for k in range(6)]
    assert row == [opened.routine.sections[1].name, "4", "today", "100 %", "75 %", "–"]
    assert [d.passes for d in page.overview.days] == [1, 3]
    assert page.panel.plan != before
    assert "to the show" in page.show_line.text()


def test_a_plan_in_hand_stays_until_the_log_changes(page):
    press(page, Qt.Key.Key_Down)
    press(page, Qt.Key.Key_X)
    struck = page.panel.plan
    page.hide()
    page.show()
    assert page.panel.plan == struck


def test_what_was_struck_stays_struck_in_a_new_plan(page, opened):
    rows = page.panel.list.lines.lines
    line = next(x for x in rows if x.group == "rotate")
    page.panel.list.choose(line.id)
    press(page, Qt.Key.Key_X)
    kept = page.panel.plan
    practise(opened, NOW, section=3)
    page.refresh()
    assert page.panel.plan == kept
    press(page, Qt.Key.Key_Plus)
    assert page.panel.plan != kept
    again = [x for x in page.panel.plan.lines if x.item == line.item and x.group == "rotate"]
    assert again
    assert all(x.struck for x in again)


def again(page, desk, qtbot):
    """The page as it is after the program was ended and started again."""
    folder = desk.folder
    page.hide()
    assert desk.open(folder)
    other = LogbookPage(desk, today=NOW.date)
    other.resize(1366, 700)
    qtbot.addWidget(other)
    with qtbot.waitExposed(other):
        other.show()
    other.activateWindow()
    other.panel.list.setFocus()
    return other


def test_a_plan_struck_and_moved_is_there_after_a_restart(page, opened, qtbot):
    for _ in range(4):
        press(page, Qt.Key.Key_Minus)
    press(page, Qt.Key.Key_Down)
    press(page, Qt.Key.Key_X)
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
    assert other.panel.start.text() == "Go on with the plan   Space"
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


def test_the_ribbon_shows_every_pose_in_its_place(page, opened, qtbot):
    practise(opened, NOW, section=0)
    practise(opened, NOW, section=1)
    practise(opened, NOW, section=1)
    page.refresh()
    placed = bars(page.overview, QRectF(page.ribbon.rect()))
    assert [h.pose for h, _ in placed] == [p.id for p in opened.routine.poses]
    assert all(a.right() <= b.left() for (_, a), (_, b) in pairwise(placed))
    warm, place = placed[-1]
    assert warm.days_ago is None
    QTest.mouseClick(page.ribbon, Qt.MouseButton.LeftButton, pos=QPoint(
        round(place.center().x()), 40))  # fmt: skip
    assert opened.selected == opened.routine.poses[-1].id
    assert "never" in page.ribbon.accessibleDescription()


def test_warmer_is_taller_and_lighter(page, opened):
    practise(opened, NOW, section=0)
    for _ in range(4):
        practise(opened, NOW, section=2)
    page.refresh()
    placed = bars(page.overview, QRectF(page.ribbon.rect()))
    warm = next(k for k, (heat, _) in enumerate(placed) if heat.warmth == 1.0)
    cool = next(k for k, (heat, _) in enumerate(placed) if 0 < heat.warmth < 0.5)
    image = page.ribbon.grab().toImage()
    tall, low = (_bar(image, placed[k][1], page.ribbon.height()) for k in (warm, cool))
    assert tall[0] > 2 * low[0]
    assert tall[1] > 1.5 * low[1]


def _bar(image, place, height):
    """Rows that a bar fills near its right edge, clear of the numbers, and its lightness."""
    x = round((place.right() - 4) * image.devicePixelRatio())
    ys = (round(y * image.devicePixelRatio()) for y in range(50, height - 76))
    lights = [image.pixelColor(x, y).lightness() for y in ys]
    filled = [light for light in lights if light > 30]
    return len(filled), max(filled)


def test_every_pass_is_saved_as_a_table(page, opened, tmp_path, monkeypatch):
    practise(opened, NOW)
    practise(opened, NOW, dry_run=True)
    page.refresh()
    target = tmp_path / "out.csv"
    monkeypatch.setattr(
        "rehearse.ui.pages.logbook.saving.QFileDialog.getSaveFileName",
        lambda *_: (str(target.with_suffix("")), ""),
    )
    press(page, Qt.Key.Key_C)
    rows = list(csv.DictReader(io.StringIO(target.read_text())))
    assert [r["dry run"] for r in rows] == ["", "dry run"]


def test_the_picture_is_saved_and_holds_something(page, opened, tmp_path, monkeypatch):
    practise(opened, NOW)
    page.refresh()
    target = tmp_path / "out.png"
    monkeypatch.setattr(
        "rehearse.ui.pages.logbook.saving.QFileDialog.getSaveFileName",
        lambda *_: (str(target), ""),
    )
    press(page, Qt.Key.Key_P)
    image = QImage(str(target))
    assert (image.width(), image.height()) == (1920, 1080)
    colours = {image.pixelColor(x, y).name() for x in range(0, 1920, 7) for y in range(0, 1080, 7)}
    assert len(colours) > 10


def test_a_place_that_cannot_be_written_is_one_sentence(page, opened, tmp_path, monkeypatch):
    told = []
    opened.faultRaised.connect(told.append)
    monkeypatch.setattr(
        "rehearse.ui.pages.logbook.saving.QFileDialog.getSaveFileName",
        lambda *_: (str(tmp_path / "missing" / "out.csv"), ""),
    )
    press(page, Qt.Key.Key_C)
    assert len(told) == 1
    assert told[0].endswith(".")


def test_what_is_missing_is_one_sentence_with_its_key(opened, qtbot):
    page = LogbookPage(opened, today=NOW.date)
    qtbot.addWidget(page)
    page.show()
    opened.edit("clear", routine=replace(opened.routine, poses=(), sections=()))
    qtbot.waitUntil(lambda: "press 2" in page._missing.text())
    assert page._missing.isVisible()
    told = []
    opened.faultRaised.connect(told.append)
    QTest.keyClick(page, Qt.Key.Key_Space)
    assert told == [page.missing]
    opened.undo.undo()
    qtbot.waitUntil(lambda: page.overview is not None)
    assert not page._missing.isVisible()


def test_runs_and_the_show_are_in_the_calendar(page, opened):
    whole = whole_scope(opened.routine, opened.beatmap)
    spots = spots_of(opened.routine, opened.beatmap)
    opened.logbook.record(
        Pass("run", whole.start, whole.end, NOW, NOW + timedelta(seconds=75), cueing="memory",
             verdict="clean", taken=taken_in(spots, whole.start, whole.end))
    )  # fmt: skip
    page.refresh()
    assert "1 run, 1 from memory, 1 clean" in page.show_line.text()
    show = datetime.fromisoformat(opened.routine.show_date).date()
    assert f"{(show - NOW.date()).days} days to the show" in page.show_line.text()
    found = None
    for x in range(40, page.weeks.width(), 10):
        for y in range(30, page.weeks.height(), 10):
            found = found or (page.weeks.day_at(x, y) == NOW.date())
    assert found


def test_everything_is_named_and_reached_by_keyboard(page):
    kinds = (QAbstractButton, QAbstractItemView, QAbstractSpinBox)
    controls = [w for kind in kinds for w in page.findChildren(kind) if w.isVisible()]
    named = [w for w in controls if not _is_part(w)]
    assert len(named) > 8
    for widget in named:
        assert widget.accessibleName(), widget
        assert widget.focusPolicy() & Qt.FocusPolicy.TabFocus, widget.accessibleName()
    for widget in (page.ribbon, page.weeks):
        assert widget.accessibleName()
        assert widget.accessibleDescription()
    seen: set[QWidget] = set(page.kinds)  # Tab reaches the checked one, arrows and T the others
    for _ in range(60):
        seen.add(page.focusWidget())
        QTest.keyClick(page.focusWidget(), Qt.Key.Key_Tab)
    assert {w for w in named if w.isEnabled()} - {_proxy(w) for w in seen} == set()


def _is_part(widget):
    """Headers and corners belong to their table."""
    return widget.metaObject().className() in ("QHeaderView", "QTableCornerButton")


def _proxy(widget):
    return widget.parentWidget() if widget.objectName() == "qt_spinbox_lineedit" else widget


def test_words_on_the_calendar_keep_their_contrast():
    # WCAG 2.2 SC 1.4.6: 7:1, on the lightest ground a day can have.
    assert theme.contrast(theme.INK, theme.LINE) >= 7.0
    assert blend(theme.RAISED, theme.LINE, 1.0).name() == theme.LINE


def test_names_break_between_words():
    assert two_lines("front double biceps", 12, len) == ["front double", "biceps"]
    assert two_lines("vacuum", 3, len) == ["vacuum"]


def test_key_four_shows_the_page_and_space_leads_to_rehearse(opened, qtbot):
    window = Window(opened)
    qtbot.addWidget(window)
    with qtbot.waitExposed(window):
        window.show()
    window.activateWindow()
    asked = []
    opened.workAsked.disconnect(window._rehearse)
    opened.workAsked.connect(asked.append)
    QTest.keyClick(window.focusWidget() or window, Qt.Key.Key_4)
    assert isinstance(window.page, LogbookPage)
    QTest.keyClick(window.focusWidget(), Qt.Key.Key_Space)
    assert len(asked) == 1


def test_a_damaged_logbook_is_told_on_opening_and_the_page_works(
    desk, tmp_path, monkeypatch, qtbot
):
    monkeypatch.setattr(desk, "decode", lambda: None)
    shutil.copytree(DEMO, tmp_path / "routine", ignore=shutil.ignore_patterns("*.sqlite*"))
    (tmp_path / "routine" / "practice.sqlite").write_bytes(b"not a logbook any more")
    told = []
    desk.faultRaised.connect(told.append)
    assert desk.open(tmp_path / "routine")
    assert any("the logbook was damaged" in sentence for sentence in told)
    page = LogbookPage(desk, today=NOW.date)
    qtbot.addWidget(page)
    page.show()
    assert page.panel.plan.lines
    assert list((tmp_path / "routine").glob("practice damaged *"))


def test_narrow_bars_of_a_full_routine_carry_no_dots(qapp):
    # 200 poses in 1366 pixels are 7 pixels each: no name is read there, only its ribbon.
    heats = tuple(Heat(f"p{k}", "side chest left", k, k + 1.0, 0.5, 12, 1) for k in range(200))
    overview = SimpleNamespace(start=0.0, end=200.0, sections=(), heat=heats)
    image = QImage(1366, 176, QImage.Format.Format_RGB32)
    image.fill(0)
    painter = QPainter(image)
    paint_ribbon(painter, QRectF(0, 0, 1366, 176), overview)
    painter.end()
    below = image.copy(0, 176 - 66, 1366, 66)
    assert not (np.frombuffer(below.constBits(), np.uint32) & 0xFFFFFF).any()
