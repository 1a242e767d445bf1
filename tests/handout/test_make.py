"""Handouts as the command makes them: files, sentences, full disks, the zip opened elsewhere."""

from __future__ import annotations

import argparse
import errno
import os
import sqlite3
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from rehearse import words
from rehearse.cli import main
from rehearse.files.inside import safe_name
from rehearse.files.user_error import UserError
from rehearse.handout import cue_video, make_handout
from rehearse.handout.handout_options import KINDS, HandoutOptions, add_arguments
from rehearse.handout.make import make
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import OwnPose
from rehearse.routine.start import free_name
from rehearse.routine.versions import COPIED, list_versions
from rehearse.routine.zip_import import open_bundle
from rehearse.ui.stage.frames import StageFrames


def parsed(*words):
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    return parser.parse_args(words)


def test_arguments_become_options():
    options = HandoutOptions.of(
        parsed(
            *("--kind", "cue-track", "--out", "x.mp3", "--section", "Opening", "--section", "Back"),
            *("--tempos", "60,80,100%", "--clicks", "off", "--turns", "--count-in", "8"),
        )
    )
    assert options.section == ("Opening", "Back")
    assert options.tempos == (0.6, 0.8, 1.0)
    assert options.choice.levels.clicks.value == "off"
    assert options.choice.levels.counts.value == "loud"
    assert options.choice.turns
    assert options.choice.counts == 8
    assert HandoutOptions.of(parsed("--kind", "zip", "--out", "x")) == HandoutOptions()


@pytest.mark.parametrize(
    "words",
    [
        ("--tempos", "20"),
        ("--tempos", "x"),
        ("--rest", "61"),
        ("--name-speed", "900"),
        ("--kind", "poster"),
        ("--tempos", ","),
        ("--tempos", "nan"),
        ("--rest", "long"),
        ("--silence", "11"),
        ("--count-speed", "fast"),
        ("--count-in", "9"),
    ],
)
def test_wrong_arguments_are_refused_in_plain_words(words, capsys):
    with pytest.raises(SystemExit):
        parsed("--kind", "sheet", "--out", "x", *words)
    usage, sentence = capsys.readouterr().err.strip().splitlines()
    assert "[option ...]" in usage
    assert words[0] in sentence
    assert "invalid _" not in sentence  # the name of a function


@pytest.mark.parametrize(
    ("kind", "words", "wrong"),
    [
        ("sheet", ("--section", "Back"), "--section"),
        ("zip", ("--silence", "0"), "--silence"),
        ("stage-music", ("--turns",), "--turns"),
        ("cue-track", ("--log",), "--log"),
        ("sheet", ("--no-music",), "--no-music"),
    ],
)
def test_an_option_of_another_kind_is_told_and_never_left_out_silently(
    folder, tmp_path, kind, words, wrong
):
    given = parsed("--kind", kind, "--out", str(tmp_path), *words)
    with pytest.raises(UserError, match=f"{wrong} is for another kind"):
        make(folder, kind, tmp_path, given)


def test_a_name_and_a_format_that_disagree_are_one_sentence(folder, tmp_path):
    for kind, name, form in (
        *(("sheet", "x.pdf", "png"), ("cue-track", "x.mp3", "flac")),
        *(("stage-music", "x.aac", ""), ("zip", "x.rar", "")),
    ):
        with pytest.raises(UserError, match="let it end in"):
            make(folder, kind, tmp_path / name, HandoutOptions(format=form))


def test_what_lies_in_the_folder_is_never_replaced(folder, tmp_path):
    out = tmp_path / "Show 1.2"
    out.mkdir()
    for name in (
        "Test Night Übung.rehearse.zip",
        "Open class 30s.wav",
        "Open class 30s 2 checklist.txt",
    ):
        (out / name).write_text("earlier")
    (path,) = make_handout(folder, "zip", out)
    assert path.name == "Test Night Übung 2.rehearse.zip"
    made = make(folder, "stage-music", out, HandoutOptions(format="wav"))
    assert [p.name for p in made.paths] == [
        *("Open class 30s 2.wav", "Open class 30s 2 checklist 2.txt"),
    ]
    assert "An earlier Open class 30s.wav is kept" in made.warnings[0]
    assert sum(p.read_bytes() == b"earlier" for p in out.iterdir()) == 3
    first, _ = make_handout(folder, "sheet", out, HandoutOptions(format="png", style="wall"))
    assert first.name == "Test Night Übung large print for the wall page 1.png"


