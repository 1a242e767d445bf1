"""A new routine from a song."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from rehearse.files.user_error import UserError
from rehearse.music.song_import import song_name
from rehearse.routine.folder import open_folder
from rehearse.routine.model import StagePart
from rehearse.routine.rules import load_rules
from rehearse.routine.start import (
    routines_folder,
    stage_part,
    start_folder,
    start_routine,
    title_of,
)
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
    with pytest.raises(UserError, match="no title"):
        start_routine(tmp_path, song_file, song, rules, "  ")
    with pytest.raises(UserError, match=r"none\.wav: there is no such file"):
        start_routine(tmp_path, song_file.with_name("none.wav"), song, rules, "T")
    (tmp_path / "file").write_text("x")
    with pytest.raises(UserError):
        start_routine(tmp_path / "file", song_file, song, rules, "T")
    assert [p.name for p in tmp_path.iterdir()] == ["file"]
    assert routines_folder().name == "Rehearse"


def test_a_given_folder_is_made_and_nothing_is_written_over(song_file, tmp_path):
    rules, song = load_rules("open"), make_song()
    folder = start_folder(tmp_path / "deep" / "mine", song_file, song, rules, "Night Train")
    assert folder == tmp_path / "deep" / "mine"
    assert open_folder(folder).routine.title == "Night Train"
    with pytest.raises(UserError, match="something there already"):
        start_folder(folder, song_file, song, rules, "Again")
    (tmp_path / "empty").mkdir()
    start_folder(tmp_path / "empty", song_file, song, rules, "In an empty one")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["deep", "empty"]


def test_what_cannot_be_opened_again_leaves_no_folder(song_file, tmp_path):
    # A map whose restart stands on no beat is refused on reading.
    broken = replace(make_song(), restarts=(0.123,))
    for _ in range(2):
        with pytest.raises(UserError, match="restarts off the beats"):
            start_routine(tmp_path, song_file, broken, load_rules("open"), "Night Train")
    assert list(tmp_path.iterdir()) == []
    made = start_routine(tmp_path, song_file, make_song(), load_rules("open"), "Night Train")
    assert made.name == "Night Train"


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("beats.yaml", "song beats.yaml"),
        (".hidden.ogg", "hidden.ogg"),
        ("voice", "song voice"),
        ("ä" * 120 + ".wav", "ä" * 100 + ".wav"),
        ("bad \udcff.ogg", "bad.ogg"),
        ("a?b.mp3", "a b.mp3"),
    ],
)
def test_a_song_of_any_name_gets_one_that_opens_everywhere(name, kept, tmp_path):
    assert song_name(Path(name)) == kept
    assert title_of(Path(name)).encode()
    source = tmp_path / "source.wav"
    source.write_bytes(b"not decoded here")
    song = source.rename(tmp_path / name)
    folder = start_folder(
        tmp_path / "routine", song, make_song(), load_rules("open"), title_of(song)
    )
    opened = open_folder(folder)
    assert (opened.routine.track, opened.warnings) == (kept, ())
