"""`rehearse check`: the exit status is 1 on a fault and only then."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from rehearse.cli import main
from rehearse.routine.folder import save_folder


@pytest.fixture
def folder(tmp_path, routine, song):
    save_folder(tmp_path, routine, song)
    return tmp_path


def test_warnings_leave_it_at_nought(folder, capsys):
    assert main(["check", str(folder)]) == 0
    printed = capsys.readouterr()
    assert "Rules: Open, 60 s" in printed.out
    assert "The song lanterns.ogg is not in the folder" in printed.err


def test_a_fault_makes_it_one(folder, routine, song, capsys):
    save_folder(folder, replace(routine, stage=None), song)  # 80 s against 60 s
    assert main(["check", str(folder)]) == 1
    assert "FAULT" in capsys.readouterr().out
    assert main(["check", str(folder), "--rules", "open-90", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["rules"]["key"] == "open-90"


def test_what_cannot_be_opened_is_told_fault_by_fault(folder, capsys):
    (folder / "routine.yaml").write_text("format: 1\ntitel: x\n")
    assert main(["check", str(folder)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert "routine.yaml, line 2: 'titel' is not known here – write title." in lines
    assert len(lines) == 3
