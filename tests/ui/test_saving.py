"""Saving: never over another's work, never a folder made anew, nothing lost that was typed."""

import os
import shutil
import subprocess
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt

from rehearse.files.hold import Hold
from rehearse.files.yamlfile import load_yaml
from rehearse.practice.logbook import Logbook
from rehearse.routine.folder import open_folder, read_save, save_routine
from rehearse.routine.unsaved import list_unsaved
from rehearse.routine.versions import list_versions
from rehearse.ui.saving import autosave as saving_module
from rehearse.ui.saving import sharing
from rehearse.ui.settings import Settings
from rehearse.ui.window import Window
from rehearse.ui.workspace import Workspace

from .made import DEMO


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "stick").mkdir()
    return shutil.copytree(DEMO, tmp_path / "stick" / "copper-lights")


@pytest.fixture(autouse=True)
def no_song(monkeypatch):
    monkeypatch.setattr(Workspace, "decode", lambda self: None)


@pytest.fixture
def make_workspace(qapp, tmp_path):
    workspaces = []

    def make():
        workspace = Workspace(Settings(tmp_path / f"settings{len(workspaces)}.ini"))
        workspaces.append(workspace)
        workspace.said = []
        workspace.standing.changed.connect(workspace.said.append)
        return workspace

    yield make
    for workspace in workspaces:
        workspace.close()


@pytest.fixture
def workspace(make_workspace, folder):
    workspace = make_workspace()
    assert workspace.open(folder)
    workspace.said.clear()
    return workspace


def title(workspace, words):
    workspace.edit("name it", routine=replace(workspace.routine, title=words))


def title_on_disk(folder):
    return open_folder(folder).routine.title


def write_outside(folder, words):
    """Another program writes: it neither asks nor keeps what was there."""
    opened = open_folder(folder)
    there = folder.parent / "elsewhere"
    there.mkdir()
    (there / "beats.yaml").write_bytes((folder / "beats.yaml").read_bytes())
    save_routine(there, replace(opened.routine, title=words), opened.beatmap)
    (folder / "routine.yaml").write_bytes((there / "routine.yaml").read_bytes())
    shutil.rmtree(there)


def titles_kept(folder):
    beatmap = open_folder(folder).beatmap
    read = [read_save(load_yaml(v.path), folder, beatmap)[0] for v in list_versions(folder)]
    return [routine.title for routine in read]


def asked(workspace):
    return workspace.questions.current.sentence if workspace.questions.current else ""


def not_saved(workspace):
    return [sentence for sentence in workspace.said if sentence.startswith("Not saved: ")]


def answer(workspace, letter):
    question = workspace.questions.current
    workspace.questions.answer(next(a for a in question.answers if a.letter == letter))


# Two windows


def test_a_second_window_looks_only_until_it_takes_over(workspace, make_workspace, folder, qtbot):
    second = make_workspace()
    assert second.open(folder)
    assert "open in another window" in asked(second)
    title(second, "Mine")
    assert second.routine.title == "Copper Lights"
    assert "open in another window" in second.said[-1]
    title(workspace, "Not saved yet")
    answer(second, "T")
    qtbot.waitUntil(lambda: not second.saving.look_only, timeout=5000)
    assert second.routine.title == "Not saved yet"  # the first one saved before it gave way
    title(second, "Mine")
    assert second.save()
    assert title_on_disk(folder) == "Mine"
    assert workspace.saving.look_only
    title(workspace, "Over it?")
    assert workspace.save()
    assert title_on_disk(folder) == "Mine"
    workspace.saving.look()
    assert workspace.routine.title == "Mine"  # it goes on showing what the other one writes


def test_a_window_that_hangs_is_taken_from_by_force(make_workspace, folder, qtbot, monkeypatch):
    monkeypatch.setattr(sharing, "_TRIES", 3)
    hanging = Hold(folder)
    assert hanging.take()
    second = make_workspace()
    assert second.open(folder)
    assert second.saving.look_only
    answer(second, "T")
    qtbot.waitUntil(lambda: not second.saving.look_only, timeout=120_000)
    assert not hanging.held
    hanging.release()
    assert second.saving.sharing.may_write()


def test_what_the_one_taken_from_had_not_saved_is_offered_there(workspace, make_workspace, folder):
    title(workspace, "Typed while it hung")
    other = Hold(folder)
    assert other.take(by_force=True)
    assert workspace.save() is False
    assert title_on_disk(folder) == "Copper Lights"
    other.release()
    third = make_workspace()
    assert third.open(folder)
    answer(third, "A")
    assert title_on_disk(folder) == "Typed while it hung"
    assert list_unsaved() == ()


