"""A stranger's folder: every trick is a sentence, and nothing outside it is read or written."""

from __future__ import annotations

import io
import os
import zipfile

import pytest
import yaml
from PIL import Image

from rehearse.files.locations import resource
from rehearse.files.user_error import UserError
from rehearse.handout.sheet import drawings
from rehearse.music.position import parse_length, parse_position
from rehearse.routine import bones
from rehearse.routine.checks import load_thresholds
from rehearse.routine.folder import OpenedFolder, open_folder, save_folder
from rehearse.routine.merge import common_save, import_files
from rehearse.routine.model import Routine
from rehearse.routine.photos import check_picture, keep_picture, read_picture
from rehearse.routine.posefile import read_poses
from rehearse.routine.rules import list_rules, load_rules, sound_rules
from rehearse.routine.versions import list_versions
from rehearse.routine.zip_import import open_bundle

SECRET = "the neighbour's words"
HEAD = "format: 1\ntitle: Hand\ntrack: lanterns.ogg\n"


@pytest.fixture
def folder(tmp_path, routine, song):
    (tmp_path / "secret").write_text(f"format: 1\nname: {SECRET}\n")
    folder = tmp_path / "theirs"
    save_folder(folder, routine, song)
    return folder


def link_out(folder, name):
    (folder / name).parent.mkdir(exist_ok=True)
    (folder / name).unlink(missing_ok=True)
    (folder / name).symlink_to("../secret" if "/" not in name else "../../secret")


def pipe(folder, name):
    (folder / name).parent.mkdir(exist_ok=True)
    (folder / name).unlink(missing_ok=True)
    os.mkfifo(folder / name)


def endless(folder, name):
    (folder / name).parent.mkdir(exist_ok=True)
    (folder / name).unlink(missing_ok=True)
    (folder / name).symlink_to("/dev/zero")


def read_all(folder):
    opened = open_folder(folder)
    load_thresholds(opened.folder)
    list_rules(opened.folder)


TRICKS = [link_out, pipe, endless]


@pytest.mark.parametrize("trick", TRICKS)
@pytest.mark.parametrize("name", ["routine.yaml", "beats.yaml", "checks.yaml", "rules/club.yaml"])
def test_a_file_that_is_not_its_own_is_one_sentence(folder, trick, name):
    trick(folder, name)
    with pytest.raises(UserError) as caught:
        read_all(folder)
    assert SECRET not in caught.value.sentence
    assert "leads out" in caught.value.sentence or "device or a pipe" in caught.value.sentence


@pytest.mark.parametrize("name", ["rules", "voice", "pictures", "versions", "practice.sqlite"])
def test_a_room_of_the_folder_that_lies_elsewhere_is_refused(folder, tmp_path, name):
    (tmp_path / "elsewhere").mkdir()
    if (folder / name).is_dir():
        for file in (folder / name).iterdir():
            file.unlink()
        (folder / name).rmdir()
    (folder / name).symlink_to("../elsewhere")
    with pytest.raises(UserError, match="leads out"):
        open_folder(folder)
    assert not list((tmp_path / "elsewhere").iterdir())


@pytest.mark.parametrize(
    "name", ["../secret", "/etc/hostname", "a/../../secret", "C:/x", "..\\secret", "a\0b", "//x/y"]
)
@pytest.mark.parametrize("key", ["track", "picture"])
def test_a_name_that_leads_out_is_refused(folder, routine, song, key, name):
    text = repr(name).replace("'", '"')
    lines = HEAD.replace("lanterns.ogg", text) if key == "track" else HEAD
    own = f"own_poses:\n- name: slow\n  picture: {text}\n" if key == "picture" else ""
    (folder / "routine.yaml").write_text(f"{lines}poses: []\n{own}")
    with pytest.raises(UserError) as caught:
        open_folder(folder)
    assert SECRET not in caught.value.sentence


@pytest.mark.parametrize("trick", TRICKS)
def test_earlier_saves_that_are_links_or_pipes_are_passed_over(folder, routine, song, trick):
    name = "versions/routine 2026-11-25T100000.000000Z.yaml"
    trick(folder, name)
    assert not [v for v in list_versions(folder) if v.path == folder / name]
    assert common_save(folder, folder, song) is not None


@pytest.mark.parametrize("trick", TRICKS)
def test_a_picture_that_is_not_its_own_is_not_shown(folder, trick):
    text = f"{HEAD}poses: []\nown_poses:\n- name: slow\n  picture: pictures/slow.jpg\n"
    (folder / "routine.yaml").write_text(text)
    trick(folder, "pictures/slow.jpg")
    try:
        told = "\n".join(open_folder(folder).warnings)
    except UserError as error:
        told = error.sentence
    assert "leads out" in told or "device or a pipe" in told


