"""Gestures of the pointer over the lane of poses and the sections, with real mouse events."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication

from rehearse.music.position import Count, Length, Seconds
from rehearse.routine import edits
from rehearse.routine.snapping import Snap
from rehearse.ui.pages.routine import lanepaint

from .conftest import hits

LEFT, SHIFT = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def lane(page):
    page.wave.set_range(0.0, 32.0)
    return page.lane


def x(lane, time):
    return lane.scale.x(time)


def bar_y(lane):
    return lanepaint.bar_top(lane.scene) + lanepaint.BAR / 2


def figure_y(lane):
    return lanepaint.bar_top(lane.scene) - 40


def test_a_click_on_a_figure_or_bar_selects(qtbot, lane, workspace):
    qtbot.mouseClick(lane, LEFT, pos=QPoint(round(x(lane, 8.0)), round(figure_y(lane))))
    assert workspace.selected == "aaaaaaaa"
    qtbot.mouseClick(lane, LEFT, pos=QPoint(round(x(lane, 17.0)), round(bar_y(lane))))
    assert workspace.selected == "bbbbbbbb"


def test_shift_and_click_choose_all_between(qtbot, page, lane):
    qtbot.mouseClick(lane, LEFT, pos=QPoint(round(x(lane, 8.0)), round(figure_y(lane))))
    there = QPoint(round(x(lane, 24.0)), round(figure_y(lane)))
    qtbot.mouseClick(lane, LEFT, SHIFT, there)
    assert page.editor.chosen == ("aaaaaaaa", "bbbbbbbb", "cccccccc")


@pytest.mark.parametrize(
    ("grid", "to", "hit"),
    [
        (Snap.COUNTS, 10.13, Count(2, 5)),
        (Snap.HALVES, 10.21, Count(2, 5, 2)),
        (Snap.ACCENTS, 29.0, Count(7, 5)),
        (Snap.NOTHING, 10.13, Seconds(10.13)),
    ],
)
def test_a_drag_hits_on_the_grid(page, lane, workspace, drag, grid, to, hit):
    page.editor.grid = grid
    y = figure_y(lane)
    drag(lane, (x(lane, 8.0), y), (x(lane, to), y))
    placed = workspace.routine.placed("aaaaaaaa")
    got = workspace.beatmap.time_of(placed.hit)
    # A pixel is 25 ms here.
    assert got == pytest.approx(workspace.beatmap.time_of(hit), abs=0.03)
    if grid is not Snap.NOTHING:
        assert placed.hit == hit


def test_a_drag_is_one_step_and_escape_takes_it_back(qtbot, lane, workspace, drag):
    y = figure_y(lane)
    drag(lane, (x(lane, 8.0), y), (x(lane, 11.0), y))
    assert workspace.undo.count() == 1
    drag(lane, (x(lane, 11.0), y), (x(lane, 13.0), y), release=False)
    assert hits(workspace)[0] == "3:3"
    lane.setFocus()
    qtbot.keyClick(lane, Qt.Key.Key_Escape)
    qtbot.mouseRelease(lane, LEFT, pos=QPoint(round(x(lane, 13.0)), round(y)))
    assert hits(workspace)[0] == "2:7"
    workspace.undo.undo()
    assert hits(workspace)[0] == "2:1"


def test_chosen_poses_are_dragged_together(page, lane, workspace, drag, qtbot):
    y = figure_y(lane)
    page.editor.select("aaaaaaaa")
    page.editor.select("bbbbbbbb", extend=True)
    drag(lane, (x(lane, 16.0), y), (x(lane, 17.1), y))
    assert hits(workspace) == ["2:3", "4:3", "6:1"]
    assert workspace.undo.count() == 1
    assert page.editor.chosen == ("aaaaaaaa", "bbbbbbbb")
    qtbot.mouseClick(lane, LEFT, pos=QPoint(round(x(lane, 17.0)), round(y)))
    assert page.editor.chosen == ("bbbbbbbb",)


def test_the_limit_shows_where_music_goes_on_past_it(page, lane, workspace):
    assert lane.scene.limit is None
    workspace.edit("rules", routine=replace(workspace.routine, rules="open-60"))
    page.findings.look()
    # The stage part begins at 0 s and lasts 78 s; 60 s are allowed.
    assert lane.scene.limit == pytest.approx(60.0)


def test_a_press_that_hardly_moves_is_no_drag(lane, workspace, drag):
    y = figure_y(lane)
    drag(lane, (x(lane, 8.0), y), (x(lane, 8.0) + 2, y))
    assert not workspace.undo.canUndo()


def test_the_ends_of_the_bar_change_hold_and_transition(lane, workspace, drag):
    y = bar_y(lane)
    # The hold of 2:1 ends at 10.0 s, its transition begins at 7.0 s.
    drag(lane, (x(lane, 10.0), y), (x(lane, 11.6), y))
    drag(lane, (x(lane, 7.0), y), (x(lane, 5.9), y))
    placed = workspace.routine.placed("aaaaaaaa")
    assert (placed.hit, placed.hold, placed.transition) == (Count(2, 1), Length(7), Length(4))


def test_a_hold_never_ends_before_its_hit(lane, workspace, drag):
    y = bar_y(lane)
    drag(lane, (x(lane, 10.0), y), (x(lane, 5.0), y))
    assert workspace.routine.placed("aaaaaaaa").hold == Length(0)


def test_a_click_on_an_empty_place_puts_the_cursor_there(qtbot, page, lane, workspace):
    qtbot.mouseClick(lane, LEFT, pos=QPoint(round(x(lane, 13.0)), round(figure_y(lane))))
    assert page.editor.cursor == pytest.approx(13.0, abs=0.03)
    assert workspace.selected == ""


def test_double_clicks_ask_for_a_pose(qtbot, page, lane, workspace, write, press):
    there = QPoint(round(x(lane, 13.0)), round(figure_y(lane)))
    qtbot.mouseDClick(lane, LEFT, pos=there)
    write("vacuum")
    press(Qt.Key.Key_Return)
    assert workspace.routine.placed(workspace.selected).hit == Count(3, 3)
    there = QPoint(round(x(lane, 8.0)), round(figure_y(lane)))
    qtbot.mouseDClick(lane, LEFT, pos=there)
    write("victory")
    press(Qt.Key.Key_Return)
    assert workspace.routine.placed("aaaaaaaa").pose == "victory"


def test_the_pointer_shows_what_it_would_catch(qtbot, lane):
    qtbot.mouseMove(lane, QPoint(round(x(lane, 10.0)), round(bar_y(lane))))
    assert lane.cursor().shape() is Qt.CursorShape.SizeHorCursor
    qtbot.mouseMove(lane, QPoint(round(x(lane, 9.0)), round(bar_y(lane))))
    assert lane.cursor().shape() is Qt.CursorShape.OpenHandCursor
    qtbot.mouseMove(lane, QPoint(round(x(lane, 13.0)), round(figure_y(lane))))
    assert lane.cursor().shape() is Qt.CursorShape.ArrowCursor


def wheel(widget, point, steps, modifier=Qt.KeyboardModifier.NoModifier):
    event = QWheelEvent(
        QPointF(point),
        QPointF(widget.mapToGlobal(point)),
        QPoint(),
        QPoint(0, 120 * steps),
        Qt.MouseButton.NoButton,
        modifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(widget, event)


def test_the_wheel_zooms_about_the_pointer_and_scrolls_with_shift(lane, page):
    point = QPoint(round(x(lane, 16.0)), 50)
    wheel(lane, point, 2)
    assert lane.scale.end - lane.scale.start == pytest.approx(32.0 / 1.25**2, rel=0.01)
    assert lane.scale.time(point.x()) == pytest.approx(16.0, abs=0.05)
    start = lane.scale.start
    wheel(lane, point, -1, SHIFT)
    assert lane.scale.start > start
    assert lane.scale == page.wave.scale


def test_sections_are_chosen_dragged_renamed_and_taken_out(
    qtbot, page, lane, workspace, drag, write, press
):
    strip, y = page.strip, 12
    qtbot.mouseClick(strip, LEFT, pos=QPoint(round(x(lane, 6.0)), y))
    assert page.editor.chosen == ("aaaaaaaa",)
    # "Opening" runs from 1:1 to 3:1, 4.0 to 12.0 s.
    drag(strip, (x(lane, 12.0), y), (x(lane, 14.1), y))
    assert workspace.routine.sections[0].end == Count(3, 5)
    qtbot.mouseDClick(strip, LEFT, pos=QPoint(round(x(lane, 6.0)), y))
    write("Start")
    press(Qt.Key.Key_Return)
    assert workspace.routine.sections[0].name == "Start"
    qtbot.mouseClick(strip, LEFT, pos=QPoint(round(x(lane, 6.0)), y))
    strip.setFocus()
    press(Qt.Key.Key_Delete)
    assert workspace.routine.sections == ()
    assert len(workspace.routine.poses) == 3, "its poses stay"


def test_a_stretch_selected_in_the_music_becomes_a_section(
    qtbot, page, lane, workspace, drag, write, press
):
    drag(page.wave, (x(lane, 16.0), 60), (x(lane, 20.0), 60))
    page.editor.select("")
    press(Qt.Key.Key_E)
    write("Middle")
    press(Qt.Key.Key_Return)
    section = next(s for s in workspace.routine.sections if s.name == "Middle")
    assert (section.start, section.end) == (Count(4, 1), Count(5, 1))


def test_of_sections_in_each_other_the_one_on_top_is_chosen(page, workspace, qtbot):
    inner = edits.add_section(
        workspace.routine, workspace.beatmap, "Inner", Count(2, 1), Count(2, 5), "in"
    )
    workspace.edit("section", routine=inner)
    lane = page.lane
    for time, chosen in ((5.0, "dddddddd"), (9.0, "in"), (11.0, "dddddddd")):
        qtbot.mouseClick(page.strip, LEFT, pos=QPoint(round(x(lane, time)), 12))
        assert page.strip.selected == chosen
