"""Several poses at once, pins and accents: by real keys and clicks on the Routine page."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QPixmap, QRegion
from PySide6.QtWidgets import QWidget

from rehearse.music.beatmap import Accent
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine.model import Facing, Level, Placed, Section, StagePart
from rehearse.routine.snapping import Snap
from rehearse.ui.pages.routine import lanepaint
from rehearse.ui.pages.routine.pose_rows import HIT, HOLD, TRANSITION

from .conftest import hits, names
from .test_panels import fill

K, LEFT = Qt.Key, Qt.MouseButton.LeftButton
SHIFT, CTRL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier
NAMES = ("front double biceps", "side chest left", "back lat spread", "crucifix", "vacuum")


@pytest.fixture
def eights(page, workspace):
    """Eight poses on the 1 of eights 2 to 9; the map's accents are on 2:1, 7:5 and 10:1."""
    poses = tuple(
        Placed("abcdefgh"[k], NAMES[k % 5], Count(2 + k, 1), Length(3), Length(2)) for k in range(8)
    )
    workspace.edit("eights", routine=replace(workspace.routine, poses=poses, sections=()))
    workspace.undo.clear()
    return poses


def lit(page) -> list[int]:
    return sorted({index.row() for index in page.table.selectionModel().selectedRows()})


# -- typed lengths -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "field", "text", "value"),
    [
        (HOLD, "hold", "6", Length(6)),
        (HOLD, "hold", "2.5", Length(2.5)),
        (HOLD, "hold", "6 s", Length(6.0, in_counts=False)),
        (TRANSITION, "transition", "3", Length(3)),
    ],
)
def test_a_bare_number_keeps_the_unit_there_was(
    page, workspace, qtbot, press, column, field, text, value
):
    fill(page, qtbot, press, 0, column, text)
    assert getattr(workspace.routine.placed("aaaaaaaa"), field) == value


def test_a_bare_number_stays_seconds_where_seconds_stood(page, workspace, qtbot, press):
    free = replace(workspace.routine.placed("aaaaaaaa"), hit=Seconds(2.0), hold=Length(3.0, False))
    workspace.edit(
        "free", routine=replace(workspace.routine, poses=(free, *workspace.routine.poses[1:]))
    )
    fill(page, qtbot, press, 0, HOLD, "2.2")
    fill(page, qtbot, press, 0, HIT, "2.5")
    placed = workspace.routine.placed("aaaaaaaa")
    assert (placed.hold, placed.hit) == (Length(2.2, False), Seconds(2.5))


def test_a_bare_number_is_no_count_of_a_hit(page, workspace, qtbot, press):
    fill(page, qtbot, press, 0, HIT, "6")
    assert "write 6:1 or 6 s" in workspace.errors[-1]
    assert hits(workspace) == ["2:1", "4:1", "6:1"]


def test_the_old_value_is_not_painted_beside_the_editor(page, qtbot, press):
    page.table.setFocus()
    index = page.rows.index(0, HOLD)
    page.table.setCurrentIndex(index)
    press(K.Key_F2)
    cell = page.table.visualRect(index)
    assert page.focusWidget().geometry() == cell
    written = QPixmap(cell.size())
    flags = QWidget.RenderFlag.DrawWindowBackground  # without the editor over it
    page.table.viewport().render(written, QPoint(), QRegion(cell), flags)
    written = written.toImage()
    background = written.pixelColor(2, 2)
    inked = [
        (x, y)
        for x in range(written.width())
        for y in range(2, written.height() - 4)
        if written.pixelColor(x, y) != background
    ]
    assert inked == []


# -- the selection -----------------------------------------------------------------------------


