"""Poses of one's own: added, changed, taken out, with a photo."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage

from rehearse.routine.model import Facing, Level

from .conftest import names

K = Qt.Key


@pytest.fixture
def take(page, qtbot, at_once):
    """Choose a photo, and wait until it was read."""

    def taken(path):
        page.own.take([path])
        qtbot.waitUntil(lambda: page.own._running is None)

    return taken


def test_an_own_pose_with_a_photo_is_kept_in_the_folder(
    page, workspace, press, write, take, folder, tmp_path, qtbot
):
    photo = QImage(40, 60, QImage.Format.Format_RGB32)
    photo.fill(0xFF336699)
    photo.save(str(tmp_path / "mine.png"))
    press(K.Key_P)
    write("starlight")
    page.picker._own.click()
    assert page.own.name.text() == "starlight"
    take(tmp_path / "mine.png")
    press(K.Key_Return)
    qtbot.waitUntil(lambda: bool(workspace.routine.own_poses))
    assert "starlight" in names(workspace)
    own = workspace.routine.own_poses[0]
    assert (folder / own.picture).is_file()
    assert own.picture.startswith("pictures/")
    take(folder / "routine.yaml")
    assert "isn't a readable image" in workspace.errors[-1]


def add_own_pose(page, press, write, name):
    press(K.Key_P)
    page.picker._own.click()
    write(name)
    press(K.Key_Return)


def test_an_own_pose_is_renamed_and_its_places_stay(page, workspace, press, write):
    add_own_pose(page, press, write, "starlight")
    put = workspace.selected
    press(K.Key_Return)  # another pose instead: the picker, with this one marked
    assert page.picker.change.isVisible()
    press(K.Key_F2)
    assert page.own.name.text() == "starlight"
    write("moonrise")  # the old name is marked: writing replaces it
    page.own.facing.setCurrentText("back")
    page.own.level.setCurrentText("kneeling")
    press(K.Key_Return)
    assert page.below.currentWidget() is page.picker
    assert page.picker.poses.name(page.picker.grid.currentIndex().row()) == "moonrise"
    press(K.Key_Escape)
    placed, (own,) = workspace.routine.placed(put), workspace.routine.own_poses
    assert (placed.pose, own.facing, own.level) == ("moonrise", Facing.BACK, Level.KNEELING)
    assert page.timings.find(put).figure.turn == 180
    assert workspace.undo.undoText() == "change own pose starlight"
    workspace.undo.undo()
    assert workspace.routine.placed(put).pose == "starlight"
    assert page.timings.find(put).figure.turn == 0


def test_the_photo_of_an_own_pose_is_changed_and_dropped(
    page, workspace, press, write, take, folder, tmp_path, qtbot
):
    add_own_pose(page, press, write, "starlight")
    for colour in ("red", "blue"):
        photo = QImage(40, 60, QImage.Format.Format_RGB32)
        photo.fill(colour)
        photo.save(str(tmp_path / f"{colour}.png"))
        press(K.Key_Return)
        page.picker.change.click()
        take(tmp_path / f"{colour}.png")
        page.own.write.click()
        qtbot.waitUntil(lambda: page.below.currentWidget() is page.picker)
        press(K.Key_Escape)
    assert workspace.routine.own_poses[0].picture == "pictures/starlight-2.png"
    assert (folder / "pictures" / "starlight.png").is_file(), "an earlier save may show it"
    press(K.Key_Return)
    press(K.Key_F2)
    assert page.own.photo.text() == "starlight-2.png"
    qtbot.waitUntil(lambda: page.own._running is None)
    shown = page.own.previews[0].pixmap().toImage()
    assert shown.pixelColor(shown.width() // 2, shown.height() - 10).blue() > 250
    page.own.no_photo.click()
    page.own.write.click()
    assert workspace.routine.own_poses[0].picture == ""
    workspace.undo.undo()
    assert workspace.routine.own_poses[0].picture == "pictures/starlight-2.png"


def test_an_own_pose_takes_no_name_that_is_used(page, workspace, press, write):
    add_own_pose(page, press, write, "starlight")
    before = workspace.routine
    press(K.Key_Return)
    press(K.Key_F2)
    write("Side chest left")
    press(K.Key_Return)
    assert "already a pose called Side chest left" in workspace.errors[-1]
    press(K.Key_Escape)
    add_own_pose(page, press, write, "Starlight")
    assert "already an own pose" in workspace.errors[-1]
    assert workspace.routine == before


def test_an_own_pose_is_taken_out_once_the_routine_does_not_show_it(page, workspace, press, write):
    press(K.Key_P)
    page.picker._own.click()
    write("starlight")
    press(K.Key_Return)
    press(K.Key_P)
    press(K.Key_End)
    page.picker._mark(page.picker.poses.row_of("starlight"))
    press(K.Key_Delete)
    assert workspace.errors[-1].startswith("Starlight is still in the routine")
    press(K.Key_Escape)
    press(K.Key_Delete)
    press(K.Key_P)
    page.picker._mark(page.picker.poses.row_of("starlight"))
    press(K.Key_Delete)
    assert workspace.routine.own_poses == ()


def test_enter_adds_it_and_no_gesture_is_made_wherever_the_focus_is(page, workspace, press, write):
    poses = len(workspace.routine.poses)
    press(K.Key_P)
    page.picker._own.setFocus()
    press(K.Key_Y)  # would show the chosen pose once more
    assert len(workspace.routine.poses) == poses
    press(K.Key_Space)
    write("starlight")
    page.own.photo.setFocus()
    press(K.Key_H)
    press(K.Key_Return)
    assert "starlight" in names(workspace)
    assert len(workspace.routine.poses) == poses + 1


def test_form_and_picker_are_left_by_escape_or_their_button(page, workspace, press, write):
    press(K.Key_P)
    page.picker._own.click()
    page.own.photo.setFocus()
    press(K.Key_Escape)
    assert page.below.currentWidget() is not page.own
    press(K.Key_P)
    page.picker._own.setFocus()
    press(K.Key_Escape)
    assert page.below.currentWidget() is page._overview
    press(K.Key_P)
    page.picker._own.click()
    page.own.back.click()
    assert page.below.currentWidget() is not page.own
    assert not workspace.routine.own_poses


def test_an_own_pose_in_hand_that_is_undone_is_in_hand_no_more(page, workspace, press, write):
    first = page.editor.hand.name
    press(K.Key_J)
    page.picker._own.click()
    write("starlight")
    press(K.Key_Return)
    assert page.editor.hand.name == "starlight"
    while workspace.undo.canUndo():
        workspace.undo.undo()
    assert page.editor.hand.name == first
    page.bar.refresh()