def test_a_window_that_is_closed_or_killed_holds_nothing(
    workspace, make_workspace, folder, state_of_nobody
):
    workspace.close()
    assert list((state_of_nobody / "open").iterdir()) == []
    code = (
        "import os,sys;from pathlib import Path;from rehearse.files.hold import Hold;"
        "h=Hold(Path(sys.argv[1]));assert h.take();os.kill(os.getpid(),9)"
    )
    subprocess.run([os.sys.executable, "-c", code, str(folder)], check=False)
    second = make_workspace()
    assert second.open(folder)
    assert not second.saving.look_only


# Another program


def test_what_another_program_wrote_is_shown_and_can_be_undone(workspace, folder):
    write_outside(folder, "From outside")
    workspace.saving.look()
    assert workspace.routine.title == "From outside"
    assert "Another program has changed" in workspace.said[-1]
    workspace.undo.undo()
    assert workspace.save()
    assert title_on_disk(folder) == "Copper Lights"
    assert "From outside" in titles_kept(folder)


def test_nothing_is_saved_over_what_another_program_wrote(workspace, folder):
    title(workspace, "Mine")
    write_outside(folder, "Theirs")
    assert not workspace.save()
    assert title_on_disk(folder) == "Theirs"
    assert "Which state do you keep?" in asked(workspace)
    assert not workspace.save(), "until it is answered nothing is written"
    answer(workspace, "M")
    assert title_on_disk(folder) == workspace.routine.title == "Mine"
    assert "Theirs" in titles_kept(folder)
    assert workspace.saving.saved
    assert list_unsaved() == ()


def test_the_other_state_can_go_on_and_mine_is_kept(workspace, folder):
    title(workspace, "Mine")
    write_outside(folder, "Theirs")
    workspace.saving.look()
    answer(workspace, "O")
    assert title_on_disk(folder) == workspace.routine.title == "Theirs"
    assert "Mine" in titles_kept(folder)
    assert workspace.saving.saved
    workspace.undo.undo()
    assert workspace.routine.title == "Mine"


def test_a_conflict_left_open_is_offered_at_the_next_start(workspace, make_workspace, folder):
    title(workspace, "Mine")
    write_outside(folder, "Theirs")
    assert not workspace.save()
    workspace.close()
    again = make_workspace()
    assert again.open(folder)
    assert again.routine.title == "Theirs"
    answer(again, "A")
    assert title_on_disk(folder) == "Mine"
    assert "Theirs" in titles_kept(folder)


# The stick


def test_a_stick_pulled_out_loses_nothing_and_is_not_made_anew(
    workspace, folder, qtbot, monkeypatch
):
    monkeypatch.setattr(saving_module, "SAVE_AFTER", 50)
    monkeypatch.setattr(saving_module, "RETRY_AFTER", 100)
    away = folder.parent.with_name("drawer")
    folder.parent.rename(away)
    title(workspace, "Typed without the stick")
    qtbot.waitUntil(lambda: bool(not_saved(workspace)))
    assert "not there any more" in not_saved(workspace)[0]
    assert "kept on this machine" in not_saved(workspace)[0]
    assert not workspace.saving.saved
    assert not folder.parent.exists()
    qtbot.wait(300)
    assert len(not_saved(workspace)) == 1, "it is said once"
    assert [state.title for state in list_unsaved()] == ["Typed without the stick"]
    # Plugged in again it is another drive to the system: files of other numbers.
    shutil.copytree(away, folder.parent)
    qtbot.waitUntil(lambda: workspace.saving.saved, timeout=3000)
    assert title_on_disk(folder) == "Typed without the stick"
    assert "Not saved" not in workspace.standing.text, "it goes with its cause"
    assert list_unsaved() == ()


def test_the_empty_place_where_a_stick_was_is_left_empty(workspace, folder):
    # The routine was the stick's own top folder: its mount point stays behind.
    folder.rename(folder.with_name("gone"))
    os.rename(folder.with_name("gone"), folder.parent.with_name("gone"))
    folder.mkdir()
    title(workspace, "Typed without the stick")
    assert not workspace.save()
    assert list(folder.iterdir()) == []