def test_the_table_lights_every_chosen_pose_and_no_other(page, workspace, press, eights, qtbot):
    page.table.setFocus()
    for step in range(4):
        press(K.Key_Down, SHIFT if step else Qt.KeyboardModifier.NoModifier)
    assert page.editor.chosen == tuple("bcde")
    assert lit(page) == [1, 2, 3, 4]
    press(K.Key_R)
    assert lit(page) == [1, 2, 3, 4]
    table = page.table
    y = [table.rowViewportPosition(row) + 20 for row in range(8)]
    qtbot.mouseClick(table.viewport(), LEFT, pos=QPoint(20, y[1]))
    assert page.editor.chosen == ("b",)
    qtbot.mouseClick(table.viewport(), LEFT, SHIFT, QPoint(20, y[3]))
    assert page.editor.chosen == ("b", "c", "d")
    assert lit(page) == [1, 2, 3]
    press(K.Key_Delete)
    assert [p.id for p in workspace.routine.poses] == list("aefgh")
    assert lit(page) == [1]
    assert page.editor.chosen == ("e",)
    press(K.Key_A, CTRL)
    assert lit(page) == [0, 1, 2, 3, 4]
    press(K.Key_Escape)
    assert (lit(page), page.editor.chosen, workspace.selected) == ([], (), "")


def test_a_click_in_the_lane_lights_its_rows(page, qtbot, eights):
    lane = page.lane
    page.wave.set_range(0.0, 40.0)
    y = round(lanepaint.bar_top(lane.scene) - 40)
    for time, held in ((12.0, Qt.KeyboardModifier.NoModifier), (24.0, SHIFT)):
        qtbot.mouseClick(lane, LEFT, held, QPoint(round(lane.scale.x(time)), y))
    assert page.editor.chosen == tuple("bcde")
    assert lit(page) == [1, 2, 3, 4]


def test_escape_clears_all_that_is_chosen_and_what_was_said(page, workspace, press, drag, eights):
    drag(page.wave, (page.lane.scale.x(10.0), 60), (page.lane.scale.x(14.0), 60))
    assert page.wave.selection is not None
    press(K.Key_H)
    assert workspace.errors[-1].startswith("No pose is chosen")
    press(K.Key_Escape)
    assert page.wave.selection is None
    assert workspace.errors[-1] == ""


def test_turn_level_and_another_pose_act_on_all_that_is_chosen(
    page, workspace, press, write, eights
):
    page.editor.choose("bc")
    press(K.Key_R)
    # Quarter turns go to the athlete's right: from the left side to the back, from there on.
    turned = [workspace.routine.placed(i).facing for i in "bc"]
    assert turned == [Facing.BACK, Facing.RIGHT]
    press(K.Key_L)
    assert [workspace.routine.placed(i).level for i in "bc"] == [Level.LUNGE, Level.LUNGE]
    press(K.Key_Return)
    write("crucifix")
    press(K.Key_Return)
    assert names(workspace)[:4] == [NAMES[0], "crucifix", "crucifix", NAMES[3]]
    assert workspace.undo.count() == 3


def test_swap_and_once_more_act_on_all_that_is_chosen(page, workspace, press, eights):
    page.editor.choose("bc")
    press(K.Key_X, SHIFT)
    assert [p.id for p in workspace.routine.poses] == list("adbcefgh")
    assert page.editor.chosen == ("b", "c")
    workspace.undo.undo()
    page.editor.choose("gh")
    press(K.Key_Y)
    assert [str(p.hit) for p in workspace.routine.poses][-4:] == ["8:1", "9:1", "9:6", "10:6"]
    assert len(page.editor.chosen) == 2
    assert [workspace.routine.placed(i).pose for i in page.editor.chosen] == [NAMES[1], NAMES[2]]
    assert workspace.undo.count() == 1


# -- pins --------------------------------------------------------------------------------------


def test_insert_stops_at_a_pin_says_so_and_goes_the_other_way(
    page, workspace, press, write, eights
):
    page.editor.choose("e")
    press(K.Key_P, SHIFT)
    assert workspace.routine.placed("e").pinned is True
    assert "pinned" in page.rows.data(page.rows.index(4, HIT), Qt.ItemDataRole.AccessibleTextRole)
    page.playing.go(14.0)
    press(K.Key_I)
    write("victory")
    press(K.Key_Return)
    assert hits(workspace) == ["2:1", "3:1", "3:5", "4:5", "5:5", "6:1", "7:1", "8:1", "9:1"]
    said = page.told.text()
    assert page.told.isVisible()
    assert "2 poses moved 4 counts later" in said
    assert "vacuum stays pinned at 6:1" in said
    assert said.endswith("Q: everything moves.")
    press(K.Key_I, SHIFT)
    assert hits(workspace) == ["2:1", "3:1", "3:5", "4:7", "5:7", "6:7", "7:7", "8:7", "9:7"]
    assert "6 poses moved 6 counts later" in page.told.text()
    press(K.Key_I, SHIFT)
    assert hits(workspace)[5] == "6:1"
    assert workspace.undo.count() == 2, "the pin and one insert, whichever way it went"
    workspace.undo.undo()
    assert hits(workspace) == [f"{k}:1" for k in range(2, 10)]
    assert page.told.text() == ""
    press(K.Key_I, SHIFT)
    assert "no other way" in workspace.errors[-1]


