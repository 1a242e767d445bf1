"""A routine copied for another show: history, poses and music kept, the old folder untouched."""

import shutil
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from rehearse.files.user_error import UserError
from rehearse.practice.logbook import Logbook
from rehearse.practice.show_copy import copy_for_show
from rehearse.routine.folder import open_folder
from rehearse.routine.glance import glance

from .made import MONDAY, make_pass
from .test_roundlog import make_round

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"


@pytest.fixture
def folder(tmp_path):
    return Path(
        shutil.copytree(DEMO, tmp_path / "demo", ignore=shutil.ignore_patterns("*.sqlite*"))
    )


def heading(folder, **texts):
    texts = {"show": "Harbour Classic", "show_date": "2027-03-06", "rules": "open-60"} | texts
    return replace(open_folder(folder).routine, **texts)


def state(folder):
    return {p.relative_to(folder): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_the_copy_keeps_poses_music_and_history_and_is_a_routine_of_its_own(folder, tmp_path):
    old = open_folder(folder).routine
    book = Logbook(folder / "practice.sqlite", tmp_path / "spare.sqlite")
    done, called = make_pass(verdict="clean"), make_round(MONDAY)
    book.record(done)
    book.keep_round(called)  # still open: what is in its write-ahead log is copied, too
    made = copy_for_show(folder, heading(folder), tmp_path / "shows")
    book.close()
    assert made == tmp_path / "shows" / "Copper Lights – Harbour Classic"
    new = open_folder(made)
    assert new.warnings == ()
    assert (new.routine.show, new.routine.show_date, new.routine.rules) == (
        "Harbour Classic", "2027-03-06", "open-60",
    )  # fmt: skip
    assert new.routine.poses == old.poses
    assert new.routine.id
    assert new.routine.id != old.id
    assert (made / old.track).read_bytes() == (folder / old.track).read_bytes()
    with Logbook(made / "practice.sqlite", tmp_path / "other.sqlite") as kept:
        assert kept.notice == ""
        assert kept.history() == (done,)
        assert kept.rounds() == (called,)
        kept.record(make_pass())
    with Logbook(folder / "practice.sqlite", tmp_path / "spare.sqlite") as mine:
        assert mine.history() == (done,)


def test_the_old_folder_stays_and_links_and_hidden_files_are_left_out(folder, tmp_path):
    (folder / ".hidden").write_text("x")
    (folder / "pictures").mkdir(exist_ok=True)
    (folder / "pictures" / "own.txt").write_text("mine")
    (folder / "out").symlink_to(tmp_path)
    before = state(folder)
    made = copy_for_show(folder, heading(folder), tmp_path / "shows")
    assert state(folder) == before
    assert (made / "pictures" / "own.txt").read_text() == "mine"
    assert not (made / ".hidden").exists()
    assert not (made / "out").exists()
    again = copy_for_show(folder, heading(folder), tmp_path / "shows")
    assert again.name == "Copper Lights – Harbour Classic 2"


def test_the_copy_tells_how_far_it_is(folder, tmp_path):
    told = []
    copy_for_show(folder, heading(folder), tmp_path / "shows", lambda *one: told.append(one))
    fractions = [fraction for fraction, _text in told]
    assert len(told) == len(state(folder)) > 2
    assert fractions[0] == 0.0
    assert fractions[1] == pytest.approx(0.95 / len(told))  # the rest is for logbook and heading
    assert fractions == sorted(fractions)
    assert fractions[-1] < 0.95


def test_a_file_behind_a_linked_folder_and_in_a_hidden_one_is_left_out(folder, tmp_path):
    outside = tmp_path / "outside"
    (folder / ".git").mkdir()
    for place in (outside, folder / ".git"):
        place.mkdir(exist_ok=True)
        (place / "mine.txt").write_text("mine")
    (folder / "linked").symlink_to(outside)
    (folder / "practice.sqlite-journal").touch()
    made = copy_for_show(folder, heading(folder), tmp_path / "shows")
    assert not list(made.rglob("mine.txt"))
    assert not (made / "practice.sqlite-journal").exists()
    assert made.stat().st_mode & 0o777 == 0o755  # others may look at it, as at any folder


def test_stopped_or_refused_nothing_is_left_behind(folder, tmp_path):
    def stop(fraction, text):
        raise KeyboardInterrupt

    shows = tmp_path / "shows"
    with pytest.raises(KeyboardInterrupt):
        copy_for_show(folder, heading(folder), shows, stop)
    assert list(shows.iterdir()) == []
    wished = heading(folder)
    (folder / "practice.sqlite").write_bytes(b"SQLite format 3\0" + bytes(84) + b"x" * 3000)
    with pytest.raises((UserError, sqlite3.Error)):
        copy_for_show(folder, wished, shows)
    assert list(shows.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("title: A\nshow: B\nshow_date: 2027-01-02\n", ("A", "B", "", "2027-01-02")),
        ("title: \"A: b\"\ndivision: 'C'\n", ("A: b", "", "C", "")),
        ("poses:\n- title: no\n", ("room", "", "", "")),
        ("title: [1, 2]\nshow: {a: b}\n", ("room", "", "", "")),
        ("title: 'open\n", ("room", "", "", "")),
        ("", ("room", "", "", "")),
    ],
)
def test_a_folders_heading_at_a_glance(tmp_path, text, told):
    folder = tmp_path / "room"
    folder.mkdir()
    (folder / "routine.yaml").write_text(text)
    seen = glance(folder)
    assert (seen.title, seen.show, seen.division, seen.show_date) == told


def test_a_folder_that_is_gone_or_no_routine_has_no_heading(tmp_path):
    assert glance(tmp_path / "gone") is None
    (tmp_path / "routine.yaml").symlink_to("/etc/hostname")
    assert glance(tmp_path) is None


def test_the_first_pose_and_who_shows_it_at_a_glance(tmp_path):
    (tmp_path / "routine.yaml").write_text(
        "title: A\nfigure: woman\ndress: [1]\nposes:\n- id: a\n  moves:\n  - id: b\n"
        "    move: reach\n"
        "  pose: my lantern\n  hit: 3 s\n- id: c\n  pose: crucifix\nown_poses:\n"
        "- name: other\n  facing: back\n- name: my lantern\n  facing: front\n"
        "  picture: pictures/lantern.jpg\n"
    )
    seen = glance(tmp_path)
    assert (seen.pose, seen.photo) == ("my lantern", "pictures/lantern.jpg")
    assert (seen.figure, seen.dress, seen.skin) == ("woman", "", "")
