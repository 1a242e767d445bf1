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
from rehearse.ui.desk import Desk
from rehearse.ui.saving import saving as saving_module
from rehearse.ui.saving import sharing
from rehearse.ui.settings import Settings
from rehearse.ui.window import Window

from .made import DEMO


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "stick").mkdir()
    return shutil.copytree(DEMO, tmp_path / "stick" / "copper-lights")


@pytest.fixture(autouse=True)
def no_song(monkeypatch):
    monkeypatch.setattr(Desk, "decode", lambda self: None)


@pytest.fixture
def make_desk(qapp, tmp_path):
    desks = []

    def make():
        desk = Desk(Settings(tmp_path / f"settings{len(desks)}.ini"))
        desks.append(desk)
        desk.said = []
        desk.standing.changed.connect(desk.said.append)
        return desk

    yield make
    for desk in desks:
        desk.close()


@pytest.fixture
def desk(make_desk, folder):
    desk = make_desk()
    assert desk.open(folder)
    desk.said.clear()
    return desk


def title(desk, words):
    desk.edit("name it", routine=replace(desk.routine, title=words))


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
    read = [read_save(load_yaml(v.path), folder, beatmap) for v in list_versions(folder)]
    return [routine.title for routine in read]


def asked(desk):
    return desk.questions.current.sentence if desk.questions.current else ""


def not_saved(desk):
    return [sentence for sentence in desk.said if sentence.startswith("Not saved: ")]


def answer(desk, letter):
    question = desk.questions.current
    desk.questions.answer(next(a for a in question.answers if a.letter == letter))


# Two windows


def test_a_second_window_looks_only_until_it_takes_over(desk, make_desk, folder, qtbot):
    second = make_desk()
    assert second.open(folder)
    assert "open in another window" in asked(second)
    title(second, "Mine")
    assert second.routine.title == "Copper Lights"
    assert "open in another window" in second.said[-1]
    title(desk, "Not saved yet")
    answer(second, "T")
    qtbot.waitUntil(lambda: not second.saving.look_only, timeout=5000)
    assert second.routine.title == "Not saved yet"  # the first one saved before it gave way
    title(second, "Mine")
    assert second.save()
    assert title_on_disk(folder) == "Mine"
    assert desk.saving.look_only
    title(desk, "Over it?")
    assert desk.save()
    assert title_on_disk(folder) == "Mine"
    desk.saving.look()
    assert desk.routine.title == "Mine"  # it goes on showing what the other one writes


def test_a_window_that_hangs_is_taken_from_by_force(make_desk, folder, qtbot, monkeypatch):
    monkeypatch.setattr(sharing, "_TRIES", 3)
    hanging = Hold(folder)
    assert hanging.take()
    second = make_desk()
    assert second.open(folder)
    assert second.saving.look_only
    answer(second, "T")
    qtbot.waitUntil(lambda: not second.saving.look_only, timeout=8000)
    assert not hanging.held
    hanging.release()
    assert second.saving.sharing.may_write()


def test_what_the_one_taken_from_had_not_saved_is_offered_there(desk, make_desk, folder):
    title(desk, "Typed while it hung")
    other = Hold(folder)
    assert other.take(by_force=True)
    assert desk.save() is False
    assert title_on_disk(folder) == "Copper Lights"
    other.release()
    third = make_desk()
    assert third.open(folder)
    answer(third, "P")
    assert title_on_disk(folder) == "Typed while it hung"
    assert list_unsaved() == ()


def test_a_window_that_is_closed_or_killed_holds_nothing(desk, make_desk, folder, state_of_nobody):
    desk.close()
    assert list((state_of_nobody / "open").iterdir()) == []
    code = (
        "import os,sys;from pathlib import Path;from rehearse.files.hold import Hold;"
        "h=Hold(Path(sys.argv[1]));assert h.take();os.kill(os.getpid(),9)"
    )
    subprocess.run([os.sys.executable, "-c", code, str(folder)], check=False)
    second = make_desk()
    assert second.open(folder)
    assert not second.saving.look_only