def test_a_renamed_folder_is_followed(workspace, folder):
    new = folder.with_name("lights, second version")
    folder.rename(new)
    title(workspace, "Followed")
    assert workspace.save()
    assert not folder.exists()
    assert workspace.folder == new
    assert title_on_disk(new) == "Followed"
    assert workspace.settings.get("folder") == str(new)
    assert "is called lights, second version now" in " ".join(workspace.said)


def test_passes_of_a_folder_that_was_renamed_are_in_it(workspace, folder):
    from tests.practice.made import MONDAY, make_pass

    new = folder.with_name("lights")
    folder.rename(new)
    workspace.saving.look()
    assert workspace.folder == new
    workspace.logbook.record(make_pass(MONDAY))
    assert workspace.logbook.settle()
    with Logbook(new / "practice.sqlite") as book:
        assert len(book.history()) == 1


def test_what_was_not_saved_is_offered_at_the_next_start(workspace, make_workspace, folder):
    away = folder.parent.with_name("drawer")
    folder.parent.rename(away)
    title(workspace, "Typed without the stick")
    assert not workspace.save()
    workspace.close()
    elsewhere = away / folder.name  # mounted under another name this time
    again = make_workspace()
    assert again.open(elsewhere)
    assert "could not be saved then" in asked(again)
    answer(again, "A")
    assert title_on_disk(elsewhere) == "Typed without the stick"
    again.undo.undo()
    assert again.routine.title == "Copper Lights"
    assert asked(again) == ""
    assert list_unsaved() == ()


def test_what_waits_for_a_stick_is_told_when_it_is_not_there(workspace, make_workspace, folder):
    away = folder.parent.with_name("drawer")
    folder.parent.rename(away)
    title(workspace, "Typed without the stick")
    assert not workspace.save()
    workspace.close()
    again = make_workspace()
    again.is_started = False
    again.finish_start()
    assert "to Typed without the stick could not be saved and is kept" in again.said[-1]
    assert str(folder) in again.said[-1]


def test_a_second_change_that_cannot_be_saved_does_not_take_the_place_of_the_first(
    workspace, make_workspace, folder
):
    away = folder.parent.with_name("drawer")
    for words, at in (("First", folder), ("Second", folder)):
        window = workspace if words == "First" else make_workspace()
        assert window is workspace or window.open(at)
        folder.parent.rename(away)
        title(window, words)
        assert not window.save()
        window.close()
        away.rename(folder.parent)
    assert sorted(state.title for state in list_unsaved()) == ["First", "Second"]
    for words in ("Second", "First"):  # the newest first, the other one at the next start
        window = make_workspace()
        assert window.open(folder)
        answer(window, "A")
        assert window.routine.title == words
        window.close()
    assert list_unsaved() == ()


def test_left_out_it_stays_among_the_versions(workspace, make_workspace, folder):
    away = folder.parent.with_name("drawer")
    folder.parent.rename(away)
    title(workspace, "Typed without the stick")
    assert not workspace.save()
    workspace.close()
    again = make_workspace()
    assert again.open(away / folder.name)
    answer(again, "L")
    assert again.routine.title == "Copper Lights"
    assert titles_kept(away / folder.name)[0] == "Typed without the stick"
    assert list_unsaved() == ()


def test_what_was_not_saved_of_one_stick_does_not_come_home_into_another(
    workspace, make_workspace, folder
):
    folder.rename(folder.parent.with_name("drawer"))
    title(workspace, "Typed without the stick")
    assert not workspace.save()
    workspace.close()
    shutil.copytree(DEMO, folder)
    with (folder / "routine.yaml").open("a") as stream:
        stream.write("\n# another one at the same place\n")
    again = make_workspace()
    assert again.open(folder)
    assert asked(again) == ""
    assert len(list_unsaved()) == 1


@pytest.fixture
def small_drive(tmp_path):
    place = tmp_path / "small"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(place)]
    if os.name != "posix" or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("no drive can be mounted here")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_full_disk_keeps_the_old_file_whole_and_the_change_here(make_workspace, small_drive):
    folder = small_drive / "copper-lights"
    folder.mkdir()
    for name in ("routine.yaml", "beats.yaml"):
        shutil.copyfile(DEMO / name, folder / name)
    workspace = make_workspace()
    assert workspace.open(folder)
    assert workspace.logbook.settle()
    filler = small_drive / "filler"
    filler.write_bytes(bytes(shutil.disk_usage(small_drive).free))
    title(workspace, "Too much")
    assert not workspace.save()
    assert "the disk is full" in not_saved(workspace)[0]
    assert title_on_disk(folder) == "Copper Lights"
    empty = [p for p in folder.rglob("*.yaml*") if not p.stat().st_size]
    assert empty == [], "nothing half written is left"
    assert [state.title for state in list_unsaved()] == ["Too much"]
    filler.unlink()
    assert workspace.save()
    assert title_on_disk(folder) == "Too much"
    workspace.close()


