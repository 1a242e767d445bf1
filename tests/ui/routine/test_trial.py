"""A suggestion is seen and heard in its place before it is applied, and applied or not."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt

K, LEFT = Qt.Key, Qt.MouseButton.LeftButton


@pytest.fixture
def marked(page, workspace, press, qapp):
    """The list of suggestions has the keys; what it suggests first."""
    page.findings.look()
    page.actions_by_name["suggestions"].trigger()
    qapp.processEvents()
    suggestions = page.panels.suggestions
    assert suggestions.hasFocus()
    return suggestions.note.data


def painted(page):
    return page.lane.grab().toImage()


def test_the_right_arrow_shows_and_plays_a_suggestion_and_changes_nothing(
    page, workspace, press, clock, marked
):
    before, plain, steps = workspace.routine, painted(page), workspace.undo.count()
    press(K.Key_Right)
    assert page.trial.on
    assert (workspace.routine, workspace.undo.count()) == (before, steps)
    shown = [span for span in page.timings.all if span.placed not in before.poses]
    assert len(shown) == 1
    assert shown[0].hit == pytest.approx(marked.time, abs=0.01)
    _, at = clock.segments[-1]
    assert at == pytest.approx(max(0.0, shown[0].start - 2.0), abs=0.02)
    assert painted(page) != plain
    # On its hit the figure stands in the pose that is tried.
    clock.source = shown[0].hit + 0.05
    page.playing._tick()
    assert page.card.figure.figure == shown[0].figure
    # A second after its hold the music stops, and the routine is shown as it is.
    clock.source = shown[0].end + 1.1
    page.playing._tick()
    assert not page.trial.on
    assert not page.playing.on
    assert [span.placed for span in page.timings.all] == list(before.poses)


def test_it_is_applied_by_enter_or_left_by_escape_or_a_click(
    page, workspace, press, clock, marked, qtbot
):
    before = workspace.routine
    for leave in (
        lambda: press(K.Key_Escape),
        lambda: press(K.Key_Down),
        lambda: qtbot.mouseClick(page.lane, LEFT, pos=QPoint(30, 5)),
    ):
        page.panels.suggestions.setFocus()
        press(K.Key_Right)
        assert page.trial.on
        leave()
        assert not page.trial.on
        assert [span.placed for span in page.timings.all] == list(before.poses)
        assert workspace.routine == before
    page.panels.suggestions.setFocus()
    press(K.Key_Right)
    tried = [s for s in page.timings.all if s.placed not in before.poses]
    press(K.Key_Return)
    assert not page.trial.on
    new = [p for p in workspace.routine.poses if p not in before.poses]
    assert [(p.pose, p.hit) for p in new] == [(s.placed.pose, s.placed.hit) for s in tried]
    workspace.undo.undo()
    assert workspace.routine == before