# Another program


def test_what_another_program_wrote_is_shown_and_can_be_undone(desk, folder):
    write_outside(folder, "From outside")
    desk.saving.look()
    assert desk.routine.title == "From outside"
    assert "Another program has changed" in desk.said[-1]
    desk.undo.undo()
    assert desk.save()
    assert title_on_disk(folder) == "Copper Lights"
    assert "From outside" in titles_kept(folder)


def test_nothing_is_saved_over_what_another_program_wrote(desk, folder):
    title(desk, "Mine")
    write_outside(folder, "Theirs")
    assert not desk.save()
    assert title_on_disk(folder) == "Theirs"
    assert "Which state goes on?" in asked(desk)
    assert not desk.save(), "until it is answered nothing is written"
    answer(desk, "M")
    assert title_on_disk(folder) == desk.routine.title == "Mine"
    assert "Theirs" in titles_kept(folder)
    assert desk.saving.saved
    assert list_unsaved() == ()


def test_the_other_state_can_go_on_and_mine_is_kept(desk, folder):
    title(desk, "Mine")
    write_outside(folder, "Theirs")
    desk.saving.look()
    answer(desk, "O")
    assert title_on_disk(folder) == desk.routine.title == "Theirs"
    assert "Mine" in titles_kept(folder)
    assert desk.saving.saved
    desk.undo.undo()
    assert desk.routine.title == "Mine"


def test_a_conflict_left_open_is_offered_at_the_next_start(desk, make_desk, folder):
    title(desk, "Mine")
    write_outside(folder, "Theirs")
    assert not desk.save()
    desk.close()
    again = make_desk()
    assert again.open(folder)
    assert again.routine.title == "Theirs"
    answer(again, "P")
    assert title_on_disk(folder) == "Mine"
    assert "Theirs" in titles_kept(folder)


# The stick


def test_a_stick_pulled_out_loses_nothing_and_is_not_made_anew(desk, folder, qtbot, monkeypatch):
    monkeypatch.setattr(saving_module, "SAVE_AFTER", 50)
    monkeypatch.setattr(saving_module, "RETRY_AFTER", 100)
    away = folder.parent.with_name("drawer")
    folder.parent.rename(away)
    title(desk, "Typed without the stick")
    qtbot.waitUntil(lambda: bool(not_saved(desk)))
    assert "not there any more" in not_saved(desk)[0]
    assert "kept on this machine" in not_saved(desk)[0]
    assert not desk.saving.saved
    assert not folder.parent.exists()
    qtbot.wait(300)
    assert len(not_saved(desk)) == 1, "it is said once"
    assert [state.title for state in list_unsaved()] == ["Typed without the stick"]
    # Plugged in again it is another drive to the system: files of other numbers.
    shutil.copytree(away, folder.parent)
    qtbot.waitUntil(lambda: desk.saving.saved, timeout=3000)
    assert title_on_disk(folder) == "Typed without the stick"
    assert "Not saved" not in desk.standing.text, "it goes with its cause"
    assert list_unsaved() == ()


def test_the_empty_place_where_a_stick_was_is_left_empty(desk, folder):
    # The routine was the stick's own top folder: its mount point stays behind.
    folder.rename(folder.with_name("gone"))
    os.rename(folder.with_name("gone"), folder.parent.with_name("gone"))
    folder.mkdir()
    title(desk, "Typed without the stick")
    assert not desk.save()
    assert list(folder.iterdir()) == []


def test_a_renamed_folder_is_followed(desk, folder):
    new = folder.with_name("lights, second version")
    folder.rename(new)
    title(desk, "Followed")
    assert desk.save()
    assert not folder.exists()
    assert desk.folder == new
    assert title_on_disk(new) == "Followed"
    assert desk.settings.get("folder") == str(new)
    assert "is called lights, second version now" in " ".join(desk.said)


