"""Files that came with the program are kept as they were read, and read anew when they change."""

import os
import sys

import pytest

from rehearse.files import compiled
from rehearse.files.compiled import load_packaged
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import load_yaml

TEXT = "format: 1\nposes:\n- {name: crucifix, arms: [92, 4.5], mirrored: false, say: null}\n"


@pytest.fixture
def path(tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path / "kept"))
    path = tmp_path / "poses.yaml"
    path.write_text(TEXT)
    return path


def kept_files(path):
    return [*(path.parent / "kept").rglob("*.data")]


def test_what_was_read_once_is_the_same_the_second_time_without_reading_it(path, monkeypatch):
    first = load_packaged(path)
    assert len(kept_files(path)) == 1
    monkeypatch.setattr(compiled, "load_yaml", lambda _path: pytest.fail("it was read again"))
    again = load_packaged(path)
    assert again.data == first.data
    monkeypatch.undo()
    assert again.data == load_yaml(path).data
    assert [type(x) for x in again.data["poses"][0]["arms"]] == [int, float]


def test_a_changed_file_is_read_anew(path):
    load_packaged(path)
    path.write_text(TEXT.replace("crucifix", "victory pose"))
    assert load_packaged(path).data["poses"][0]["name"] == "victory pose"
    path.write_text(TEXT.replace("crucifix", "archer"))
    os.utime(path, ns=(1, 1))
    assert load_packaged(path).data["poses"][0]["name"] == "archer"


@pytest.mark.parametrize("damage", [b"", b"\x00", b"nothing of the kind", None])
def test_what_is_kept_and_damaged_is_read_anew_and_mended(path, damage):
    whole = load_packaged(path).data
    [kept] = kept_files(path)
    sound = kept.read_bytes()
    kept.write_bytes(sound[: len(sound) // 2] if damage is None else damage)
    assert load_packaged(path).data == whole
    assert kept.read_bytes() == sound


def test_nothing_is_kept_where_python_keeps_no_byte_code_or_nothing_can_be_written(
    path, monkeypatch
):
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert load_packaged(path).data["format"] == 1
    assert not kept_files(path)
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    (path.parent / "kept").write_text("a file where a folder would have to be")
    assert load_packaged(path).data["format"] == 1


def test_a_fault_names_its_line_every_time(path):
    path.write_text("format: 1\nposes: [\n")
    for _unused in range(2):
        with pytest.raises(UserError, match=r"poses.yaml, line \d"):
            load_packaged(path)
    assert not kept_files(path)