def test_a_set_that_leads_out_does_not_come_along(folder, tmp_path, song):
    link_out(folder, "rules/club.yaml")
    mine = tmp_path / "mine"
    mine.mkdir()
    wanted = Routine("Hand", "lanterns.ogg", rules="club")
    with pytest.raises(UserError, match="leads out"):
        import_files(wanted, mine, OpenedFolder(folder, wanted, song))
    assert not (mine / "rules").exists()


def test_one_damaged_rule_set_does_not_take_the_others(folder):
    (folder / "rules").mkdir()
    (folder / "rules" / "bad.yaml").write_text("format: 1\nlimit: long\n")
    (folder / "rules" / "club.yaml").write_text("format: 1\nname: Club night\n")
    sets, errors = sound_rules(folder)
    assert {"club", "open"} <= {each.key for each in sets}
    assert errors
    assert load_rules("club", folder).name == "Club night"


def test_a_thousand_rule_sets_are_one_sentence(folder):
    (folder / "rules").mkdir()
    for number in range(1000):
        (folder / "rules" / f"{number}.yaml").write_text("format: 1\nname: x\n")
    with pytest.raises(UserError, match=r"theirs/rules: has 1,000 rule sets, 100 at most"):
        load_rules("open", folder)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (f"{HEAD}poses:\n" + "- {pose: crucifix, hit: 3:1}\n" * 12_000, "12,000 items, 2,000"),
        (f"{HEAD}poses:\n" + "- {pose: crucifix, hit: 3:1}\n" * 40_000, "more than 50000 values"),
        (f"{HEAD}poses:\n" + "- a\n" * 1_900, "there are more faults than these"),
        (f"{HEAD}poses: []\nsections:\n- {{start: 1:1, end: 2:1, name: {'x' * 3_000_000}}}\n",
         "name has 3,000,000 characters, 1,000 at most"),
        (f"{HEAD}poses:\n- {{pose: crucifix, hit: 3:1, note: {'x' * 50_000}}}\n",
         "note has 50,000 characters, 20,000 at most"),
        (f"{HEAD}poses:\n- {{pose: crucifix, hit: 3:1, note: {'x' * 10_000_000}}}\n",
         "is larger than 4 MB"),
        (f"{HEAD}poses:\n- {{pose: crucifix, hit: {'x' * 5000}}}\n",
         "routine.yaml, line 5: hit has 5,000 characters, 1,000 at most can be used – shorten it."),
        (f"{HEAD}poses:\n- {{pose: crucifix, hit: {'9' * 400}:1}}\n", "is no position"),
        (f"{HEAD}poses:\n- {{pose: crucifix, hit: 3:1, hold: {'9' * 400} counts}}\n", "no length"),
        (f"{HEAD}poses: []\nown_moves:\n- {{name: fan, pictures: [{'a.png, ' * 5000}]}}\n",
         "pictures has more than can be used, 20 of"),
        (f"{HEAD}poses:\n- {{pose: {'x' * 900}, hit: 3:1}}\n", "is no pose known here"),
        (f"{HEAD}poses: []\n{'x' * 1000}: 1\n", "is not known here"),
        (f"{HEAD}poses: []\nstage: {{start: 0 s, end: {'9' * 5000} s}}\n", "end has 5,002"),
    ],
)  # fmt: skip
def test_too_much_of_anything_is_a_short_sentence(folder, text, told):
    (folder / "routine.yaml").write_text(text)
    with pytest.raises(UserError) as caught:
        open_folder(folder)
    assert told.lower() in caught.value.sentence.lower()
    assert len(caught.value.sentence) < 40_000
    assert max(map(len, caught.value.sentence.splitlines())) < 800


def test_a_beat_map_of_a_million_rows_is_one_sentence(folder):
    head = 'format: 1\ntrack: "a"\nduration: 80.0\nbeats: |\n'
    (folder / "beats.yaml").write_text(head + "  1 1\n" * 400_000)
    with pytest.raises(UserError, match="beats has 400,000 rows, 20,000 at most"):
        open_folder(folder)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"arms": {"hand": list(bones.SHOULDER), "elbow": [0, 0, 1]}}, "bone without a length"),
        ({"lean": "nan"}, "has 'nan' where a number belongs"),
        ({"lean": 10**30}, "where a number belongs"),
        ({"legs": None}, "stands on unknown legs: nothing"),
        ({"name": "x" * 300}, "where a name of 200 letters belongs"),
        ({"arms": {"upper": [1], "lower": [1, 2]}}, "where a direction"),
        ({"arms": 5}, "is not written like the others"),
    ],
)
def test_a_damaged_pose_is_told_in_plain_words(tmp_path, change, told):
    data = yaml.safe_load(resource("poses.yaml").read_text("utf-8"))
    data["poses"] = [data["poses"][0] | change]
    (tmp_path / "poses.yaml").write_text(yaml.safe_dump(data))
    with pytest.raises(UserError, match=told):
        read_poses(tmp_path / "poses.yaml")


