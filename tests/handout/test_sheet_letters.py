"""Letters of the sheet that no bundled face has, words read from the right, and photos."""

from __future__ import annotations

import io
import shutil
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from rehearse.files.locations import resource
from rehearse.handout.handout_source import make_source
from rehearse.handout.sheet import machine, make_sheet, sheet_pictures, typesetting
from rehearse.handout.sheet.direction import printed
from rehearse.routine.model import OwnPose
from tests.handout.test_sheet import words_of


def test_what_is_read_from_the_right_is_printed_so():
    # Forms by the Unicode Standard's chart Arabic Presentation Forms-B: "house" is beh initial,
    # yeh medial, teh final; alef and reh join only to what comes before them.
    assert printed("بيت") == "\ufe96\ufef4\ufe91"
    assert printed("دار") == "\ufead\ufe8d\ufea9"
    assert printed("שלום") == "םולש"
    assert printed("front שלום (שם) 12") == "front (םש) םולש 12"
    assert printed("שלום 12 שם") == "םש 12 םולש"
    assert printed("Übung – side (left)") == "Übung – side (left)"


def test_pictures_are_one_a_page_and_show_ink(source):
    for picture in sheet_pictures(make_sheet(source, style="wall").pdf, 60):
        image = Image.open(io.BytesIO(picture))
        assert image.format == "PNG"
        assert (np.asarray(image) < 128).mean() > 0.01


def test_an_own_photo_stands_in_for_the_figure_and_a_bad_one_is_named(made, source, tmp_path):
    (tmp_path / "pictures").mkdir()
    Image.new("RGB", (4000, 3000), (200, 40, 40)).save(tmp_path / "pictures/own.jpg")
    (tmp_path / "pictures/bad.png").write_bytes(b"\x89PNG nothing")
    own = (
        OwnPose("my lunge", picture="pictures/own.jpg"),
        OwnPose("my twist", picture="pictures/bad.png"),
        OwnPose("my lean", picture="../outside.jpg"),
    )
    hits = ("2:1", "3:1", "4:1")
    poses = tuple(
        replace(source.routine.poses[k], pose=p.name) for k, p in enumerate(own[: len(hits)])
    )
    routine = replace(source.routine, own_poses=own, poses=poses)
    sheet = make_sheet(make_source(tmp_path, routine, source.beatmap))
    assert len(sheet.warnings) == 2
    assert all("the figure is printed" in w for w in sheet.warnings)
    page = np.asarray(Image.open(io.BytesIO(sheet_pictures(sheet.pdf, 72)[0])))
    photo = (page > 70) & (page < 110)  # that red in grey
    assert photo.sum() > 500


def test_a_clear_picture_shows_the_paper_and_not_what_lies_under_its_clearness(source, tmp_path):
    (tmp_path / "pictures").mkdir()
    clear = Image.new("RGBA", (300, 300), (0, 0, 0, 0))
    clear.paste((0, 0, 0, 255), (140, 140, 160, 160))
    clear.save(tmp_path / "pictures/own.png")
    pose = replace(source.routine.poses[0], pose="mine")
    routine = replace(
        source.routine, own_poses=(OwnPose("mine", picture="pictures/own.png"),), poses=(pose,)
    )
    sheet = make_sheet(make_source(tmp_path, routine, source.beatmap))
    page = np.asarray(Image.open(io.BytesIO(sheet_pictures(sheet.pdf, 72)[0])))
    figure = page[100:200, 75:150]
    assert (figure < 128).mean() < 0.1


@pytest.fixture
def letters_of_the_machine(monkeypatch, tmp_path):
    """Fontconfig knows one font, the bundled one with Cyrillic letters, which the sheet forgets."""
    if shutil.which("fc-list") is None:
        pytest.skip("fontconfig's fc-list is not installed")
    (tmp_path / "fonts").mkdir()
    font = resource("fonts/print/DejaVuSansCondensed.ttf")
    (tmp_path / "fonts" / "Other.ttf").write_bytes(font.read_bytes())
    (tmp_path / "fonts.conf").write_text(
        f"<fontconfig><dir>{tmp_path}/fonts</dir><cachedir>{tmp_path}/kept</cachedir></fontconfig>"
    )
    monkeypatch.setenv("FONTCONFIG_FILE", str(tmp_path / "fonts.conf"))
    covered = {**typesetting.load_faces(), typesetting.OTHER: frozenset()}
    monkeypatch.setattr(typesetting, "load_faces", lambda: covered)
    monkeypatch.setattr(machine, "_found", [])
    for cached in (machine.face_for, typesetting._width_of_point):
        cached.cache_clear()
    yield
    for cached in (machine.face_for, typesetting._width_of_point):
        cached.cache_clear()


