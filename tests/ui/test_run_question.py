"""Where did you lose it? asked once after a run, and every way to answer."""

# ruff: noqa: F811 (fixtures of the other file are arguments here)

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from rehearse.music.position import Count
from rehearse.routine.model import StagePart
from rehearse.ui.pages.rehearse.drill_settings import DrillSettings
from rehearse.ui.stage.showing import options_for
from tests.ui.test_rehearse_page import folder, key, page, state  # noqa: F401

from .made import kept


def test_where_it_broke_is_asked_once_and_answered_in_one_way(page, workspace, qtbot):
    routine, beatmap = workspace.routine, workspace.beatmap
    start = beatmap.time_of(Count(3, 1))
    stage = StagePart(start, start + 2.0)
    workspace.edit("shorten", routine=replace(routine, stage=stage))
    page.drill_panel.form.set_drill_settings(replace(DrillSettings(), way="run", count_in=0))
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: page.footer.question.asking, timeout=120_000)
    assert page.footer.question.words == "Where did you lose it?"
    QTest.keyClicks(page.window().focusWidget(), "3")
    QTest.keyClick(page.window().focusWidget(), Qt.Key.Key_Return)
    assert not page.footer.question.asking
    run = kept(workspace)[-1]
    assert run.kind == "run"
    assert run.verdict == "missed"
    assert run.broke_at == pytest.approx(workspace.sheet.cues[2].hit)


@pytest.fixture
def asked(page, workspace, qtbot):
    """A short run is over and it is asked where it broke."""
    start = workspace.beatmap.time_of(Count(3, 1))
    workspace.edit(
        "shorten", routine=replace(workspace.routine, stage=StagePart(start, start + 2.0))
    )
    page.drill_panel.form.set_drill_settings(replace(DrillSettings(), way="run", count_in=0))
    key(page, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: page.footer.question.asking, timeout=120_000)
    page.stage.refresh()
    return page


def last_run(workspace):
    return kept(workspace)[-1]


def test_where_it_broke_is_answered_by_tapping_the_ribbon(asked, workspace, qtbot):
    cue = workspace.sheet.cues[1]
    ribbon = asked.stage._stage.ribbon
    place = QPoint(round(ribbon.x(cue.hit)), round(ribbon.box.y + ribbon.box.height / 2))
    above = QPoint(place.x(), round(ribbon.box.y - 30))
    qtbot.mouseClick(asked.stage, Qt.MouseButton.LeftButton, pos=above)
    assert asked.footer.question.asking  # the stage itself is not the ribbon
    qtbot.mouseClick(asked.stage, Qt.MouseButton.LeftButton, pos=place)
    assert not asked.footer.question.asking
    run = last_run(workspace)
    assert run.verdict == "missed"
    assert run.broke_at == pytest.approx(cue.hit, abs=0.05)
    assert options_for(asked.host.view, asked.stage.base).question == ""
    qtbot.mouseClick(asked.stage, Qt.MouseButton.LeftButton, pos=place + QPoint(40, 0))
    assert last_run(workspace).broke_at == run.broke_at  # asked once


def test_in_full_screen_the_number_is_typed_too(asked, workspace, qtbot):
    asked.setFocus()
    key(asked, Qt.Key.Key_F)
    assert asked.footer.isVisible()
    asked.controller.main_action()
    qtbot.waitUntil(lambda: state(asked) == "music", timeout=120_000)
    assert not asked.footer.isVisible()
    qtbot.waitUntil(lambda: asked.footer.question.asking, timeout=120_000)
    QTest.keyClicks(asked.window().focusWidget(), "2")
    QTest.keyClick(asked.window().focusWidget(), Qt.Key.Key_Return)
    assert last_run(workspace).broke_at == pytest.approx(workspace.sheet.cues[1].hit)
    assert asked.window().isFullScreen()
    assert not asked.footer.isVisible()


def test_a_number_that_no_pose_has_is_asked_again(asked, workspace, qtbot):
    field = asked.window().focusWidget()
    QTest.keyClicks(field, "99")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert asked.footer.question.asking
    last = len(workspace.sheet.cues)
    assert asked.footer.question._words.text() == f"There is no pose 99; the last is {last}."
    field.clear()
    QTest.keyClicks(field, "2")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert last_run(workspace).broke_at == pytest.approx(workspace.sheet.cues[1].hit)


def test_nowhere_is_one_key_and_counts_as_clean(asked, workspace, qtbot):
    QTest.keyClick(asked.window().focusWidget(), Qt.Key.Key_Return)
    assert not asked.footer.question.asking
    run = last_run(workspace)
    assert (run.verdict, run.broke_at) == ("clean", None)


def test_the_clicker_points_back_pose_by_pose(asked, workspace, qtbot):
    key(asked, Qt.Key.Key_PageUp)
    key(asked, Qt.Key.Key_PageUp)
    last = len(workspace.sheet.cues)
    cue = workspace.sheet.cues[last - 2]
    assert f"{last - 1}: {cue.name}" in asked.footer.question.words
    assert asked.stage.base.question == f"Lost at {last - 1}?"
    assert asked.stage.base.pointed == last - 2
    key(asked, Qt.Key.Key_PageDown)
    assert last_run(workspace).broke_at == pytest.approx(cue.hit)


def test_the_question_lapses_when_the_next_run_begins(asked, workspace, qtbot):
    asked.setFocus()
    key(asked, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: not asked.footer.question.asking, timeout=5000)
    assert last_run(workspace).verdict is None
