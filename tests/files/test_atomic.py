"""Saving keeps the old file or the new one, whole, whatever happens in between."""

from __future__ import annotations

import errno
import os
import pickle
import signal
import subprocess
import sys
import time

import pytest

from rehearse.files.atomic import copy_atomic, save_atomic, sweep, user_error_of
from rehearse.files.user_error import UserError, UserErrors

WRITER = """
import sys
from pathlib import Path
from rehearse.files.atomic import save_atomic
path = Path(sys.argv[1])
print("ready", flush=True)
k = 0
while True:
    k += 1
    save_atomic(path, (b"%08d" % k) * 50_000)
"""


def test_the_previous_save_is_kept(tmp_path):
    path, versions = tmp_path / "routine.yaml", tmp_path / "versions"
    for text in (b"one", b"two", b"two", b"three"):
        save_atomic(path, text, versions=versions)
    assert path.read_bytes() == b"three"
    assert sorted(p.read_bytes() for p in versions.iterdir()) == [b"one", b"two"]


def test_no_temporary_file_is_left(tmp_path):
    save_atomic(tmp_path / "a", b"x")
    assert [p.name for p in tmp_path.iterdir()] == ["a"]


def test_a_killed_writer_leaves_a_whole_file(tmp_path):
    path = tmp_path / "beats.yaml"
    for _ in range(5):
        command = [sys.executable, "-c", WRITER, str(path)]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as writer:
            writer.stdout.readline()
            time.sleep(0.05)
            os.kill(writer.pid, signal.SIGKILL)
        if path.exists():
            data = path.read_bytes()
            assert data == data[:8] * 50_000


def test_a_failing_write_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "routine.yaml"
    save_atomic(path, b"old")

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(UserError, match="disk is full"):
        save_atomic(path, b"new")
    assert path.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["routine.yaml"]


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (FileNotFoundError(errno.ENOENT, "x"), "there is no such file"),
        (PermissionError(errno.EACCES, "x"), "no permission"),
        (OSError(errno.EROFS, "x"), "no permission"),
        (IsADirectoryError(errno.EISDIR, "x"), "this is a folder"),
        (OSError(errno.EIO, "Input/output error"), "input/output error"),
    ],
)
def test_every_refusal_has_its_sentence(tmp_path, error, words):
    sentence = user_error_of(error, tmp_path / "a.yaml").sentence
    assert words in sentence
    assert "None" not in sentence
    assert sentence.endswith(".")


def test_a_file_of_someone_else_is_not_blamed_on_its_folder(tmp_path, monkeypatch):
    song = tmp_path / "song.mp3"
    song.touch()
    monkeypatch.setattr(os, "access", lambda path, mode: (path, mode) != (song, os.R_OK))
    sentence = user_error_of(PermissionError(errno.EACCES, "x"), song).sentence
    assert "no permission to read it – ask its owner, or choose another file" in sentence


def test_a_fault_says_what_where_and_what_to_do():
    error = UserError("has no hit", where="routine.yaml, line 7", do="write one such as 3:5")
    assert error.sentence == "routine.yaml, line 7: has no hit – write one such as 3:5."
    assert UserError("the track is silent").sentence == "The track is silent."


def test_several_faults_are_told_one_a_line():
    errors = UserErrors([UserError("a"), UserError("b", do="c")])
    assert str(errors).splitlines() == ["A.", "B – c."]
    with pytest.raises(ValueError, match="at least one"):
        UserErrors([])


def test_faults_survive_the_way_from_a_worker_process():
    error = UserError("has no hit", where="routine.yaml, line 7", do="write one")
    for original in (error, UserErrors([error, UserError("b")])):
        again = pickle.loads(pickle.dumps(original))
        assert type(again) is type(original)
        assert again.sentence == original.sentence


def test_a_copy_that_fails_leaves_the_old_file_and_nothing_half_written(tmp_path, monkeypatch):
    source, target = tmp_path / "5.wav", tmp_path / "voice.wav"
    source.write_bytes(b"new")
    target.write_bytes(b"old")

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(OSError, match="space"):
            copy_atomic(source, target)
    assert target.read_bytes() == b"old"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["5.wav", "voice.wav"]
    copy_atomic(source, target)
    assert target.read_bytes() == b"new"


def test_a_killed_writer_leaves_nothing_once_it_was_swept(tmp_path):
    path = tmp_path / "beats.yaml"
    for _ in range(5):
        command = [sys.executable, "-c", WRITER, str(path)]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as writer:
            writer.stdout.readline()
            time.sleep(0.05)
            os.kill(writer.pid, signal.SIGKILL)
    sweep(tmp_path)
    assert {p.name for p in tmp_path.iterdir()} <= {"beats.yaml"}


def test_a_version_is_kept_whole_or_not_at_all(tmp_path, monkeypatch):
    path, versions = tmp_path / "routine.yaml", tmp_path / "versions"
    save_atomic(path, b"old", versions=versions)
    replace = os.replace

    def full(source, target):
        if "versions" in str(target):
            raise OSError(errno.ENOSPC, "No space left on device")
        replace(source, target)

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(UserError, match="disk is full"):
        save_atomic(path, b"new", versions=versions)
    assert list(versions.iterdir()) == []
    assert path.read_bytes() == b"old"


def test_a_drive_that_was_pulled_out_is_one_sentence(tmp_path):
    gone = user_error_of(OSError(errno.ENODEV, "No such device"), tmp_path / "a.yaml")
    assert "its drive does not answer – plug it in again" in gone.sentence
    missing = FileNotFoundError(errno.ENOENT, "x")
    assert (
        "its folder is not there any more" in user_error_of(missing, tmp_path / "b" / "a").sentence
    )