def test_on_a_pinned_hit_the_other_way_is_offered_at_once(page, workspace, press, write, eights):
    page.playing.go(8.0)
    press(K.Key_I)
    write("victory")
    press(K.Key_Return)
    assert hits(workspace) == [f"{k}:1" for k in range(2, 10)]
    assert "pinned at 2:1" in page.told.text()
    press(K.Key_I, SHIFT)
    assert hits(workspace)[:3] == ["2:1", "2:7", "3:7"]
    assert workspace.undo.count() == 1


def test_take_out_closes_up_to_the_pin_and_the_other_way(page, workspace, press, eights):
    page.editor.choose("e")
    press(K.Key_P, SHIFT)
    page.editor.choose("b")
    press(K.Key_Delete, SHIFT)
    assert hits(workspace) == ["2:1", "3:1", "4:1", "6:1", "7:1", "8:1", "9:1"]
    assert "2 poses moved 8 counts earlier, vacuum stays pinned at 6:1" in page.told.text()
    press(K.Key_I, SHIFT)
    assert hits(workspace) == ["2:1", "3:1", "4:1", "5:1", "6:1", "7:1", "8:1"]
    workspace.undo.undo()
    page.editor.choose("b")
    press(K.Key_Delete)
    assert page.told.text() == "No other pose moved.   Q: what follows moves up."
    press(K.Key_I, SHIFT)
    assert hits(workspace) == ["2:1", "3:1", "4:1", "6:1", "7:1", "8:1", "9:1"]


def test_what_is_pushed_past_the_end_is_said(page, workspace, press, write, eights):
    last = replace(eights[-1], hit=Count(17, 1))
    late = replace(workspace.routine, poses=(*eights[:-1], last), stage=StagePart(0.0, 72.0))
    workspace.edit("late", routine=late, beatmap=replace(workspace.beatmap, accents=()))
    for many in (0, 1):  # 68.0 s, and 3.0 s later each time
        page.playing.go(14.0)
        press(K.Key_I)
        write("victory")
        press(K.Key_Return)
        page.editor.select("")
        assert f"{6 + many} poses moved 6 counts later" in page.told.text()
        assert page.told.text().count("1 now lies past the end") == many


def test_a_pin_of_an_accent_is_let_go_and_needs_not_be_written(page, workspace, press, eights):
    page.editor.choose("a")
    press(K.Key_P, SHIFT)
    assert workspace.routine.placed("a").pinned is False
    press(K.Key_P, SHIFT)
    assert workspace.routine.placed("a").pinned is None


# -- accents -----------------------------------------------------------------------------------


def test_on_accents_the_arrows_go_from_accent_to_accent(page, workspace, press, eights):
    page.editor.grid = Snap.ACCENTS
    page.editor.choose("h")
    press(K.Key_Left)
    assert workspace.routine.placed("h").hit == Count(7, 5)
    press(K.Key_Right)
    assert workspace.routine.placed("h").hit == Count(10, 1)
    press(K.Key_Right)
    assert workspace.routine.placed("h").hit == Count(10, 1)
    assert (
        "no free accent after crucifix" in workspace.errors[-1].lower()
        or "no free accent" in workspace.errors[-1]
    )
    page.editor.choose("b")
    press(K.Key_Left)  # the one on 2:1 has a pose
    assert workspace.routine.placed("b").hit == Count(3, 1)
    assert "no free accent before" in workspace.errors[-1]


def test_on_accents_the_cursor_goes_from_accent_to_accent(page, workspace, press):
    page.editor.grid = Snap.ACCENTS
    page.playing.go(4.0)
    for there in (8.0, 30.0, 40.0, 40.0):
        press(K.Key_Right)
        assert page.editor.cursor == pytest.approx(there)
    assert workspace.errors[-1].startswith("No accent is after the cursor")