def test_letters_no_bundled_face_has_come_from_a_font_of_the_machine(
    source, tmp_path, tool, letters_of_the_machine
):
    sheet = make_sheet(source)  # one of its notes is Cyrillic
    assert sheet.warnings == ()
    (words, *_) = words_of(sheet.pdf, tmp_path, tool)
    assert "Дыши спокойно" in " ".join(w[4] for w in words)
    assert "DejaVuSansCondensed" in tool("pdffonts", str(tmp_path / "sheet.pdf"))


def test_alphabets_with_joined_letters_are_set_as_pictures_of_words(
    source, tmp_path, tool, letters_of_the_machine, monkeypatch
):
    lost = make_sheet(source, style="wall").pdf
    machine.face_for.cache_clear()
    typesetting._width_of_point.cache_clear()
    monkeypatch.setattr(machine, "_found", [])
    monkeypatch.setattr(machine, "_SHAPED", ((0x0400, 0x04FF),))
    sheet = make_sheet(source, style="wall")
    assert sheet.warnings == ()
    pages = words_of(sheet.pdf, tmp_path, tool)
    assert "спокойно" not in " ".join(w[4] for page in pages for w in page)
    assert len(tool("pdfimages", "-list", str(tmp_path / "sheet.pdf")).splitlines()) > 2
    # What is seen is the same, give or take how a grey edge is drawn.
    for one, other in zip(sheet_pictures(lost, 40), sheet_pictures(sheet.pdf, 40), strict=True):
        a, b = (np.asarray(Image.open(io.BytesIO(p))).astype(float) for p in (one, other))
        assert np.abs(a - b).mean() < 0.6


@pytest.mark.parametrize(
    ("text", "package"),
    [
        *(("夜", "fonts-noto-cjk"), ("の", "fonts-noto-cjk"), ("고", "fonts-noto-cjk")),
        *(("ไทย", "fonts-thai-tlwg"), ("🔥", "fonts-noto-color-emoji"), ("ꦗ", "fonts-noto-core")),
    ],
)
def test_letters_no_face_has_are_named_with_the_package_that_has_them(
    source, text, package, monkeypatch
):
    # The packages are Debian's, by `apt-cache search` in its release 12.
    monkeypatch.setattr(machine.shutil, "which", lambda name: name if name == "dpkg" else None)
    monkeypatch.setattr(machine, "font_folders", lambda: ())
    monkeypatch.setattr(machine, "_found", [])
    machine.face_for.cache_clear()
    typesetting._width_of_point.cache_clear()
    routine = replace(source.routine, title=f"{text} Night")
    sheet = make_sheet(make_source(source.folder, routine, source.beatmap))
    machine.face_for.cache_clear()
    typesetting._width_of_point.cache_clear()
    assert len(sheet.warnings) == 1
    assert text[0] in sheet.warnings[0]
    assert sheet.warnings[0].endswith(f"fonts are in the package {package}.")


def test_what_joins_emoji_stands_for_nothing(source):
    assert (
        "".join(piece for _, piece in typesetting.runs("a\u200d\ufe0fb", typesetting.REGULAR))
        == "ab"
    )
    assert typesetting.unprintable("\u200d\ufe0f") == ""


@pytest.mark.parametrize("tools", [("dpkg",), ()])
def test_without_fontconfig_the_systems_font_folders_are_looked_through(monkeypatch, tools):
    """As on Windows and on a Mac: the bundled faces stand in for the system's."""
    monkeypatch.setattr(machine.shutil, "which", lambda name: name if name in tools else None)
    monkeypatch.setattr(machine, "font_folders", lambda: (resource("fonts"),))
    monkeypatch.setattr(machine, "_found", [])
    machine.face_for.cache_clear()
    try:
        face = machine.face_for(ord("Ж"))
        assert face is not None
        assert ord("Ж") in face.characters
        assert machine.face_for(0x4E2D) is None
        assert machine.package_for(0x4E2D) == ("fonts-noto-cjk" if tools else "")
    finally:
        machine.face_for.cache_clear()


@pytest.mark.parametrize(("system", "part"), [("win32", "Fonts"), ("darwin", "Library/Fonts")])
def test_each_system_has_its_font_folders(monkeypatch, system, part):
    monkeypatch.setattr(machine.sys, "platform", system)
    assert any(folder.as_posix().endswith(part) for folder in machine.font_folders())
