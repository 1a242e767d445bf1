"""Only ordinary files below a stated size are read, and sentences stay short."""

from __future__ import annotations

import os
import pickle
from pathlib import Path

import pytest

from rehearse.files.door import path_inside, read_file, read_inside
from rehearse.files.user_error import (
    LONGEST_PART,
    MOST_FAULTS,
    UserError,
    UserErrorList,
    UserErrors,
    halves,
    shortened,
)
from rehearse.files.yamlfile import MAX_VALUES, load_yaml, parse_yaml


def test_an_ordinary_file_is_read_whole(tmp_path):
    (tmp_path / "a").write_bytes(b"123")
    assert read_file(tmp_path / "a", 3) == b"123"
    (tmp_path / "a").write_bytes(bytes(2_000_001))
    with pytest.raises(UserError, match=r"a: is larger than 2 MB"):
        read_file(tmp_path / "a", 2_000_000)


def test_a_pipe_and_a_device_are_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "endless").symlink_to("/dev/zero")
    for name in ("pipe", "endless"):
        with pytest.raises(UserError, match="is a device or a pipe"):
            read_file(tmp_path / name, 10)
        with pytest.raises(UserError, match="is a device or a pipe"):
            load_yaml(tmp_path / name)


def test_a_folder_a_gap_and_a_name_that_is_none(tmp_path):
    with pytest.raises(UserError, match="is a folder"):
        read_file(tmp_path, 10)
    with pytest.raises(UserError, match="no such file"):
        read_file(tmp_path / "none", 10)
    with pytest.raises(UserError, match="no name of a file"):
        read_file(tmp_path / "a\0b", 10)


def test_a_link_may_not_leave_the_folder(tmp_path):
    inner = tmp_path / "inner"
    inner.mkdir()
    (tmp_path / "secret").write_text("secret")
    (inner / "link").symlink_to("../secret")
    with pytest.raises(UserError, match="leads out"):
        read_inside(inner, "link", 100)
    with pytest.raises(UserError, match="leads out"):
        path_inside(inner, "../secret")


def test_a_sentence_keeps_its_ends_and_not_what_it_quotes():
    error = UserError(f"{'x' * 100_000!r} is no position", where="a" * 9000, do="write 3:5")
    assert len(error.sentence) < 3 * LONGEST_PART + 10
    assert error.sentence.endswith("is no position – write 3:5.")
    assert shortened("x" * 240) == "x" * 240
    assert len(shortened("x" * 241)) == 240


def test_what_to_do_is_behind_the_last_semicolon():
    assert halves(ValueError("'a; b' is no length; write 2 s")) == (
        "'a; b' is no length",
        "write 2 s",
    )
    assert halves(ValueError("cannot be read")) == ("cannot be read", "")


def test_of_many_faults_the_first_are_told():
    found = UserErrorList()
    for number in range(MOST_FAULTS):
        found.append(UserError(f"is wrong {number}"))
    with pytest.raises(UserErrors) as caught:
        found.append(UserError("is wrong too"))
    lines = caught.value.sentence.splitlines()
    assert len(lines) == MOST_FAULTS + 1
    assert lines[-1] == "There are more faults than these – mend these first."
    there = pickle.loads(pickle.dumps(caught.value))  # as from a worker process
    assert there.sentence == caught.value.sentence


def test_a_megabyte_of_list_items_is_one_sentence():
    with pytest.raises(UserError, match=f"more than {MAX_VALUES} values"):
        parse_yaml(b"- a\n" * 250_000, Path("made.yaml"))