def photo(kind, size, **how):
    data = io.BytesIO()
    Image.new("RGB", size, "red").save(data, kind, **how)
    return data.getvalue()


@pytest.mark.parametrize("kind", ["jpeg", "png", "webp", "gif", "bmp"])
def test_the_head_of_a_photo_tells_its_size(tmp_path, kind):
    """Against Pillow, which wrote it."""
    path = tmp_path / "photo"
    path.write_bytes(photo(kind, (123, 45)))
    found = read_picture(path)
    assert (found.kind, found.width, found.height) == (kind, 123, 45)
    if kind == "webp":
        path.write_bytes(photo(kind, (123, 45), lossless=True))
        assert (read_picture(path).width, read_picture(path).height) == (123, 45)
    if kind == "jpeg":  # the size behind a long preview
        path.write_bytes(photo(kind, (123, 45), icc_profile=bytes(600_000)))
        check_picture(path)


SVG = '<svg xmlns="http://www.w3.org/2000/svg"><image href="../../secret"/></svg>'


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (SVG.encode(), r"is a drawing \(SVG\)"),
        (f'<?xml version="1.0"?>\n{SVG}'.encode(), r"is a drawing \(SVG\)"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "HEIC"),
        (b"#EXTM3U\n/etc/passwd", "isn't a readable image"),
        (b"", "isn't a readable image"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF", "isn't a readable image"),
        # A head of 63 megapixels without its pixels: told before any is decoded.
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\x24\0\0\0\x1b\0\x08\2\0\0\0", "has 64 megapixels"),
    ],
)
def test_what_is_no_photo_is_refused_in_words(folder, tmp_path, data, told):
    path = tmp_path / "photo.png"
    path.write_bytes(data)
    with pytest.raises(UserError, match=told):
        keep_picture(folder, path, "slow")
    assert not (folder / "pictures").exists()


def test_a_frame_larger_than_its_picture_is_not_decoded(folder):
    """GIF89a, section 20: a frame has a size of its own; here 60,000 by 60,000 in 9 by 9."""
    data = bytearray(photo("gif", (9, 9)))
    frame = data.find(b"\x2c\0\0\0\0\x09\0\x09\0")
    data[frame + 5 : frame + 9] = (60_000).to_bytes(2, "little") * 2
    (folder / "pictures").mkdir()
    (folder / "pictures" / "slow.gif").write_bytes(data)
    with pytest.raises(drawings.DAMAGE):
        drawings.photo(folder, "pictures/slow.gif")


def bundle(path, folder, names):
    with zipfile.ZipFile(path, "w") as archive:
        for name in ("routine.yaml", "beats.yaml"):
            archive.write(folder / name, name)
        for name in names:
            info = zipfile.ZipInfo("x")
            info.filename = name
            archive.writestr(info, b"x")
    return path


@pytest.mark.parametrize("name", ["", ".", "./.", "a\nb", "x" * 300, "a/" * 600 + "b"])
def test_a_zip_with_a_name_that_is_none_is_one_sentence(folder, tmp_path, name):
    path = bundle(tmp_path / "a.zip", folder, [name])
    into = tmp_path / "into"
    into.mkdir()
    with pytest.raises(UserError, match="which is no name of a file"):
        open_bundle(path, into)
    assert not list(into.iterdir())


def test_a_zip_of_a_hundred_thousand_files_is_refused_by_its_end(folder, tmp_path):
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for number in range(70_000):
            archive.writestr(f"{number}", b"")
    with pytest.raises(UserError, match="more than a routine can be"):
        open_bundle(path, tmp_path)


def test_unpacking_can_be_stopped(folder, tmp_path):
    path = bundle(tmp_path / "a.zip", folder, ["b"])
    into = tmp_path / "into"
    into.mkdir()

    class Stopped(Exception):
        pass

    def report(fraction, text):
        raise Stopped

    with pytest.raises(Stopped):
        open_bundle(path, into, report)
    assert not list(into.iterdir())


@pytest.mark.parametrize("text", ["0.0000001 s", "-0 s", "1.23456789012 s", "0.3 s", "12.40 s"])
def test_a_position_is_read_as_it_is_written_again(text):
    found = parse_position(text)
    assert parse_position(str(found)) == found
    assert str(parse_position(str(found))) == str(found)


@pytest.mark.parametrize("text", ["0.0000001 s", "0.33333 counts", "0.0004 s", "2.5 s", "1 count"])
def test_a_length_is_read_as_it_is_written_again(text):
    found = parse_length(text)
    assert parse_length(str(found)) == found
