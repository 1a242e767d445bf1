"""Every gesture by its key, with real key events."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from rehearse import words
from rehearse.music.position import Count, Length
from rehearse.routine.model import Facing, Level, StagePart
from rehearse.routine.snapping import Snap
from rehearse.ui.key_list import key_rows

from .conftest import hits, names

K, SHIFT = Qt.Key, Qt.KeyboardModifier.ShiftModifier


def by_id(workspace, pose_id):
    return workspace.routine.placed(pose_id)


def test_p_puts_a_pose_at_the_cursor_by_any_of_its_names(page, workspace, press, write):
    page.playing.go(20.2)
    press(K.Key_P)
    write("abs")
    press(K.Key_Return)
    # 20.2 s is nearest to 20.0 s: 16 s after the first count is 32 counts, eight 5 count 1.
    placed = workspace.routine.placed(workspace.selected)
    assert (placed.pose, placed.hit) == ("abdominals and thighs", Count(5, 1))
    assert workspace.undo.undoText() == "put abdominals and thighs at 5:1"


def test_the_arrows_choose_in_the_picker_and_escape_leaves_it(page, workspace, press):
    before = workspace.routine
    press(K.Key_P)
    press(K.Key_Right)
    first = page.picker.poses.name(page.picker.grid.currentIndex().row())
    press(K.Key_Escape)
    assert workspace.routine == before
    assert first == "front lat spread"
    assert page.focusWidget() is page


def test_b_puts_the_pose_in_hand_on_the_beat_that_was_tapped(page, workspace, press, clock):
    press(K.Key_Space)
    for tap in (12.04, 13.97, 16.48):
        clock.source = tap
        press(K.Key_B)
    press(K.Key_Space)
    # Counts at 12.0, 14.0 and 16.5 s: eights of 4 s from 4.0 s on.
    assert [h for h in hits(workspace) if h in ("3:1", "3:5", "4:2")] == ["3:1", "3:5", "4:2"]
    assert len(set(names(workspace))) == 6, "a pose not yet shown comes to hand after each tap"


def test_a_puts_the_pose_in_hand_on_the_next_accent_without_a_pose(page, workspace, press):
    press(K.Key_A)
    # The accent at 8.0 s has a pose; the next is at 30.0 s, eight 7 count 5.
    assert workspace.routine.placed(workspace.selected).hit == Count(7, 5)


def test_a_leaves_accents_after_the_end_of_the_stage_part_alone(page, workspace, press):
    stage = StagePart(0.0, 35.0)
    workspace.edit("trim", routine=replace(workspace.routine, stage=stage))
    for _ in range(2):
        press(K.Key_A)
    # The accents lie at 8, 30 and 40 s; the last one is not heard on stage.
    assert len(workspace.routine.poses) == 4
    assert "No accent with room for a pose is left" in workspace.errors[-1]


def test_i_inserts_and_shifts_what_follows(page, workspace, press, write):
    page.playing.go(16.0)
    press(K.Key_I)
    write("vacuum")
    press(K.Key_Return)
    # Four counts of hold and two of transition push what was at 4:1 and later by six counts.
    assert list(zip(names(workspace), hits(workspace), strict=True)) == [
        ("front double biceps", "2:1"),
        ("vacuum", "4:1"),
        ("side chest left", "4:7"),
        ("back lat spread", "6:7"),
    ]


def test_return_shows_another_pose_in_its_place(page, workspace, press, write):
    press(K.Key_Down)
    press(K.Key_Return)
    write("crucifix")
    press(K.Key_Return)
    assert names(workspace)[0] == "crucifix"
    assert hits(workspace) == ["2:1", "4:1", "6:1"]


@pytest.mark.parametrize(
    ("grid", "hit"),
    [
        (Snap.COUNTS, Count(2, 2)),
        (Snap.HALVES, Count(2, 1, 2)),
        (Snap.QUARTERS, Count(2, 1, 1)),
    ],
)
def test_right_hits_later_by_the_grid(page, workspace, press, grid, hit):
    page.editor.grid = grid
    press(K.Key_Down)
    press(K.Key_Right)
    assert by_id(workspace, "aaaaaaaa").hit == hit
    press(K.Key_Left)
    assert by_id(workspace, "aaaaaaaa").hit == Count(2, 1)


def test_without_a_pose_the_arrows_move_the_cursor_by_counts(page, press):
    page.playing.go(4.0)
    press(K.Key_Right)
    assert page.editor.cursor == pytest.approx(4.5)
    press(K.Key_Left)
    assert page.editor.cursor == pytest.approx(4.0)


def test_h_and_t_change_hold_and_transition(page, workspace, press):
    press(K.Key_Down)
    press(K.Key_H)
    press(K.Key_T)
    placed = by_id(workspace, "aaaaaaaa")
    assert (placed.hold, placed.transition) == (Length(5), Length(3))
    press(K.Key_H, SHIFT)
    press(K.Key_H, SHIFT)
    press(K.Key_T, SHIFT)
    placed = by_id(workspace, "aaaaaaaa")
    assert (placed.hold, placed.transition) == (Length(3), Length(2))


def test_x_swaps_with_the_next(page, workspace, press):
    press(K.Key_Down)
    press(K.Key_X, SHIFT)
    assert names(workspace) == ["side chest left", "front double biceps", "back lat spread"]
    assert hits(workspace) == ["2:1", "4:1", "6:1"]


def test_d_shows_it_once_more(page, workspace, press):
    press(K.Key_Down)
    press(K.Key_Y)
    # Held until 2:5, two counts of transition: hit again at 2:7.
    assert hits(workspace) == ["2:1", "2:7", "4:1", "6:1"]
    assert names(workspace)[:2] == ["front double biceps"] * 2


def test_delete_takes_out_and_with_shift_closes_up(page, workspace, press):
    press(K.Key_Down)
    press(K.Key_Delete)
    assert hits(workspace) == ["4:1", "6:1"]
    assert workspace.selected == "bbbbbbbb"
    press(K.Key_Delete, SHIFT)
    assert list(zip(names(workspace), hits(workspace), strict=True)) == [("back lat spread", "4:1")]


def test_f_and_l_turn_and_lower(page, workspace, press):
    press(K.Key_Down)
    press(K.Key_R)
    press(K.Key_L)
    placed = by_id(workspace, "aaaaaaaa")
    assert (placed.facing, placed.level) == (Facing.LEFT, Level.LUNGE)
    for _ in range(3):
        press(K.Key_R)
    # Four quarter turns to the right return to the front (NGA By-Laws, pp. 39-41).
    assert by_id(workspace, "aaaaaaaa").facing is None


def test_n_writes_a_note(page, workspace, press, write):
    press(K.Key_Down)
    press(K.Key_N)
    write("chin up")
    press(K.Key_Return)
    assert by_id(workspace, "aaaaaaaa").note == "chin up"
    assert page.focusWidget() is not page.card.note


def test_letters_in_a_text_are_no_gestures(page, workspace, press, write):
    press(K.Key_Down)
    press(K.Key_N)
    write("hold bdx")
    press(K.Key_Escape)
    assert workspace.routine.poses == by_pose(workspace)
    assert not workspace.undo.canUndo()


def by_pose(workspace):
    from .conftest import make_routine

    return make_routine().poses


def test_e_makes_a_section_of_the_chosen_poses(page, workspace, press, write):
    press(K.Key_Down)
    press(K.Key_Down)
    press(K.Key_Down, SHIFT)
    assert page.editor.chosen == ("bbbbbbbb", "cccccccc")
    press(K.Key_E)
    write("Ending")
    press(K.Key_Return)
    section = workspace.routine.sections[-1]
    # From the transition to 4:1 (two counts before) to the end of the hold of 6:1.
    assert (section.name, section.start, section.end) == ("Ending", Count(3, 7), Count(6, 5))


def test_several_chosen_poses_move_together(page, workspace, press):
    press(K.Key_Down)
    press(K.Key_Down, SHIFT)
    press(K.Key_Right)
    assert hits(workspace) == ["2:2", "4:2", "6:1"]
    assert workspace.undo.count() == 1


def test_g_steps_through_the_grids(page, press):
    seen = []
    for _ in range(5):
        press(K.Key_G)
        seen.append(page.editor.grid)
    assert set(seen) == set(Snap)
    assert page.editor.grid is Snap.COUNTS


def test_m_only_changes_the_view(page, workspace, press):
    before = page.lane.grab().toImage()
    press(K.Key_M, SHIFT | Qt.KeyboardModifier.ControlModifier)
    assert page.lane.scene.mirrored
    assert page.lane.grab().toImage() != before
    assert not workspace.undo.canUndo()
    press(K.Key_M, SHIFT | Qt.KeyboardModifier.ControlModifier)
    assert page.lane.grab().toImage() == before


def test_every_step_can_be_undone_and_redone(page, workspace, press, write):
    before = workspace.routine
    page.playing.go(12.0)
    press(K.Key_B)
    press(K.Key_H)
    press(K.Key_X, SHIFT)
    press(K.Key_Y)
    press(K.Key_Delete)
    after = workspace.routine
    steps = workspace.undo.count()
    assert steps == 5
    for _ in range(steps):
        workspace.undo.undo()
    assert workspace.routine == before
    for _ in range(steps):
        workspace.undo.redo()
    assert workspace.routine == after


def test_a_gesture_without_a_pose_says_what_to_do(page, workspace, press):
    press(K.Key_H)
    assert workspace.errors[-1] == "No pose is chosen – choose one with the up and down keys."


def test_every_gesture_has_its_words_in_the_key_list(page, press):
    press(K.Key_Question)
    table = page.panels.stack.currentWidget().widget()
    shown = {label.text() for label in table.findChildren(QLabel)}
    for keys, told in key_rows("Routine"):
        assert keys in shown
        assert told in shown


def test_no_second_pose_is_put_where_one_is_hit(page, workspace, press, clock):
    press(K.Key_Space)
    clock.source = 12.04
    for _ in range(3):
        press(K.Key_B)
    press(K.Key_Space)
    assert len(names(workspace)) == 4
    assert "is hit at 3:1 – press Enter for another pose" in workspace.errors[-1]


def test_a_proposed_name_is_stored_as_such_and_read_in_the_windows_language(
    page, workspace, press, write, monkeypatch
):
    """It was stored in the language of the day, and stayed in it."""
    german = words.TextCatalogue(words.folder() / "de.po").messages
    monkeypatch.setattr(words, "_messages", german)
    press(K.Key_A, Qt.KeyboardModifier.ControlModifier)
    press(K.Key_E)
    number = len(workspace.routine.sections) + 1
    assert page.ask.answer.text() == f"Teil {number}"
    press(K.Key_Return)
    section = workspace.routine.sections[-1]
    assert section.name == f"Part {number}"
    page.strip.renameWanted.emit(section.id)
    assert page.ask.answer.text() == f"Teil {number}"
    press(K.Key_Return)
    assert workspace.routine.section(section.id).name == f"Part {number}"
    page.strip.renameWanted.emit(section.id)
    page.ask.answer.selectAll()
    write("Finale")
    press(K.Key_Return)
    assert workspace.routine.section(section.id).name == "Finale"
    assert words.section_text("Part 3 mirrored") == "Teil 3 gespiegelt"
    assert words.section_text("Part of mine") == "Part of mine"


def test_steps_name_poses_in_the_windows_language(page, workspace, monkeypatch):
    """A pose that was put in, or a move, was named in English."""
    german = words.TextCatalogue(words.folder() / "de.po").messages
    monkeypatch.setattr(words, "_messages", german)
    page.choreography.put("front lat spread", 30.0)
    assert german["name\x04front lat spread"][0] in workspace.undo.undoText()
    page.editor.cursor = 45.0
    page.choreography.insert("side chest right")
    assert german["name\x04side chest right"][0] in workspace.undo.undoText()
