"""Zips from elsewhere: opened safely or refused, never half."""

from __future__ import annotations

import stat
import zipfile

import pytest

from rehearse.files.user_error import UserError
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.zip_import import open_bundle


@pytest.fixture
def folder(tmp_path, routine, song):
    folder = tmp_path / "mine" / "Paper Lanterns"
    save_folder(folder, routine, song)
    (folder / "lanterns.ogg").write_bytes(b"sound")
    (folder / "pictures").mkdir()
    (folder / "pictures" / "twist.jpg").write_bytes(b"picture")
    return folder


def pack(path, folder, prefix="", **more):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in sorted(folder.rglob("*")):
            if file.is_file():
                archive.write(file, f"{prefix}{file.relative_to(folder).as_posix()}")
        for name, data in more.items():
            archive.writestr(name, data)
    return path


@pytest.mark.parametrize("prefix", ["", "Paper Lanterns/", "from coach/Paper Lanterns/"])
def test_a_zipped_folder_opens_as_it_is(tmp_path, folder, routine, prefix):
    path = pack(tmp_path / "Lanterns.zip", folder, prefix, **{
        "__MACOSX/._routine.yaml": b"clutter", f"{prefix}.DS_Store": b"clutter",
    })  # fmt: skip
    into = tmp_path / "routines"
    into.mkdir()
    first = open_bundle(path, into)
    assert first == into / ("Paper Lanterns" if prefix else "Lanterns")
    assert open_folder(first).routine == routine
    assert (first / "pictures" / "twist.jpg").read_bytes() == b"picture"
    assert not list(first.rglob(".DS_Store"))
    second = open_bundle(path, into)  # the first is not written over
    assert second.name == f"{first.name} 2"
    assert sorted(p.name for p in into.iterdir()) == sorted([first.name, second.name])


def test_names_with_the_strokes_of_another_system(tmp_path, folder, routine):
    path = tmp_path / "x.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for name in ("routine.yaml", "beats.yaml", "lanterns.ogg"):
            info = zipfile.ZipInfo("x")
            info.filename = f"Lanterns\\{name}"
            archive.writestr(info, (folder / name).read_bytes())
    assert open_folder(open_bundle(path, tmp_path)).routine == routine


def refused(path, into, what):
    before = sorted(p for p in into.rglob("*"))
    with pytest.raises(UserError, match=what):
        open_bundle(path, into)
    assert sorted(p for p in into.rglob("*")) == before


@pytest.mark.parametrize(
    "name", ["../outside.txt", "/etc/outside.txt", "a/../../outside.txt", "C:/outside.txt",
             "..\\outside.txt"],
)  # fmt: skip
def test_names_that_lead_out_are_refused(tmp_path, folder, name):
    path = pack(tmp_path / "x.zip", folder)
    with zipfile.ZipFile(path, "a") as archive:
        info = zipfile.ZipInfo("x")
        info.filename = name
        archive.writestr(info, b"x")
    into = tmp_path / "into"
    into.mkdir()
    refused(path, into, "leads out of its folder")
    assert not (tmp_path / "outside.txt").exists()


def test_links_are_refused(tmp_path, folder):
    path = pack(tmp_path / "x.zip", folder)
    info = zipfile.ZipInfo("pictures/link")
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr(info, b"/etc/passwd")
    refused(path, tmp_path, "is a link")


def test_a_bomb_is_stopped_whatever_it_says_of_itself(tmp_path, folder, monkeypatch):
    monkeypatch.setattr("rehearse.routine.zip_import._MAX_BYTES", 200_000)
    path = pack(tmp_path / "x.zip", folder, **{"pictures/large.bin": bytes(300_000)})
    refused(path, tmp_path, "more than a routine")
    # The same, with the size in the directory made small: counted while unpacking.
    raw = bytearray(path.read_bytes())
    size = (300_000).to_bytes(4, "little")
    place = raw.rfind(size)
    raw[place : place + 4] = (10).to_bytes(4, "little")
    path.write_bytes(bytes(raw))
    with pytest.raises(UserError):
        open_bundle(path, tmp_path)
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".unpacking")]


def test_many_small_files_are_no_routine(tmp_path, folder, monkeypatch):
    monkeypatch.setattr("rehearse.routine.zip_import._MAX_FILES", 3)
    refused(pack(tmp_path / "x.zip", folder), tmp_path, "more than a routine")


def test_what_is_no_zip_or_has_no_routine(tmp_path, folder):
    path = tmp_path / "x.zip"
    path.write_bytes(b"PK\x03\x04 and nothing")
    refused(path, tmp_path, "no zip that can be read")
    (folder / "routine.yaml").unlink()
    refused(pack(tmp_path / "y.zip", folder), tmp_path, r"no routine\.yaml")
    with pytest.raises(UserError, match="no such file"):
        open_bundle(tmp_path / "none.zip", tmp_path)


def test_a_damaged_zip_leaves_nothing_behind(tmp_path, folder):
    path = pack(tmp_path / "x.zip", folder, **{"pictures/a.bin": bytes(range(256)) * 400})
    raw = bytearray(path.read_bytes())
    for place in range(200, 400):
        raw[place] ^= 0xFF
    path.write_bytes(bytes(raw))
    refused(path, tmp_path, "no zip that can be read")


def test_a_locked_zip_is_told_apart(tmp_path, folder):
    path = pack(tmp_path / "x.zip", folder)
    raw = bytearray(path.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = raw.find(mark)
        while place >= 0:
            raw[place + offset] |= 1  # general purpose bit 0: encrypted (APPNOTE.TXT 4.4.4)
            place = raw.find(mark, place + 4)
    path.write_bytes(bytes(raw))
    refused(path, tmp_path, "locked with a password")