def test_passes_of_a_folder_that_was_renamed_are_in_it(desk, folder):
    from tests.practice.made import MONDAY, make_pass

    new = folder.with_name("lights")
    folder.rename(new)
    desk.saving.look()
    assert desk.folder == new
    desk.logbook.record(make_pass(MONDAY))
    assert desk.logbook.settle()
    with Logbook(new / "practice.sqlite") as book:
        assert len(book.history()) == 1


def test_what_was_not_saved_is_offered_at_the_next_start(desk, make_desk, folder):
    away = folder.parent.with_name("drawer")
    folder.parent.rename(away)
    title(desk, "Typed without the stick")
    assert not desk.save()
    desk.close()
    elsewhere = away / folder.name  # mounted under another name this time
    again = make_desk()
    assert again.open(elsewhere)
    assert "could not be saved then" in asked(again)
    answer(again, "P")
    assert title_on_disk(elsewhere) == "Typed without the stick"
    again.undo.undo()
    assert again.routine.title == "Copper Lights"
    assert asked(again) == ""
    assert list_unsaved() == ()


def test_what_waits_for_a_stick_is_told_when_it_is_not_there(desk, make_desk, folder):
    away = folder.parent.with_name("drawer")
    folder.parent.rename(away)
    title(desk, "Typed without the stick")
    assert not desk.save()
    desk.close()
    again = make_desk()
    again.at_work = False
    again.begin_work()
    assert "to Typed without the stick could not be saved and is kept" in again.said[-1]
    assert str(folder) in again.said[-1]


def test_a_second_change_that_cannot_be_saved_does_not_take_the_place_of_the_first(
    desk, make_desk, folder
):
    away = folder.parent.with_name("drawer")
    for words, at in (("First", folder), ("Second", folder)):
        window = desk if words == "First" else make_desk()
        assert window is desk or window.open(at)
        folder.parent.rename(away)
        title(window, words)
        assert not window.save()
        window.close()
        away.rename(folder.parent)
    assert sorted(state.title for state in list_unsaved()) == ["First", "Second"]
    for words in ("Second", "First"):  # the newest first, the other one at the next start
        window = make_desk()
        assert window.open(folder)
        answer(window, "P")
        assert window.routine.title == words
        window.close()
    assert list_unsaved() == ()


def test_left_out_it_stays_among_the_versions(desk, make_desk, folder):
    away = folder.parent.with_name("drawer")
    folder.parent.rename(away)
    title(desk, "Typed without the stick")
    assert not desk.save()
    desk.close()
    again = make_desk()
    assert again.open(away / folder.name)
    answer(again, "L")
    assert again.routine.title == "Copper Lights"
    assert titles_kept(away / folder.name)[0] == "Typed without the stick"
    assert list_unsaved() == ()


def test_what_was_not_saved_of_one_stick_does_not_come_home_into_another(desk, make_desk, folder):
    folder.rename(folder.parent.with_name("drawer"))
    title(desk, "Typed without the stick")
    assert not desk.save()
    desk.close()
    shutil.copytree(DEMO, folder)
    with (folder / "routine.yaml").open("a") as stream:
        stream.write("\n# another one at the same place\n")
    again = make_desk()
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


def test_a_full_disk_keeps_the_old_file_whole_and_the_change_here(make_desk, small_drive):
    folder = small_drive / "copper-lights"
    folder.mkdir()
    for name in ("routine.yaml", "beats.yaml"):
        shutil.copyfile(DEMO / name, folder / name)
    desk = make_desk()
    assert desk.open(folder)
    assert desk.logbook.settle()
    filler = small_drive / "filler"
    filler.write_bytes(bytes(shutil.disk_usage(small_drive).free))
    title(desk, "Too much")
    assert not desk.save()
    assert "the disk is full" in not_saved(desk)[0]
    assert title_on_disk(folder) == "Copper Lights"
    empty = [p for p in folder.rglob("*.yaml*") if not p.stat().st_size]
    assert empty == [], "nothing half written is left"
    assert [state.title for state in list_unsaved()] == ["Too much"]
    filler.unlink()
    assert desk.save()
    assert title_on_disk(folder) == "Too much"
    desk.close()


