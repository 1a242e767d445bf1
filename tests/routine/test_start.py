"""A new routine from a song."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from rehearse.files.fault import Fault
from rehearse.routine.folder import open_folder
from rehearse.routine.model import StagePart
from rehearse.routine.rules import load_rules
from rehearse.routine.start import map_song, routines_folder, stage_part, start_routine
from tests.routine.conftest import make_song

RATE = 22050


@pytest.fixture(scope="module")
def song_file(tmp_path_factory):
    """Twelve seconds of clicks at 120 BPM, every fourth one louder."""
    clicks = np.zeros(12 * RATE, np.float32)
    decay = np.exp(-np.arange(RATE // 20) / 200).astype(np.float32)
    noise = np.random.default_rng(1).uniform(-1, 1, len(decay)).astype(np.float32)
    for k in range(23):
        start = int((0.5 + k * 0.5) * RATE)
        clicks[start : start + len(decay)] += noise * decay * (0.9 if k % 4 == 0 else 0.4)
    path = tmp_path_factory.mktemp("song") / "my song: a first.wav"
    soundfile.write(path, clicks, RATE)
    return path


def test_the_map_of_a_song_is_made_with_its_progress_told(song_file):
    told = []
    beatmap = map_song(song_file, lambda done, text: told.append((done, text)))
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert 0.99 <= told[-1][0] <= 1.0
    assert "Reading the song" in {text for _, text in told}
    assert beatmap.duration == pytest.approx(12.0)
    # 120 BPM: beats 0.500 s apart (arithmetic of the tempo)
    assert np.median(np.diff(beatmap.times)) == pytest.approx(0.5, abs=0.01)


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