def test_a_puts_what_the_suggestion_puts_and_the_view_follows(page, workspace, press):
    page.wave.set_range(0.0, 20.0)
    page.findings.look()
    offered = next(s for s in page.findings.suggestions if s.poses and s.on_accent)
    press(K.Key_A)
    placed = workspace.routine.placed(workspace.selected)
    assert (placed.hit, placed.hold, placed.transition) == (
        offered.hit, offered.hold, offered.transition,
    )  # fmt: skip
    scale = page.wave.scale
    assert scale.start <= offered.time <= scale.end
    assert page.editor.cursor == pytest.approx(offered.time)


def test_of_two_accents_near_each_other_a_takes_the_one_that_is_suggested(page, workspace, press):
    # Two counts apart, 1.0 s: the weaker one first. The suggestion is the stronger one.
    accents = (Accent(8.0, 0.9), Accent(30.0, 0.6), Accent(31.0, 1.0))
    workspace.edit(
        "accents", beatmap=replace(workspace.beatmap, accents=accents, builds=(), quiets=())
    )
    page.findings.look()
    (offered,) = (s for s in page.findings.suggestions if s.on_accent)
    assert offered.hit == Count(7, 7)
    press(K.Key_A)
    assert workspace.routine.placed(workspace.selected).hit == Count(7, 7)
    press(K.Key_A)
    assert len(workspace.routine.poses) == 4
    assert "No accent with room" in workspace.errors[-1]


def test_all_chosen_poses_on_their_nearest_accents(page, workspace, press, eights):
    press(K.Key_A, CTRL)
    press(K.Key_A, SHIFT)
    # 7:5 lies between 7:1 and 8:1, 10:1 after 9:1: of the rest none has one free to go to.
    assert hits(workspace) == ["2:1", "3:1", "4:1", "5:1", "6:1", "7:5", "8:1", "10:1"]
    assert page.told.text().startswith("2 moved, 3 of 8 chosen poses are on accents; 5 have none")
    assert workspace.undo.count() == 1


# -- phrases -----------------------------------------------------------------------------------


def test_a_selection_is_copied_mirrored_with_its_counts_and_one_undo(
    page, workspace, press, eights
):
    page.editor.choose("abc")
    press(K.Key_C, CTRL)
    assert "Ctrl+V" in page.told.text()
    page.editor.select("")
    page.playing.go(42.0)  # 10:5
    press(K.Key_V, CTRL | SHIFT)
    assert hits(workspace)[-3:] == ["10:5", "11:5", "12:5"]
    assert names(workspace)[-3:] == [NAMES[0], "side chest right", NAMES[2]]
    assert len(page.editor.chosen) == 3
    assert workspace.undo.count() == 1
    workspace.undo.undo()
    assert workspace.routine.poses == eights


def test_where_others_are_hit_the_copy_asks_by_one_key(page, workspace, press, eights):
    page.editor.choose("ab")
    press(K.Key_C, CTRL)
    page.playing.go(24.0)  # 6:1, where one is hit
    press(K.Key_V, CTRL)
    assert workspace.routine.poses == eights
    assert "2 poses are hit there" in page.told.text()
    press(K.Key_I, SHIFT)
    assert names(workspace)[4:6] == [NAMES[0], NAMES[1]]
    assert hits(workspace) == [f"{k}:1" for k in range(2, 10)]
    assert workspace.undo.count() == 1


def test_a_section_is_copied_with_its_poses_and_its_name(page, workspace, press, qtbot, eights):
    part = Section("s1", "Opening", Count(1, 7), Count(4, 5))
    workspace.edit("section", routine=replace(workspace.routine, sections=(part,)))
    page.wave.set_range(0.0, 40.0)
    there = QPoint(round(page.strip.scale.x(10.0)), 12)
    qtbot.mouseClick(page.strip, LEFT, pos=there)
    assert page.editor.chosen == tuple("abc")
    press(K.Key_C, CTRL)
    page.playing.go(44.0)  # 11:1
    press(K.Key_V, CTRL)
    copied = workspace.routine.sections[-1]
    assert (copied.name, copied.start, copied.end) == ("Opening 2", Count(10, 7), Count(13, 5))


