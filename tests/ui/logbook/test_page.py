"""The Logbook page by real keys and clicks: tables, ribbon, calendar, export."""

import csv
import io
import shutil
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QAbstractSpinBox, QWidget

from rehearse.practice.history import Heat
from rehearse.practice.passes import Pass
from rehearse.practice.scope import spots_of, taken_in, whole_scope
from rehearse.ui import theme
from rehearse.ui.pages.logbook.heat_ribbon import bars, blend, paint_ribbon, two_lines
from rehearse.ui.pages.logbook.page import LogbookPage
from rehearse.ui.window import Window

from ..made import settle
from .conftest import DEMO, NOW, practise, press

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


def test_shift_l_shows_sections_transitions_poses_and_rounds_in_turn(page, opened):
    counts = []
    for _ in range(4):
        counts.append(page.table.rows.rowCount())
        press(page, Qt.Key.Key_L, SHIFT)
    poses = len(opened.routine.poses)
    assert counts == [len(opened.routine.sections) + 1, poses, poses, 0]
    assert page.kinds[0].isChecked()


def test_what_was_practised_is_there_when_the_page_is_looked_at(page, opened):
    assert page.show_line.text().startswith("Nothing is logged yet: press Space")
    before = page.panel.plan
    page.hide()
    for k in range(3):
        practise(opened, NOW - timedelta(minutes=k), section=1)
    practise(opened, NOW - timedelta(days=2), section=1, verdict="missed")
    page.show()
    settle(page._workspace)
    row = [page.table.rows.index(2, k).data() for k in range(6)]
    assert row == [opened.routine.sections[1].name, "4", "today", "100 %", "75 %", "–"]
    assert [d.passes for d in page.overview.days] == [1, 3]
    assert page.panel.plan != before
    assert "to the show" in page.show_line.text()


def test_the_ribbon_shows_every_pose_in_its_place(page, opened, qtbot):
    practise(opened, NOW, section=0)
    practise(opened, NOW, section=1)
    practise(opened, NOW, section=1)
    page.refresh()
    settle(page._workspace)
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
    settle(page._workspace)
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
    settle(page._workspace)
    target = tmp_path / "out.csv"
    monkeypatch.setattr(
        "rehearse.ui.file_dialog.save_file",
        lambda *_: str(target.with_suffix("")),
    )
    press(page, Qt.Key.Key_T, CTRL | SHIFT)
    rows = list(csv.DictReader(io.StringIO(target.read_text())))
    assert [r["dry run"] for r in rows] == ["", "dry run"]


def test_the_picture_is_saved_and_holds_something(page, opened, tmp_path, monkeypatch):
    practise(opened, NOW)
    page.refresh()
    settle(page._workspace)
    target = tmp_path / "out.png"
    monkeypatch.setattr(
        "rehearse.ui.file_dialog.save_file",
        lambda *_: str(target),
    )
    press(page, Qt.Key.Key_I, CTRL | SHIFT)
    image = QImage(str(target))
    assert (image.width(), image.height()) == (1920, 1080)
    colours = {image.pixelColor(x, y).name() for x in range(0, 1920, 7) for y in range(0, 1080, 7)}
    assert len(colours) > 10


def test_a_place_that_cannot_be_written_is_one_sentence(page, opened, tmp_path, monkeypatch):
    told = []
    opened.errorRaised.connect(told.append)
    monkeypatch.setattr(
        "rehearse.ui.file_dialog.save_file",
        lambda *_: str(tmp_path / "missing" / "out.csv"),
    )
    press(page, Qt.Key.Key_T, CTRL | SHIFT)
    assert len(told) == 1
    assert told[0].endswith(".")


def test_what_is_missing_is_one_sentence_with_its_key(opened, qtbot):
    page = LogbookPage(opened, today=NOW.date)
    qtbot.addWidget(page)
    page.show()
    settle(page._workspace)
    opened.edit("clear", routine=replace(opened.routine, poses=(), sections=()))
    qtbot.waitUntil(lambda: "press 2" in page._missing.text())
    assert page._missing.isVisible()
    told = []
    opened.errorRaised.connect(told.append)
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
    settle(page._workspace)
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
    QTest.keyClick(window.focusWidget(), Qt.Key.Key_Space)  # before the logbook has answered
    settle(opened)
    assert len(asked) == 1


def test_a_damaged_logbook_is_told_on_opening_and_the_page_works(
    workspace, tmp_path, monkeypatch, qtbot
):
    monkeypatch.setattr(workspace, "decode", lambda: None)
    shutil.copytree(DEMO, tmp_path / "routine", ignore=shutil.ignore_patterns("*.sqlite*"))
    (tmp_path / "routine" / "practice.sqlite").write_bytes(b"not a logbook any more")
    told = []
    workspace.errorRaised.connect(told.append)
    assert workspace.open(tmp_path / "routine")
    settle(workspace)
    assert any("the logbook was damaged" in sentence for sentence in told)
    page = LogbookPage(workspace, today=NOW.date)
    qtbot.addWidget(page)
    page.show()
    settle(page._workspace)
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
