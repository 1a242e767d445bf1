"""A Logbook page on the demo routine, on a day of our own."""

import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from rehearse.practice.passes import Pass
from rehearse.practice.scope import section_scope, spots_of, taken_in
from rehearse.ui.pages.logbook.page import LogbookPage

from ..made import settle

DEMO = Path(__file__).parents[3] / "demo" / "copper-lights"
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
    settle(opened)
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
    settle(desk)


def press(page, key, modifier=Qt.KeyboardModifier.NoModifier):
    settle(page._desk)
    QTest.keyClick(page.focusWidget() or page, key, modifier)
    settle(page._desk)