def test_an_unticked_checklist_is_not_made_again(folder, tmp_path):
    for _ in range(3):
        made = make(folder, "stage-music", tmp_path, HandoutOptions(format="wav"))
    (notes,) = tmp_path.glob("*checklist*.txt")
    assert notes.read_text(encoding="utf-8").startswith(made.paths[0].name)
    notes.write_text(notes.read_text(encoding="utf-8").replace("[ ]", "[x]"), encoding="utf-8")
    make(folder, "stage-music", tmp_path, HandoutOptions(format="wav"))
    assert len(list(tmp_path.glob("*checklist*.txt"))) == 2


def test_files_are_named_in_the_language_of_the_day(folder, tmp_path, monkeypatch):
    """A German sheet's pictures, page and checklist had English names."""
    out = tmp_path / "handed out"
    out.mkdir()
    (page,) = make(folder, "page", out).paths
    (_music, earlier) = make(folder, "stage-music", out, HandoutOptions(format="wav")).paths
    assert page.stem.endswith(" page")
    assert earlier.stem.endswith(" checklist")
    before = {path: path.read_bytes() for path in out.iterdir()}
    german = words.TextCatalogue(words.folder() / "de.po").messages
    monkeypatch.setattr(words, "_messages", german)
    (page,) = make(folder, "page", out).paths
    (_music, notes) = make(folder, "stage-music", out, HandoutOptions(format="wav")).paths
    sheets = make(folder, "sheet", out, HandoutOptions(format="png", style="wall")).paths
    assert page.stem.endswith(" Seite für den Coach")
    assert notes.stem.endswith(" Checkliste")
    assert [path.stem.endswith(f" Seite {k}") for k, path in enumerate(sheets, 1)] == [True] * len(
        sheets
    )
    assert len(sheets) > 1
    assert {path: path.read_bytes() for path in before} == before
    for text in ("{title} cues {words}", "{title} video {words}"):
        name = german[text][0].format(title="Copper: Lights", words="60 %")
        assert " Cue-" in safe_name(name)


@pytest.mark.parametrize(
    ("kind", "name", "second"),
    [
        ("sheet", "mine.pdf", "mine 2.pdf"),
        ("sheet", "mine.png", "mine 2.png"),
        ("zip", "mine.zip", "mine 2.zip"),
        ("stage-music", "mine.wav", "mine 2.wav"),
    ],
)
def test_a_file_that_was_named_and_is_there_is_kept(folder, tmp_path, kind, name, second):
    first = make(folder, kind, tmp_path / name).paths[0]
    before = first.read_bytes()
    made = make(folder, kind, tmp_path / name)
    assert made.paths[0].name == second
    assert first.read_bytes() == before
    assert made.warnings[0].startswith("An earlier mine")
    assert "is kept; the new one is mine 2" in made.warnings[0]