def test_a_stick_unmounted_under_the_window(make_workspace, small_drive):
    folder = small_drive / "copper-lights"
    folder.mkdir()
    for name in ("routine.yaml", "beats.yaml"):
        shutil.copyfile(DEMO / name, folder / name)
    workspace = make_workspace()
    assert workspace.open(folder)
    subprocess.run(["umount", "-l", str(small_drive)], check=True)
    try:
        title(workspace, "Typed without the stick")
        assert not workspace.save()
        assert list(small_drive.iterdir()) == []
        assert [state.title for state in list_unsaved()] == ["Typed without the stick"]
    finally:
        subprocess.run(["mount", "-t", "tmpfs", "tmpfs", str(small_drive)], check=True)
        workspace.close()


# Leaving, and files that cannot be read


@pytest.fixture
def window(workspace, qtbot):
    window = Window(workspace)
    qtbot.addWidget(window)
    window.show()
    qtbot.waitExposed(window)
    yield window
    window.leave()


def test_leaving_asks_when_the_last_change_is_not_saved(window, workspace, folder, qtbot):
    folder.rename(folder.parent.with_name("drawer"))
    title(workspace, "Typed without the stick")
    assert not window.close()
    assert "The last change is not saved; it is kept on this machine" in window.question.text
    qtbot.keyClick(window, Qt.Key.Key_S, Qt.KeyboardModifier.AltModifier)
    qtbot.waitUntil(lambda: window.question.text == "")
    assert window.isVisible()
    assert not window.close(), "it asks each time"
    qtbot.keyClick(window, Qt.Key.Key_L, Qt.KeyboardModifier.AltModifier)
    qtbot.waitUntil(lambda: not window.isVisible())


def test_another_routine_opens_past_one_that_cannot_be_saved_when_asked(
    workspace, folder, tmp_path
):
    other = shutil.copytree(DEMO, tmp_path / "other")
    folder.rename(folder.parent.with_name("drawer"))
    title(workspace, "Typed without the stick")
    assert not workspace.open(other)
    assert "kept on this machine" in asked(workspace)
    answer(workspace, "O")
    assert workspace.folder == other


@pytest.mark.parametrize("content", [b"", b"\0" * 700, b"format: 1\ntitle: [\n"])
def test_a_spoilt_routine_offers_its_newest_good_save(workspace, make_workspace, folder, content):
    title(workspace, "Good")
    assert workspace.save()
    title(workspace, "Last")
    assert workspace.save()
    workspace.close()
    (folder / "routine.yaml").write_bytes(content)
    again = make_workspace()
    assert not again.open(folder)
    assert "cannot be read; the save kept until" in asked(again)
    assert (folder / "routine.yaml").read_bytes() == content, "not without being asked"
    answer(again, "O")
    assert again.routine.title == "Good"
    kept = [v.path.read_bytes() for v in list_versions(folder)]
    assert not content or content in kept


def test_a_save_of_a_newer_program_is_not_put_aside(workspace, make_workspace, folder):
    title(workspace, "Good")
    assert workspace.save()
    workspace.close()
    (folder / "routine.yaml").write_text("format: 99\n")
    again = make_workspace()
    assert not again.open(folder)
    assert asked(again) == ""


def test_what_a_killed_save_left_is_swept(make_workspace, folder):
    done = subprocess.run([os.sys.executable, "-c", "import os; print(os.getpid())"],
                          capture_output=True, text=True, check=True)  # fmt: skip
    rooms = ("versions", "cut", "takes", "pictures", "voice")
    for place in (folder, *(folder / name for name in rooms)):
        place.mkdir(exist_ok=True)
        (place / f".routine.yaml.{done.stdout.strip()}-abc.part").write_text("half")
        (place / f".routine.yaml.{os.getpid()}-abc.part").write_text("being written")
    assert make_workspace().open(folder)
    left = [p.name for p in folder.rglob("*.part")]
    assert left == [f".routine.yaml.{os.getpid()}-abc.part"] * (1 + len(rooms))
