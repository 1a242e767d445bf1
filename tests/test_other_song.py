"""A song replaced on disk: every command says so, and none plays it to the old map."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from rehearse.cli import main
from rehearse.files.user_error import UserError
from rehearse.handout.make import make
from rehearse.music.apart import load_apart, load_mapped
from rehearse.music.decode import load_track
from rehearse.routine.folder import open_folder

DEMO = Path(__file__).resolve().parent.parent / "demo" / "copper-lights"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The demo routine with another piece of the same length under the song's name."""
    folder = Path(shutil.copytree(DEMO, tmp_path_factory.mktemp("routine") / "copper-lights"))
    other = folder / "other.ogg"
    command = ["ffmpeg", "-v", "error", "-f", "lavfi", "-i", "anoisesrc=a=0.1:d=75", str(other)]
    subprocess.run(command, check=True)
    other.replace(folder / "track.ogg")
    return folder


@pytest.fixture
def folder(made, tmp_path):
    return Path(shutil.copytree(made, tmp_path / "copper-lights"))


def test_check_finds_it(folder, capsys):
    assert main(["check", str(folder)]) == 1
    assert "track: the beat map belongs to another song" in capsys.readouterr().out
    assert main(["check", str(folder), "--json"]) == 1
    first = json.loads(capsys.readouterr().out)["findings"][0]
    assert (first["kind"], first["severity"]) == ("song", "fault")
    assert first["do"].startswith("put the first song back")


def test_check_reads_a_song_that_cannot_be_read_as_a_fault(folder, capsys):
    (folder / "track.ogg").write_bytes(b"OggS and nothing else")
    assert main(["check", str(folder)]) == 1
    assert "track.ogg: " in capsys.readouterr().out


def test_a_folder_without_its_song_can_still_be_checked(folder, capsys):
    (folder / "track.ogg").unlink()
    assert main(["check", str(folder)]) == 0
    assert "is not in the folder" in capsys.readouterr().err


def test_the_dry_run_refuses_it(folder, capsys, qapp):
    assert main(["dry-run", str(folder), "--out", str(folder / "out")]) == 2
    assert "belongs to another song" in capsys.readouterr().err
    assert not (folder / "out").exists()


@pytest.mark.parametrize("kind", ["stage-music", "cue-track"])
def test_no_sound_is_made_of_it(kind, folder, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    with pytest.raises(UserError, match="belongs to another song"):
        make(folder, kind, out)
    assert list(out.iterdir()) == []


@pytest.mark.parametrize("kind", ["sheet", "zip"])
def test_what_is_made_without_listening_warns(kind, folder, tmp_path):
    assert any("belongs to another song" in w for w in make(folder, kind, tmp_path).warnings)
    own = shutil.copytree(DEMO, tmp_path / "own")  # a zip keeps a version in its folder
    assert not any("song" in w for w in make(Path(own), kind, tmp_path).warnings)


def test_a_song_read_apart_is_the_same():
    here, apart = load_track(DEMO / "track.ogg"), load_apart(DEMO / "track.ogg")
    assert here.content_hash == apart.content_hash
    assert (here.samples == apart.samples).all()
    assert load_mapped(DEMO / "track.ogg", open_folder(DEMO).beatmap).frames == here.frames


def test_a_reader_that_dies_or_hangs_is_a_sentence(tmp_path):
    # As a decoder that crashes would: the process that reads is gone, this one goes on.
    song = shutil.copy(DEMO / "track.ogg", tmp_path)
    code = (
        "import os, sys; from pathlib import Path\n"
        "from rehearse.files.user_error import UserError\n"
        "from rehearse.music import apart; from tests.test_other_song import {name}\n"
        "apart.load_track = {name}; apart.READING = {patience}\n"
        "try: apart.load_apart(Path(sys.argv[1]))\n"
        "except UserError as error: print(error.sentence)"
    )
    # One that dies is waited for as long as a busy machine takes to start it.
    for name, patience, told in (
        ("dies", 90, "ended unexpectedly"),
        ("hangs", 3, "takes too long"),
    ):
        command = [sys.executable, "-c", code.format(name=name, patience=patience), song]
        done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120)
        assert told in done.stdout


def dies(path, report):
    import os

    os._exit(11)


def hangs(path, report):
    import time

    time.sleep(600)


def test_the_command_maps_a_song_as_the_window_does(tmp_path):
    # On more than one thread sums come in another order: a song of 3 minutes got two maps.
    from rehearse.music.analysis.analyse import analyse
    from rehearse.music.apart import map_apart
    from rehearse.work.pool import Workers

    workers = Workers(1)
    track = workers.submit(load_track, DEMO / "track.ogg").result()
    by_window = workers.submit(analyse, track).result()
    workers.close()
    told = []
    assert map_apart(DEMO / "track.ogg", lambda done, text: told.append(done)) == by_window
    assert told == sorted(told)
    assert told[-1] == 1.0
