"""Moves made with real keys and the pointer: 120 BPM from 4 s on, a count is 0.5 s."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QPointF, Qt

from rehearse.music.position import Count, Length
from rehearse.routine import edits
from rehearse.routine.model import Move, Place, Side
from rehearse.ui import theme
from rehearse.ui.pages.routine import lanepaint
from rehearse.ui.pages.routine.pose_rows import MOVES, POSE
from tests.ui import fits

K, M = Qt.Key, Qt.KeyboardModifier


def moves(workspace, pose_id="bbbbbbbb"):
    return [(m.move, m.length.value) for m in workspace.routine.placed(pose_id).moves]


def test_a_whole_eight_of_moves_in_at_most_ten_gestures(page, workspace, press, write):
    """One gesture: a key, or a word typed. The eight before 4:1 is filled but for its way in."""
    page.editor.select("bbbbbbbb")
    gestures = 0
    press(K.Key_Comma)
    for word in ("gath 3", "turn l 2", "reach u r 2"):
        write(word)
        last = word.startswith("reach")
        press(K.Key_Return if last else K.Key_Comma)
        gestures += 2
    assert gestures + 1 <= 10
    assert moves(workspace) == [("gather", 3), ("turn", 2), ("reach up", 2)]
    placed = workspace.routine.placed("bbbbbbbb")
    assert placed.transition == Length(8)
    assert [m.side for m in placed.moves] == [None, Side.LEFT, Side.RIGHT]
    for _ in range(3):
        workspace.undo.undo()
    assert moves(workspace) == [], "each move is one step"


def test_a_move_begins_at_the_cursor_and_the_next_where_it_ends(page, workspace, press, write):
    page.editor.select("")
    page.playing.go(workspace.beatmap.time_of(Count(3, 1)))
    press(K.Key_Comma)
    write("small 2")
    press(K.Key_Return)
    assert page.editor.cursor == workspace.beatmap.time_of(Count(3, 3))
    press(K.Key_Comma)
    write("rise 3")
    press(K.Key_Return)
    assert moves(workspace) == [("gather", 2), ("rise", 3)]
    assert page.timings.find("bbbbbbbb").start == workspace.beatmap.time_of(Count(3, 1))


def test_moves_are_recorded_by_a_key_while_the_music_plays(page, workspace, press, clock):
    page.editor.select("")
    press(K.Key_Space)
    for at in (12.04, 13.46, 15.02):  # counts at 12.0, 13.5 and 15.0 s
        clock.source = at
        press(K.Key_B, M.ShiftModifier)
    press(K.Key_Space)
    assert moves(workspace) == [("step", 3), ("step", 3), ("step", 1)]
    # Named afterwards, one by one, without losing their counts.
    page.playing.go(11.0)
    press(K.Key_Down, M.AltModifier)
    press(K.Key_Return)
    page.move_picker.search.setText("circle")
    press(K.Key_Return)
    assert moves(workspace)[0] == ("circle", 3)


def test_again_is_one_key_and_the_same_key_takes_it_out(page, workspace, press):
    page.playing.go(workspace.beatmap.time_of(Count(2, 3)))
    press(K.Key_Period)
    assert workspace.routine.placed("aaaaaaaa").again == (Count(2, 3),)
    press(K.Key_Period)
    assert workspace.routine.placed("aaaaaaaa").again == ()
    page.playing.go(workspace.beatmap.time_of(Count(3, 3)))
    press(K.Key_Period)
    assert "held there" in workspace.errors[-1]


def chosen(page, workspace, *words):
    routine = workspace.routine
    for number, word in enumerate(words):
        routine = edits.add_move(
            routine, workspace.beatmap, "bbbbbbbb", word, counts=2, move_id=f"m{number}"
        )
    workspace.edit("made", routine=routine)
    page.editor.select_move("m0", "bbbbbbbb")


def test_the_keys_of_a_pose_do_the_same_to_a_chosen_move(page, workspace, press):
    chosen(page, workspace, "reach up", "gather")
    press(K.Key_H)
    assert moves(workspace) == [("reach up", 3), ("gather", 2)]
    press(K.Key_H, M.ShiftModifier)
    press(K.Key_X, M.ShiftModifier)
    assert [m[0] for m in moves(workspace)] == ["gather", "reach up"]
    press(K.Key_R)
    assert workspace.routine.placed("bbbbbbbb").moves[1].side is Side.RIGHT
    press(K.Key_Left)  # it begins a count earlier, gather ends there
    assert moves(workspace) == [("gather", 1), ("reach up", 3)]
    press(K.Key_Delete)
    assert moves(workspace) == [("gather", 1)]
    assert page.editor.selected.id == "bbbbbbbb", "the pose is chosen, and still there"


def test_turn_and_place_of_a_pose(page, workspace, press):
    page.editor.select("bbbbbbbb")
    press(K.Key_R, M.ShiftModifier)
    press(K.Key_W, M.ShiftModifier)
    press(K.Key_W, M.ShiftModifier)
    placed = workspace.routine.placed("bbbbbbbb")
    assert (placed.turn, placed.place) == (Side.LEFT, Place.LEFT)
    assert workspace.undo.count() == 3


def test_after_the_last_hold_a_move_is_on_the_way_off(page, workspace, press, write):
    page.editor.select("")
    page.playing.go(workspace.beatmap.time_of(Count(7, 1)))
    press(K.Key_Comma)
    write("walk off left 4")
    press(K.Key_Return)
    (move,) = workspace.routine.exit
    assert (move.move, move.direction, move.length) == ("walk off", "left", Length(4))
    page.editor.select_move(move.id, "")
    press(K.Key_H)
    assert workspace.routine.exit[0].length == Length(5)


def test_an_unknown_word_becomes_a_move_of_ones_own(page, workspace, press, write):
    page.editor.select("bbbbbbbb")
    press(K.Key_Comma)
    write("lantern swing")
    press(K.Key_Return)
    assert [m.name for m in workspace.routine.own_moves] == ["lantern swing"]
    assert moves(workspace) == [("lantern swing", 2)]


def test_moves_can_be_typed_in_the_table(page, workspace):
    row = page.rows.row_of("bbbbbbbb")
    assert page.rows.setData(page.rows.index(row, MOVES), "gather 3, reach up r 2.5", 2)
    assert moves(workspace) == [("gather", 3), ("reach up", 2.5)]
    first = workspace.routine.placed("bbbbbbbb").moves[0].id
    assert page.rows.text(row, MOVES) == "gather 3, reach up right 2.5"
    assert page.rows.setData(page.rows.index(row, MOVES), "gather 4, rise 1", 2)
    assert workspace.routine.placed("bbbbbbbb").moves[0].id == first, "what stays keeps its history"
    assert not page.rows.setData(page.rows.index(row, MOVES), "gathr 4", 2)
    assert "is no move" in workspace.errors[-1]
    assert (
        not page.rows.setData(page.rows.index(row, MOVES), "gather 40", 2)
        or moves(workspace)[0][1] == 4
    )


def test_borders_and_order_are_dragged_in_the_lane(page, workspace, drag):
    chosen(page, workspace, "gather", "rise", "turn")
    page.wave.set_range(10.0, 22.0)
    y = lanepaint.bar_top(page.lane.scene) + theme.px(lanepaint.BAR) / 2
    x = page.lane.scale.x
    first, second, _ = page.timings.find("bbbbbbbb").moves
    steps = workspace.undo.count()
    drag(page.lane, (x(first.end), y), (x(first.end + 0.5), y))
    assert moves(workspace) == [("gather", 3), ("rise", 1), ("turn", 2)]
    assert workspace.undo.count() == steps + 1, "one drag is one step"
    middle = (second.start + second.end) / 2 + 0.25
    drag(page.lane, (x(middle), y), (x(page.timings.find("bbbbbbbb").hit - 0.3), y))
    assert [m[0] for m in moves(workspace)] == ["gather", "turn", "rise"]
    caught = page.lane.move_at(QPointF(x(first.start + 0.5), y))
    assert caught[1].move.move == "gather"


# -- the way off ---------------------------------------------------------------------------------
def leave(workspace, *wanted):
    off = tuple(Move(f"{k:08x}", name, Length(counts)) for k, (name, counts) in enumerate(wanted))
    workspace.edit("exit", routine=replace(workspace.routine, exit=off))
    workspace.undo.clear()


def test_the_way_off_has_a_row_of_its_own_and_is_typed_there(page, workspace, qtbot, press):
    assert page.rows.rowCount() == 3
    leave(workspace, ("bow", 2), ("walk off", 4))
    assert page.rows.rowCount() == 4
    row = [page.rows.text(3, column) for column in range(page.rows.columnCount())]
    # The last hold, four counts from 6:1 on, is over on 6:5.
    assert row[:5] == ["6:5", "way off", "", "", "bow 2, walk off 4"]
    assert page.rows.headerData(3, Qt.Orientation.Vertical) == ""
    index = page.rows.index(3, MOVES)
    assert page.rows.setData(index, "bow 2, walk off left 6", int(Qt.ItemDataRole.EditRole))
    assert [(m.move, m.direction, m.length.value) for m in workspace.routine.exit] == [
        ("bow", "", 2), ("walk off", "left", 6),
    ]  # fmt: skip
    assert workspace.routine.exit[0].id == "00000000"
    assert not page.rows.setData(page.rows.index(3, POSE), "crab", int(Qt.ItemDataRole.EditRole))
    page.rows.setData(index, "walk off 400", int(Qt.ItemDataRole.EditRole))
    assert "past the end of the music" in workspace.errors[-1]
    workspace.undo.undo()
    assert page.rows.text(3, MOVES) == "bow 2, walk off 4"


def test_keys_on_the_row_of_the_way_off_change_its_moves_and_no_pose(page, workspace, qtbot, press):
    leave(workspace, ("bow", 2), ("walk off", 4))
    poses = workspace.routine.poses
    page.editor.select("cccccccc")
    page.table.setFocus()
    press(K.Key_Down)
    assert (page.editor.move, page.editor.chosen) == ("00000000", ())
    assert page.table.currentIndex().row() == 3
    press(K.Key_H)
    assert [m.length.value for m in workspace.routine.exit] == [3, 4]
    press(K.Key_Down, M.AltModifier)
    assert page.editor.move == "00000001"
    assert {i.row() for i in page.table.selectionModel().selectedRows()} == {3}
    press(K.Key_Delete)
    assert [m.move for m in workspace.routine.exit] == ["bow"]
    assert workspace.routine.poses == poses
    qtbot.mouseClick(
        page.table.viewport(), Qt.MouseButton.LeftButton,
        pos=page.table.visualRect(page.rows.index(3, MOVES)).center(),
    )  # fmt: skip
    assert page.editor.move == "00000000"
    page.table.setFocus()
    press(K.Key_Return)
    assert page.below.currentWidget() is page.move_picker


def test_the_last_poses_name_ends_where_the_way_off_begins(page, workspace, qapp):
    """ "victory" and "walk off" were written over each other."""
    leave(workspace, ("walk off", 4))
    page.wave.set_range(0.0, 80.0)
    names = []
    with fits.writing(lambda widget, text, ink, room: names.append((text, ink))):
        page.lane.grab()
    leaves = page.lane.scale.x(page.timings.way_off[0].start)
    hit = page.lane.scale.x(page.timings.all[-1].hit)
    (last,) = {ink.right() for text, ink in names if hit < ink.left() < leaves} or {0.0}
    assert last <= leaves + 1