def test_a_stick_unmounted_under_the_window(make_desk, small_drive):
    folder = small_drive / "copper-lights"
    folder.mkdir()
    for name in ("routine.yaml", "beats.yaml"):
        shutil.copyfile(DEMO / name, folder / name)
    desk = make_desk()
    assert desk.open(folder)
    subprocess.run(["umount", "-l", str(small_drive)], check=True)
    try:
        title(desk, "Typed without the stick")
        assert not desk.save()
        assert list(small_drive.iterdir()) == []
        assert [state.title for state in list_unsaved()] == ["Typed without the stick"]
    finally:
        subprocess.run(["mount", "-t", "tmpfs", "tmpfs", str(small_drive)], check=True)
        desk.close()


# Leaving, and files that cannot be read


@pytest.fixture
def window(desk, qtbot):
    window = Window(desk)
    qtbot.addWidget(window)
    window.show()
    qtbot.waitExposed(window)
    yield window
    window.leave()


def test_leaving_asks_when_the_last_change_is_not_saved(window, desk, folder, qtbot):
    folder.rename(folder.parent.with_name("drawer"))
    title(desk, "Typed without the stick")
    assert not window.close()
    assert "The last change is not saved; it is kept on this machine" in window.question.text
    qtbot.keyClick(window, Qt.Key.Key_S, Qt.KeyboardModifier.AltModifier)
    qtbot.waitUntil(lambda: window.question.text == "")
    assert window.isVisible()
    assert not window.close(), "it asks each time"
    qtbot.keyClick(window, Qt.Key.Key_L, Qt.KeyboardModifier.AltModifier)
    qtbot.waitUntil(lambda: not window.isVisible())


def test_another_routine_opens_past_one_that_cannot_be_saved_when_asked(desk, folder, tmp_path):
    other = shutil.copytree(DEMO, tmp_path / "other")
    folder.rename(folder.parent.with_name("drawer"))
    title(desk, "Typed without the stick")
    assert not desk.open(other)
    assert "kept on this machine" in asked(desk)
    answer(desk, "O")
    assert desk.folder == other


@pytest.mark.parametrize("content", [b"", b"\0" * 700, b"format: 1\ntitle: [\n"])
def test_a_spoilt_routine_offers_its_newest_good_save(desk, make_desk, folder, content):
    title(desk, "Good")
    assert desk.save()
    title(desk, "Last")
    assert desk.save()
    desk.close()
    (folder / "routine.yaml").write_bytes(content)
    again = make_desk()
    assert not again.open(folder)
    assert "cannot be read; the save kept until" in asked(again)
    assert (folder / "routine.yaml").read_bytes() == content, "not without being asked"
    answer(again, "O")
    assert again.routine.title == "Good"
    kept = [v.path.read_bytes() for v in list_versions(folder)]
    assert not content or content in kept


def test_a_save_of_a_newer_program_is_not_put_aside(desk, make_desk, folder):
    title(desk, "Good")
    assert desk.save()
    desk.close()
    (folder / "routine.yaml").write_text("format: 99\n")
    again = make_desk()
    assert not again.open(folder)
    assert asked(again) == ""


def test_what_a_killed_save_left_is_swept(make_desk, folder):
    done = subprocess.run([os.sys.executable, "-c", "import os; print(os.getpid())"],
                          capture_output=True, text=True, check=True)  # fmt: skip
    for place in (folder, folder / "versions"):
        place.mkdir(exist_ok=True)
        (place / f".routine.yaml.{done.stdout.strip()}-abc.part").write_text("half")
        (place / f".routine.yaml.{os.getpid()}-abc.part").write_text("being written")
    assert make_desk().open(folder)
    left = [p.name for p in folder.rglob("*.part")]
    assert left == [f".routine.yaml.{os.getpid()}-abc.part"] * 2
