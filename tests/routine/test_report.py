"""The checks of a folder as a table and as JSON."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from rehearse.files.user_error import UserError
from rehearse.routine.folder import OpenedFolder
from rehearse.routine.report import as_json, as_table, report


@pytest.fixture
def opened(tmp_path, routine, song):
    return OpenedFolder(tmp_path, routine, song)


def test_the_table_says_where_why_and_what_to_do(opened):
    text = as_table(report(opened, "ifbb-pro-mens-bodybuilding"))
    assert text.startswith("Paper Lanterns: 60.0 s, 5 poses\nRules: IFBB Pro men's bodybuilding\n")
    assert "warning 5:1      no hit for 10.2 s, from here to 7:5& – add a pose" in text
    assert "does not show front lat spread" in " ".join(text.split())
    assert "Remember: ask the promoter how long the music may be" in text
    assert "Not confirmed: the length of the routine" in text
    assert text.endswith("Check your show's own sheet.\n")
    assert max(len(line) for line in text.splitlines()) <= 100


def test_exit_depends_on_faults_only(opened):
    fine = report(opened)
    assert fine.rules.key == "open-60"
    assert not fine.has_fault
    assert fine.findings
    whole = replace(opened, routine=replace(opened.routine, stage=None))
    assert report(whole).has_fault  # 80 s against the 60 s of open-60


def test_the_json_is_for_scripts(opened):
    data = json.loads(as_json(report(opened)))
    assert data["rules"]["limit_s"] == 60.0
    assert data["rules"]["note"] == "check your show's own sheet"
    assert data["fault"] is False
    assert data["length_s"] == 60.0
    left = next(f for f in data["findings"] if f["kind"] == "time left")
    assert left == {
        "kind": "time left", "severity": "hint", "place": "12:5", "time_s": 50.0, "pose": None,
        "id": None, "why": "here 10 s of the 60 s are left; no pose comes after it", "do": "",
    }  # fmt: skip


def test_an_unknown_rule_set_is_refused(opened):
    with pytest.raises(UserError, match="There is no rule set"):
        report(opened, "nobody")


def test_no_pose_and_one_pose_are_said_rightly(opened):
    none = replace(opened, routine=replace(opened.routine, poses=()))
    text = as_table(report(none))
    assert "60.0 s, 0 poses" in text
    assert "Nothing to check yet: it has no pose." in text
    one = replace(opened, routine=replace(opened.routine, poses=opened.routine.poses[:1]))
    assert "60.0 s, 1 pose\n" in as_table(report(one))
