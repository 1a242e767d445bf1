"""The commands as a user types them, in processes of their own where the exit status matters."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from rehearse import __version__
from rehearse.cli import main
from rehearse.practice.logbook import Logbook
from rehearse.routine.folder import open_folder

from .practice.made import make_pass

DEMO = Path(__file__).resolve().parent.parent / "demo" / "copper-lights"


@pytest.fixture
def folder(tmp_path):
    return Path(shutil.copytree(DEMO, tmp_path / "copper-lights"))


def run(*arguments):
    command = [sys.executable, "-m", "rehearse", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_version_and_help_with_examples():
    assert run("--version").stdout.strip() == f"rehearse {__version__}"
    text = run("--help").stdout
    assert "examples:" in text
    assert "rehearse dry-run my-routine" in text


def test_a_command_is_not_called_required_for_none_is():
    text = run("--help").stdout
    assert text.startswith("usage: rehearse [-h] [--version] [--language CODE] [COMMAND ...]")
    assert "Without a command the window opens" in text


@pytest.mark.parametrize("name", ["nowhere", "empty", "track.ogg"])
def test_opening_what_is_no_routine_is_one_sentence_at_once(name, tmp_path):
    (tmp_path / "empty").mkdir()
    shutil.copy(DEMO / "track.ogg", tmp_path)
    command = [sys.executable, "-m", "rehearse", "open", str(tmp_path / name)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=20)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert name in done.stderr


def test_a_new_routine_from_a_song(tmp_path, capsys):
    song = tmp_path / "Paper_Lanterns.ogg"
    shutil.copy(DEMO / "track.ogg", song)
    assert main(["new", str(song), str(tmp_path / "mine")]) == 0
    told = capsys.readouterr()
    assert told.out == f"{tmp_path / 'mine'}\n"
    assert "counts a minute" in told.err
    opened = open_folder(tmp_path / "mine")
    assert (opened.routine.title, opened.routine.rules) == ("Paper Lanterns", "open-60")
    assert opened.routine.stage.length == 60.0
    assert opened.warnings == ()
    assert main(["new", str(song), str(tmp_path / "mine")]) == 2
    assert "something there already" in capsys.readouterr().err
    assert main(["new", str(song), str(tmp_path / "other"), "--rules", "opem-60"]) == 2
    assert "choose open-60" in capsys.readouterr().err
    assert main(["new", str(tmp_path / "none.ogg"), str(tmp_path / "other")]) == 2
    assert "no such file" in capsys.readouterr().err
    assert not (tmp_path / "other").exists()


def test_a_sound_routine_passes_its_check(folder, capsys):
    assert main(["check", str(folder)]) == 0
    assert "Copper Lights: 75.0 s, 16 poses" in capsys.readouterr().out


def test_a_routine_too_long_for_its_rules_fails_its_check(folder, capsys):
    assert main(["check", str(folder), "--rules", "open-60", "--json"]) == 1
    report = json.loads(capsys.readouterr().out)
    assert report["fault"] is True
    assert any(f["severity"] == "fault" for f in report["findings"])


def test_faults_are_one_sentence_with_file_and_line(folder):
    text = (folder / "routine.yaml").read_text()
    (folder / "routine.yaml").write_text(text.replace("hit: '2:1'", "hit: 2:9"))
    done = run("check", folder)
    assert done.returncode == 2
    assert "routine.yaml, line" in done.stderr
    assert "3:5" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("command", [["check"], ["log"], ["dry-run", "--out", "x"], ["handout"]])
def test_a_missing_folder_is_said_plainly(command, tmp_path):
    extra = ["--kind", "sheet", "--out", str(tmp_path)] if command == ["handout"] else []
    done = run(command[0], tmp_path / "nowhere", *command[1:], *extra)
    assert done.returncode == 2
    assert "there is no such" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_routine_without_practice_has_no_log_yet(folder, capsys):
    assert main(["log", str(folder)]) == 2
    assert "no logbook yet" in capsys.readouterr().err


def test_the_log_of_a_linked_logbook_is_refused_and_nothing_written_outside(folder, tmp_path):
    outside = tmp_path / "outside.sqlite"
    for target in (outside, tmp_path / "made by it.sqlite"):
        with contextlib.suppress(FileNotFoundError):
            (folder / "practice.sqlite").unlink()
        (folder / "practice.sqlite").symlink_to(target)
        outside.write_bytes(b"mine")
        for command in (["log"], ["check"], ["dry-run", "--out", tmp_path / "out"]):
            done = run(command[0], folder, *command[1:])
            assert done.returncode == 2
            assert "leads out of the routine's folder" in done.stderr
        assert outside.read_bytes() == b"mine"
        assert not (tmp_path / "made by it.sqlite").exists()
        assert not list(tmp_path.glob("*-wal"))


def test_a_damaged_logbook_is_told_and_what_can_be_read_is_listed(folder, capsys):
    (folder / "practice.sqlite").write_bytes(b"no logbook")
    assert main(["log", str(folder)]) == 0
    told = capsys.readouterr()
    assert told.out.startswith("date")
    assert "the logbook was damaged, 0 passes could be read from it" in told.err
    assert (next(folder.glob("practice damaged *"))).read_bytes() == b"no logbook"


def test_names_in_the_log_are_never_obeyed_by_the_terminal(folder, capsys):
    with Logbook(folder / "practice.sqlite") as book:
        book.record(make_pass(section_name="Opening\x1b[2J\nnext"))
    assert main(["log", str(folder)]) == 0
    told = capsys.readouterr().out
    assert "\x1b" not in told
    assert len(told.splitlines()) == 2


@pytest.mark.parametrize("tempo", ["39", "106", "fast"])
def test_an_impossible_tempo_is_refused(folder, tempo):
    done = run("dry-run", folder, "--tempo", tempo, "--out", folder / "out")
    assert done.returncode == 2
    assert not (folder / "out").exists()


def test_an_unknown_section_names_the_ones_there_are(folder):
    done = run("dry-run", folder, "--section", "Middle", "--out", folder / "out")
    assert done.returncode == 2
    assert "Opening, Front and sides, Back" in done.stderr


def test_beats_are_printed_as_the_open_datasets_write_them(folder, capsys):
    assert main(["beats", str(folder / "track.ogg")]) == 0
    rows = [line.split("\t") for line in capsys.readouterr().out.splitlines()]
    times = [float(time) for time, _ in rows]
    assert times == sorted(times)
    assert {int(place) for _, place in rows} <= set(range(1, 7))
    assert len(rows) > 80


def test_a_dry_run_logs_its_passes_as_such(folder, capsys, qapp):
    arguments = ["--section", "opening", "--tempo", "80", "--passes", "2"]
    assert main(["dry-run", str(folder), *arguments, "--out", str(folder / "out")]) == 0
    capsys.readouterr()
    assert main(["log", str(folder), "--csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [(r["what"], r["tempo"], r["dry run"]) for r in rows] == [
        ("Opening", "80 %", "dry run")
    ] * 2


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["dry-run", "x", "--out", "y", "--tempo", "fast"], "fast is not a number from 40 to 105"),
        (["dry-run", "x", "--out", "y", "--tempo", "nan"], "nan is not a number from 40 to 105"),
        (["dry-run", "x", "--out", "y", "--passes", "1.5"], "1.5 is not a number from 1 to 99"),
        (["dry-run", "x"], "the following arguments are required: --out"),
    ],
)
def test_wrong_options_are_one_line(capsys, arguments, told):
    with pytest.raises(SystemExit) as left:
        main(arguments)
    said = capsys.readouterr().err
    assert left.value.code == 2
    assert told in said
    assert said.endswith("– see rehearse dry-run --help.\n")
    assert said.count("\n") == 1


def test_a_comparison_round_into_files_by_command(folder, tmp_path, capsys, qapp):
    out = tmp_path / "round"
    options = ["--round", "turns", "--hold", "2", "--seed", "9"]
    assert main(["dry-run", str(folder), *options, "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "Quarter turns, 5 calls" in said
    assert "seed 9" in said
    with (out / "calls.csv").open(newline="") as file:
        assert len(list(csv.DictReader(file))) == 5
    for wrong in (["--hold", "5"], ["--round", "turns", "--tempo", "70"]):
        assert main(["dry-run", str(folder), *wrong, "--out", str(out)]) == 2
        assert capsys.readouterr().err.count("\n") == 1


def test_a_comparison_round_for_the_phone_repeats_by_its_seed(folder, tmp_path, capsys):
    command = ["handout", str(folder), "--kind", "cue-track", "--round", "random", "--calls", "2"]
    command += ["--hold", "2", "--call-rest", "0", "--format", "wav"]
    sounds = []
    for name, more in (("a", ["--seed", "4"]), ("b", ["--seed", "4"])):
        path = tmp_path / f"{name}.wav"
        assert main([*command, *more, "--out", str(path)]) == 0
        sounds.append(path.read_bytes())
    assert sounds[0] == sounds[1]
    assert "Seed 4 makes the same again" in capsys.readouterr().err
    assert main(["handout", str(folder), "--kind", "sheet", "--round", "turns", "--out", "."]) == 2
    assert "--round" in capsys.readouterr().err
