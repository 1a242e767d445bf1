"""The coach's copy: compared, and taken over pose by pose and piece by piece."""

from __future__ import annotations

import shutil
from pathlib import Path

from PySide6.QtCore import Qt

from rehearse.handout.make import make
from rehearse.music.position import Count
from rehearse.routine import edits
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import OwnPose, StagePart
from rehearse.routine.versions import list_versions
from rehearse.routine.zip_import import open_bundle

from .conftest import hits

K = Qt.Key


def test_a_copy_is_compared_and_taken_over_pose_by_pose(page, workspace, press, folder, tmp_path):
    other = tmp_path / "coach"
    shutil.copytree(folder, other)
    theirs = open_folder(other)
    changed = edits.move_to(theirs.routine, theirs.beatmap, "aaaaaaaa", Count(2, 5))
    changed = edits.change(changed, theirs.beatmap, "cccccccc", note="slower")
    save_folder(other, changed, theirs.beatmap)
    page.panels.copy.open(other)
    press(K.Key_V, Qt.KeyboardModifier.ShiftModifier)
    notes = page.panels.copy.list.notes
    assert [n.data.by for n in notes] == ["theirs", "theirs"]
    press(K.Key_Return)
    assert hits(workspace) == ["2:5", "4:1", "6:1"]
    assert len(page.panels.copy.list.notes) == 1
    page.panels.copy.all.click()
    assert workspace.routine.placed("cccccccc").note == "slower"
    assert "nothing there that you do not have" in page.panels.copy.told.text()


def test_title_rules_stage_cut_and_sections_of_a_copy_are_taken_over_too(
    page, workspace, press, folder, tmp_path
):
    other = tmp_path / "coach"
    shutil.copytree(folder, other)
    theirs = open_folder(other)
    changed = edits.describe(theirs.routine, title="Coach's cut", rules="open-60")
    changed = edits.set_stage(changed, theirs.beatmap, StagePart(0.0, 60.0))
    changed = edits.rename_section(changed, "dddddddd", "Rise")
    save_folder(other, changed, theirs.beatmap)
    before = workspace.routine
    page.panels.copy.open(other)
    press(K.Key_V, Qt.KeyboardModifier.ShiftModifier)
    heads = ["Title", "Rule set", "Stage part", "Section Opening"]
    assert [n.head for n in page.panels.copy.list.notes] == heads
    assert page.panels.copy.list.notes[0].text == (
        "Title is now Coach's cut, was Made. Changed there."
    )
    for _ in heads:
        press(K.Key_Return)
    assert workspace.routine == changed
    for _ in heads:
        workspace.undo.undo()
    assert workspace.routine == before
    page.panels.copy.all.click()
    assert workspace.routine == changed
    assert workspace.undo.undoText() == "take over 4 changes of the copy"


def test_an_own_pose_of_mine_still_shown_is_not_taken_out(page, workspace, press, folder, tmp_path):
    workspace.edit("add", routine=edits.add_own(workspace.routine, OwnPose("starlight")))
    assert workspace.save()
    other = tmp_path / "coach"
    shutil.copytree(folder, other)
    theirs = open_folder(other)
    save_folder(other, edits.remove_own(theirs.routine, "starlight"), theirs.beatmap)
    shown = edits.place(workspace.routine, workspace.beatmap, "starlight", Count(8, 1))
    workspace.edit("place", routine=shown)
    page.panels.copy.open(other)
    press(K.Key_V, Qt.KeyboardModifier.ShiftModifier)
    (note,) = page.panels.copy.list.notes
    assert note.head == "Own pose starlight"
    press(K.Key_Return)
    assert "take over the poses first" in workspace.errors[-1]
    assert workspace.routine.own_poses


def test_three_states_are_compared_with_a_conflict_shown_as_one(
    page, workspace, press, folder, tmp_path, qtbot
):
    """A copy by zip, both edited, everything of theirs taken, then the conflict by itself."""
    (made,) = make(folder, "zip", tmp_path).paths
    coach = open_bundle(made, tmp_path)
    theirs = open_folder(coach)
    changed = edits.move_to(theirs.routine, theirs.beatmap, "aaaaaaaa", Count(2, 5))
    changed = edits.change(changed, theirs.beatmap, "cccccccc", note="slower")
    save_folder(coach, changed, theirs.beatmap)
    back = shutil.make_archive(str(tmp_path / "back"), "zip", coach)
    mine = edits.lengthen(workspace.routine, workspace.beatmap, "aaaaaaaa", -1)
    mine = edits.change(mine, workspace.beatmap, "cccccccc", note="breathe")
    workspace.edit("mine", routine=edits.lengthen(mine, workspace.beatmap, "bbbbbbbb", -1))
    assert workspace.save()
    for version in list_versions(folder):  # as after months: only what is kept for good is left
        if not version.name:
            version.path.unlink()
    page.panels.copy.open(Path(back))
    press(K.Key_V, Qt.KeyboardModifier.ShiftModifier)
    qtbot.waitUntil(lambda: bool(page.panels.copy.list.notes), timeout=120_000)
    assert [(n.sign, n.head) for n in page.panels.copy.list.notes] == [
        ("◆", "2:5 front double biceps"),
        ("△", "6:1 back lat spread"),
    ]
    assert page.panels.copy.told.text().endswith(
        "1 change, 1 conflict; what only you changed stays."
    )
    page.panels.copy.all.click()
    assert hits(workspace) == ["2:5", "4:1", "6:1"]
    assert [str(p.hold) for p in workspace.routine.poses] == ["3 counts", "3 counts", "4 counts"]
    assert workspace.routine.placed("cccccccc").note == "breathe"
    (clash,) = page.panels.copy.list.notes
    assert "Conflict: you changed it too" in clash.text
    press(K.Key_Return)
    assert workspace.routine.placed("cccccccc").note == "slower"
    assert page.panels.copy.list.notes == ()


def test_a_zipped_copy_opens_and_a_broken_one_is_one_sentence(
    qtbot, page, workspace, folder, tmp_path
):
    archive = shutil.make_archive(str(tmp_path / "copy"), "zip", folder)
    page.panels.copy.open(tmp_path / archive)
    qtbot.waitUntil(
        lambda: "nothing there that you do not have" in page.panels.copy.told.text(),
        timeout=120_000,
    )
    broken = tmp_path / "broken.zip"
    broken.write_bytes(b"no zip")
    page.panels.copy.open(broken)
    told = "is no zip that can be read"
    qtbot.waitUntil(lambda: any(told in error for error in workspace.errors), timeout=120_000)
