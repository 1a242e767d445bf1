"""Comparison rounds on the Logbook page: table, tension, the plan's first line and its key."""

from dataclasses import replace
from datetime import timedelta

from PySide6.QtCore import Qt

from rehearse.ui.pages.logbook.standings import ROUND_HEADINGS
from tests.practice.test_roundlog import make_round

from ..made import settle
from .conftest import NOW, press


def call(workspace, *days_ago, **changes):
    for days in days_ago:
        workspace.logbook.keep_round(make_round(NOW - timedelta(days=days), **changes))
    settle(workspace)


def show_in(workspace, days):
    date = (NOW + timedelta(days=days)).date().isoformat()
    workspace.edit("date", routine=replace(workspace.routine, show_date=date))


def rows(page):
    model = page.table.rows
    return [
        tuple(model.index(r, c).data() for c in range(model.columnCount()))
        for r in range(model.rowCount())
    ]


def test_the_table_of_rounds_says_tension_last_calls_lost_and_longest(page, opened):
    call(opened, 2, 0)
    page.refresh()
    settle(opened)
    for _ in range(3):
        press(page, Qt.Key.Key_L, Qt.KeyboardModifier.ShiftModifier)
    assert [page.table.rows.headerData(c, Qt.Orientation.Horizontal) for c in range(6)] == [
        *ROUND_HEADINGS
    ]
    assert rows(page) == [
        ("Front double biceps", "10 s", "today", "2", "–", "10 s"),
        ("Side chest left", "10 s", "today", "2", "–", "–"),
        ("Back double biceps", "4 s", "today", "2", "4 s", "–"),
    ]
    assert page.show_line.text() == (
        "24 s under tension today, 48 s in 7 days. Holds: 10 s 0 of 2 clean."
    )
    press(page, Qt.Key.Key_L, Qt.KeyboardModifier.ShiftModifier)
    assert page.table.rows.headerData(1, Qt.Orientation.Horizontal) == "Passes"


def test_rounds_lead_the_plan_as_the_show_comes_near_and_take_their_share(page, opened):
    show_in(opened, 90)
    settle(opened)
    assert page.panel.rounds.isHidden()
    whole = page.panel.plan.seconds
    show_in(opened, 20)
    page.refresh()
    settle(opened)
    box = page.panel.rounds
    assert not box.isHidden()
    assert box.title.text().startswith("Turns, then poses, holds of 10 s")
    assert "20 days to the show: rounds have 40 % of the session." in box.reason.text()
    assert "common practice" not in box.reason.text()
    press(page, Qt.Key.Key_U, Qt.KeyboardModifier.ControlModifier)
    assert "common practice, no source" in box.reason.text()
    assert page.panel.plan.seconds < whole - 300
    assert box.seconds > 300


def test_5_begins_the_round_and_what_was_called_today_is_done(page, opened):
    asked = []
    opened.workAsked.connect(asked.append)
    show_in(opened, 20)
    page.refresh()
    press(page, Qt.Key.Key_5)
    assert [wish.kind for wish in asked] == ["both"]
    call(opened, 0, kind="both")
    page.refresh()
    press(page, Qt.Key.Key_5)
    assert [wish.kind for wish in asked] == ["both", "random"]
    call(opened, 0, kind="random")
    page.refresh()
    press(page, Qt.Key.Key_5)
    assert len(asked) == 2
    assert page.panel.rounds.title.text() == "Rounds: done for today"
