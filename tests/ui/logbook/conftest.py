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
def opened(workspace, tmp_path, monkeypatch):
    """The demo routine on the workspace, its song left alone."""
    monkeypatch.setattr(workspace, "decode", lambda: None)
    shutil.copytree(DEMO, tmp_path / "routine", ignore=shutil.ignore_patterns("*.sqlite*"))
    assert workspace.open(tmp_path / "routine")
    return workspace


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


def practise(workspace, at, section=0, verdict="clean", **changes):
    """Log one pass of a section."""
    spots = spots_of(workspace.routine, workspace.beatmap)
    scope = section_scope(
        workspace.routine, workspace.beatmap, workspace.routine.sections[section].id
    )
    done = Pass(
        "drill", scope.start, scope.end, at, at + timedelta(seconds=20), section=scope.item,
        section_name=scope.name, verdict=verdict, taken=taken_in(spots, scope.start, scope.end),
    )  # fmt: skip
    workspace.logbook.record(replace(done, **changes))
    settle(workspace)


def press(page, key, modifier=Qt.KeyboardModifier.NoModifier):
    settle(page._workspace)
    QTest.keyClick(page.focusWidget() or page, key, modifier)
    settle(page._workspace)