def test_the_command_makes_every_kind_into_a_folder(qapp, folder, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(cue_video, "SCREENS", {"landscape": (480, 270)})
    out = tmp_path / "out"
    out.mkdir()
    for kind in KINDS:
        extra = ["--format", "flac"] if kind in ("cue-track", "stage-music") else []
        extra = ["--transition", "2"] if kind == "cue-video" else extra
        words = ["handout", str(folder), "--kind", kind, "--out", str(out), *extra]
        assert main(words) == 0
    names = sorted(p.name for p in out.iterdir())
    assert names == [
        "Open class 30s checklist.txt",
        "Open class 30s.flac",
        "Test Night Übung cues whole routine.flac",
        "Test Night Übung page.html",
        "Test Night Übung routine sheet.pdf",
        "Test Night Übung video way into pose 2.mp4",
        "Test Night Übung.rehearse.zip",
    ]
    printed = capsys.readouterr().out
    assert all(name in printed for name in names)


def test_a_file_name_decides_the_format_and_pictures_are_numbered(folder, tmp_path):
    (path,) = make_handout(folder, "sheet", tmp_path / "card.png", HandoutOptions(style="wallet"))
    assert path.read_bytes().startswith(b"\x89PNG")
    paths = make_handout(folder, "sheet", tmp_path / "wall.png", HandoutOptions(style="wall"))
    assert [p.name for p in paths] == ["wall page 1.png", "wall page 2.png"]
    stage, notes = make_handout(folder, "stage-music", tmp_path / "own.wav")
    assert stage.read_bytes()[:4] == b"RIFF"
    assert "[ ] Length: the music is 30.0 s" in notes.read_text()


@pytest.mark.parametrize(
    ("kind", "name"), [("sheet", "x.docx"), ("cue-track", "x.wma"), ("stage-music", "x.pdf")]
)
def test_an_unknown_ending_is_one_sentence(folder, tmp_path, kind, name):
    with pytest.raises(UserError, match="choose"):
        make_handout(folder, kind, tmp_path / name)
    with pytest.raises(UserError, match="no handout"):
        make_handout(folder, "poster", tmp_path)


@pytest.mark.parametrize(
    ("code", "words"), [(errno.ENOSPC, "disk is full"), (errno.EROFS, "no permission")]
)
@pytest.mark.parametrize("kind", list(KINDS))
def test_a_full_disk_or_a_read_only_folder_is_one_sentence_and_nothing_is_lost(
    qapp, folder, tmp_path, monkeypatch, kind, code, words
):
    ending = {"sheet": "pdf", "zip": "zip", "cue-video": "mp4", "page": "html"}.get(kind, "wav")
    monkeypatch.setattr(cue_video, "SCREENS", {"landscape": (480, 270)})
    path = tmp_path / f"mine.{ending}"
    path.write_text("what was there before")
    real = os.replace

    def refuse(source, target):
        if Path(target).parent == tmp_path:
            raise OSError(code, os.strerror(code))
        real(source, target)

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(UserError, match=words) as caught:
        make(folder, kind, path, HandoutOptions(transition=(2,)), painter=StageFrames)
    assert "\n" not in caught.value.sentence
    assert path.read_text() == "what was there before"
    assert [p.name for p in tmp_path.iterdir() if p.name != "night"] == [path.name]


def test_a_missing_song_and_a_folder_that_is_none_are_one_sentence(folder, tmp_path):
    (folder / "song.wav").unlink()
    with pytest.raises(UserError, match=r"song\.wav"):
        make_handout(folder, "stage-music", tmp_path)
    with pytest.raises(UserError):
        make_handout(tmp_path / "nowhere", "sheet", tmp_path)
    with pytest.raises(UserError, match="no such folder"):
        make_handout(folder, "sheet", tmp_path / "no" / "where.pdf")


def test_the_zip_opens_elsewhere_as_it_is(folder, tmp_path):
    (folder / "pictures").mkdir()
    (folder / "pictures" / "own.jpg").write_bytes(b"picture")
    (folder / "pictures" / ".hidden").write_bytes(b"x")
    (folder / "voice").mkdir()
    (folder / "voice" / "5.wav").write_bytes(b"voice")
    (folder / "versions").mkdir(exist_ok=True)
    (folder / "versions" / "old.yaml").write_text("x")
    (tmp_path / "secret.txt").write_text("not for the coach")
    (folder / "pictures" / "link.jpg").symlink_to(tmp_path / "secret.txt")
    with sqlite3.connect(folder / "practice.sqlite") as log:
        log.execute("PRAGMA journal_mode=WAL")
        log.execute("CREATE TABLE passes (n)")
        log.execute("INSERT INTO passes VALUES (7)")
        log.commit()
        options = HandoutOptions(music=True, log=True)
        (path,) = make_handout(folder, "zip", tmp_path / "coach.zip", options)
    log.close()
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        names, kept = sorted(archive.namelist()), [v.name for v in list_versions(folder)]
        # The state both copies come from goes along.
        assert kept == [COPIED]
        names.remove(f"coach/versions/{list_versions(folder)[0].path.name}")
        assert names == [
            *("coach/beats.yaml", "coach/pictures/own.jpg", "coach/practice.sqlite"),
            *("coach/routine.yaml", "coach/song.wav", "coach/voice/5.wav"),
        ]
    (tmp_path / "elsewhere").mkdir()
    opened = open_bundle(path, tmp_path / "elsewhere")
    assert opened == tmp_path / "elsewhere" / "coach"
    there, here = open_folder(tmp_path / "elsewhere" / "coach"), open_folder(folder)
    assert (there.routine, there.beatmap) == (here.routine, here.beatmap)
    copy = sqlite3.connect(tmp_path / "elsewhere" / "coach" / "practice.sqlite")
    assert copy.execute("SELECT n FROM passes").fetchall() == [(7,)]
    copy.close()


def test_the_zip_holds_what_the_routine_names_wherever_it_lies(folder, tmp_path):
    (folder / "photos").mkdir()
    (folder / "photos" / "lean.jpg").write_bytes(b"picture")
    (folder / "photos" / "other.jpg").write_bytes(b"not named")
    (folder / "checks.yaml").write_text("format: 1\n")
    (folder / "remarks.yaml").write_text("format: 1\n")
    own = (OwnPose("lean", picture="photos/lean.jpg"), OwnPose("bow", picture="photos/gone.jpg"))
    opened = open_folder(folder)
    save_folder(folder, replace(opened.routine, own_poses=own), opened.beatmap)
    made = make(folder, "zip", tmp_path / "Show: one.zip")
    assert made.warnings == (
        "The picture photos/gone.jpg is not in the folder, and so not in the zip.",
    )
    (tmp_path / "elsewhere").mkdir()
    there = open_bundle(made.paths[0], tmp_path / "elsewhere")
    inside = sorted(p.relative_to(there).as_posix() for p in there.rglob("*") if p.is_file())
    assert inside.pop().startswith("versions/routine ")
    assert inside == [
        *("beats.yaml", "checks.yaml", "photos/lean.jpg", "remarks.yaml", "routine.yaml"),
        "song.wav",
    ]


def test_the_zip_has_the_song_and_no_logbook_unless_wished_otherwise(folder, tmp_path):
    (folder / "practice.sqlite").write_bytes(b"")
    (path,) = make_handout(folder, "zip", tmp_path, parsed("--kind", "zip", "--out", "x"))
    with zipfile.ZipFile(path) as archive:
        names = [Path(name) for name in archive.namelist()]
    inside = sorted(name.name for name in names if name.parent.name != "versions")
    assert inside == ["beats.yaml", "routine.yaml", "song.wav"]
    without = parsed("--kind", "zip", "--out", "x", "--no-music")
    made = make(folder, "zip", tmp_path, without)
    with zipfile.ZipFile(made.paths[0]) as archive:
        assert "song.wav" not in {Path(name).name for name in archive.namelist()}
    assert made.sentence.endswith("as it is, once its song, song.wav, lies in its folder there.")


def test_a_limit_overrun_is_said(folder, tmp_path):
    text = (folder / "routine.yaml").read_text().replace("end: 31.00 s", "end: 36.00 s")
    rules = folder / "rules"
    rules.mkdir()
    (rules / "short.yaml").write_text("format: 1\nname: Short\nlimit: 30 s\n")
    (folder / "routine.yaml").write_text(text + "rules: short\n")
    made = make(folder, "stage-music", tmp_path, HandoutOptions(format="wav"))
    assert made.warnings == (
        "The music is 5.0 s over the limit of 30 s – trim it on the Music page.",
    )
    assert "[!] Length: 35.0 s, over the limit of 30 s" in made.paths[1].read_text()


@pytest.mark.parametrize("title", [".", "..", "/"])
def test_a_title_that_is_no_name_of_a_file_makes_no_hidden_one(folder, tmp_path, title):
    opened = open_folder(folder)
    save_folder(folder, replace(opened.routine, title=title), opened.beatmap)
    (path,) = make(folder, "zip", tmp_path).paths
    assert path.name == "routine.rehearse.zip"
    assert open_bundle(path, tmp_path).name == "routine"
    assert free_name(tmp_path, title).name == "routine 2"
