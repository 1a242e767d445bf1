"""A new routine from a song."""

from __future__ import annotations

import pytest

from rehearse.files.fault import Fault
from rehearse.routine.folder import open_folder
from rehearse.routine.model import StagePart
from rehearse.routine.rules import load_rules
from rehearse.routine.start import routines_folder, stage_part, start_routine
from tests.routine.conftest import make_song


@pytest.fixture
def song_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("song") / "my song: a first.wav"
    path.write_bytes(b"not decoded here")
    return path


def test_a_new_routine_opens(song_file, tmp_path):
    rules = load_rules("open-60")
    song = make_song(eights=24)
    into = tmp_path / "not yet" / "there"
    folder = start_routine(into, song_file, song, rules, "  Night:  Train ")
    assert folder == into / "Night Train"
    opened = open_folder(folder)
    assert opened.warnings == ()
    assert opened.routine.title == "Night: Train"
    assert opened.routine.rules == "open-60"
    assert opened.routine.stage == StagePart(0.0, 60.0, 0.0, 2.0)
    assert (folder / opened.routine.track).read_bytes() == song_file.read_bytes()
    again = start_routine(into, song_file, song, rules, "Night: Train")
    assert again.name == f"{folder.name} 2"
    assert len(list(into.iterdir())) == 2


def test_the_stage_part_is_the_song_up_to_the_limit():
    song = make_song(eights=13, start=4.0, tail=4.0)  # 60.0 s
    assert stage_part(song, load_rules("open-60")) is None
    assert stage_part(make_song(eights=14), load_rules("open-60")) == StagePart(0, 60.0, 0, 2.0)
    assert stage_part(make_song(eights=14), load_rules("open")) is None


def test_what_cannot_be_started(song_file, tmp_path):
    rules, song = load_rules("open"), make_song()
    with pytest.raises(Fault, match="no title"):
        start_routine(tmp_path, song_file, song, rules, "  ")
    with pytest.raises(Fault, match=r"none\.wav: there is no such file"):
        start_routine(tmp_path, song_file.with_name("none.wav"), song, rules, "T")
    (tmp_path / "file").write_text("x")
    with pytest.raises(Fault):
        start_routine(tmp_path / "file", song_file, song, rules, "T")
    assert [p.name for p in tmp_path.iterdir()] == ["file"]
    assert routines_folder().name == "Rehearse"