def test_nothing_copied_says_what_to_do(page, workspace, press):
    press(K.Key_V, CTRL)
    assert workspace.errors[-1].startswith("Nothing is copied yet")


def test_a_selection_moves_by_an_eight_in_one_key(page, workspace, press, eights):
    page.editor.choose("gh")
    press(K.Key_Right, SHIFT)
    assert hits(workspace)[-2:] == ["9:1", "10:1"]
    press(K.Key_Left, SHIFT)
    assert hits(workspace)[-2:] == ["8:1", "9:1"]
    page.editor.choose("ab")
    for _ in range(3):
        press(K.Key_Left, SHIFT)
    assert "before the music begins" in workspace.errors[-1]
    assert hits(workspace)[:2] == ["0.00 s", "1:1"], "both by the same, or none"


def test_a_copy_is_never_put_on_the_next_pose(page, workspace, press):
    page.editor.select("aaaaaaaa")
    tight = replace(workspace.routine.placed("bbbbbbbb"), hit=Count(2, 7))
    poses = tuple(tight if p.id == "bbbbbbbb" else p for p in workspace.routine.poses)
    workspace.edit("tight", routine=replace(workspace.routine, poses=poses))
    press(K.Key_Y)
    assert hits(workspace) == ["2:1", "2:7", "3:5", "6:7"]
    assert page.told.text().startswith("2 poses moved 6 counts later")


def test_several_dragged_keep_their_distance_at_the_end_of_the_music(page, workspace, drag):
    lane = page.lane
    page.wave.set_range(0.0, 32.0)
    page.editor.choose(("aaaaaaaa", "bbbbbbbb"))
    y = lanepaint.bar_top(lane.scene) - 40
    # 16.0 s dragged to 4.0 s: the other one, at 8.0 s, would be hit before the music.
    drag(lane, (lane.scale.x(16.0), y), (lane.scale.x(4.0), y))
    first, second = (workspace.beatmap.time_of(p.hit) for p in workspace.routine.poses[:2])
    assert second - first == pytest.approx(8.0)
    assert "before the music begins" in workspace.errors[-1]


# -- a phrase turned, and in other counts ------------------------------------------------------
def test_a_phrase_is_turned_by_one_key_and_its_moves_go_along(page, workspace, press, eights):
    """A quarter turn to the right of all that is chosen, in one step; moves are the body's own."""
    page.editor.choose(("b", "c"), "c")
    before = [page.timings.find(i).facing for i in "bc"]
    moves = [workspace.routine.placed(i).moves for i in "bc"]
    press(K.Key_R)
    assert [page.timings.find(i).facing for i in "bc"] == [f.quarter_turned() for f in before]
    assert [workspace.routine.placed(i).moves for i in "bc"] == moves
    workspace.undo.undo()
    assert workspace.routine.poses == eights


def test_a_phrase_is_danced_in_other_counts_by_one_key(page, workspace, press, write, eights):
    page.editor.choose(("b", "c"), "c")
    press(K.Key_T, CTRL)
    assert page.ask.answer.text() == "11"  # eight between the hits and three of the hold
    write("5.5")
    press(K.Key_Return)
    assert hits(workspace)[:4] == ["2:1", "3:1", "3:5", "5:1"]
    assert workspace.undo.undoText() == "2 poses in 5.5 counts"
    workspace.undo.undo()
    assert workspace.routine.poses == eights
    press(K.Key_T, CTRL)
    write("many")
    press(K.Key_Return)
    assert workspace.routine.poses == eights


def test_what_a_gesture_tells_moves_nothing_on_the_page(page, workspace, qapp):
    """Laying the page out anew took a third of the time of an insert."""
    qapp.processEvents()
    before = page.table.geometry(), page.panels.geometry()
    page.editor.say("3 poses moved by 8 counts.")
    qapp.processEvents()
    assert page.told.text() == "3 poses moved by 8 counts."
    assert (page.table.geometry(), page.panels.geometry()) == before
    page.editor.say("")
    page.resize(960, 560)
    qapp.processEvents()
    assert not page.told.isVisible(), "a low window has no line to spare"
