"""Remarks from a stranger's file: read, kept, proposed; hostile ones refused in one sentence."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from rehearse.files.user_error import UserError
from rehearse.routine.folder import open_folder
from rehearse.routine.merge import offers
from rehearse.routine.model import Facing
from rehearse.routine.remarks import (
    LARGEST,
    LONGEST,
    MOST,
    fingerprint,
    load_remarks,
    read_remarks,
    receive,
    save_remarks,
    state_of,
    with_changes,
)
from rehearse.routine.versions import ROUTINE, keep_copied

DEMO = Path(__file__).resolve().parents[2] / "demo" / "copper-lights"
NAME = Path("remarks.json")


@pytest.fixture(scope="module")
def demo():
    return open_folder(DEMO)


def written(demo, remarks, **head):
    """The bytes of a file as the page saves it."""
    values = {"format": 1, "remarks_on": demo.routine.id, "base": "ab", "title": "t", "author": "A"}
    return json.dumps(values | {"remarks": remarks} | head).encode()


def remark(demo, **more):
    when = "2026-11-30T18:30:00.000Z"
    return {"id": "a1", "pose": demo.routine.poses[1].id, "text": "Wider.", "written": when} | more


def test_a_file_of_the_page_is_read_kept_and_not_taken_twice(demo, tmp_path):
    rows = [
        remark(demo, change={"hold": "6 counts", "facing": "back"}),
        {**remark(demo), "id": "a2", "pose": None, "time": 12.5, "text": "Breathe."},
    ]
    del rows[1]["pose"]
    came = read_remarks(written(demo, rows), NAME, demo.routine.id)
    assert [(r.author, r.text, r.time) for r in came] == [
        ("A", "Wider.", None),
        ("A", "Breathe.", 12.5),
    ]
    assert receive(tmp_path, came) == came
    save_remarks(tmp_path, [replace(r, state="answered", answer="Yes") for r in came])
    assert receive(tmp_path, came) == ()
    assert [(r.state, r.answer) for r in load_remarks(tmp_path)] == [("answered", "Yes")] * 2
    assert load_remarks(tmp_path)[0].change == came[0].change


def test_what_is_proposed_is_offered_as_a_copys_changes_against_the_state_it_was_written_on(
    demo, tmp_path
):
    routine, beatmap = demo.routine, demo.beatmap
    placed = routine.poses[1]
    later = f"{beatmap.time_of(placed.hit) + 2 * beatmap.interval(20):.3f} s"
    change = {"hit": later, "hold": "6 counts", "facing": "back", "pose": "vacuum"}
    came = read_remarks(written(demo, [remark(demo, change=change)]), NAME, routine.id)
    theirs = with_changes(routine, beatmap, came)
    moved = theirs.placed(placed.id)
    assert (str(moved.hold), moved.facing, moved.pose) == ("6 counts", Facing.BACK, "vacuum")
    assert beatmap.time_of(moved.hit) == pytest.approx(float(later[:-2]), abs=0.05)
    # Meanwhile the athlete changed the note: theirs stays theirs, mine mine.
    mine = replace(
        routine,
        poses=tuple(replace(p, note="mine") if p.id == placed.id else p for p in routine.poses),
    )
    (offer,) = offers(mine, beatmap, replace(demo, routine=theirs), routine)
    assert offer.by == "theirs"
    assert set(offer.parts) == {"hit", "hold", "facing", "pose"}


def test_the_state_a_page_was_made_of_is_found_again(tmp_path):
    folder = shutil.copytree(DEMO, tmp_path / "copy")
    base = fingerprint((folder / ROUTINE).read_bytes())
    keep_copied(folder)
    text = (folder / ROUTINE).read_text()
    (folder / ROUTINE).write_text(text.replace("title: Copper Lights", "title: Other"))
    opened = open_folder(folder)
    assert opened.routine.title == "Other"
    assert state_of(folder, base, opened.beatmap).title == "Copper Lights"
    assert state_of(folder, "0" * 16, opened.beatmap) is None


def test_a_pose_nobody_knows_and_a_hit_behind_the_music_change_nothing(demo):
    change = {"pose": "<img src=x>", "hit": "9000 s"}
    came = read_remarks(written(demo, [remark(demo, change=change)]), NAME, demo.routine.id)
    assert with_changes(demo.routine, demo.beatmap, came) == demo.routine
    gone = [replace(came[0], pose="ffffffff")]
    assert with_changes(demo.routine, demo.beatmap, gone) == demo.routine


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda d: b"\x00\xff\xfe" * 10, "."),
        (lambda d: b"[1, 2]", "holds no remarks"),
        (lambda d: b'{"a": &x [1], "remarks_on": *x}', "."),
        (lambda d: b'{"remarks_on": !!python/object:os.system {}}', "."),
        (lambda d: b"[" * 5000, "."),
        (lambda d: b" " * (LARGEST + 1), "kB"),
        (lambda d: written(d, [], remarks_on="other"), "another routine"),
        (lambda d: written(d, [], format=99), "newer version"),
        (lambda d: written(d, [remark(d) for _ in range(MOST + 1)]), "at most"),
        (lambda d: written(d, [remark(d, text="x" * (LONGEST + 1))]), "at most"),
        (lambda d: written(d, [remark(d, id="../../x")]), "no id"),
        (lambda d: written(d, [remark(d, pose="a b")]), "no id"),
        (lambda d: written(d, [remark(d, move="a1")]), "no one pose"),
        (lambda d: written(d, [remark(d, text="")]), "says nothing"),
        (lambda d: written(d, [remark(d, change={"hit": "3:5"})]), "no time"),
        (lambda d: written(d, [remark(d, change={"hold": "-4 counts"})]), "no length"),
        (lambda d: written(d, [remark(d, change={"hold": "99999 counts"})]), "any music"),
        (lambda d: written(d, [remark(d, change={"facing": "up"})]), "no facing"),
        (lambda d: written(d, [remark(d, change={"run": "rm"})]), "not known"),
        (lambda d: written(d, [remark(d, written="today")]), "no date"),
        (lambda d: written(d, [remark(d)], author="x" * 81), "at most"),
    ],
)
def test_a_hostile_file_is_one_sentence_and_nothing_is_kept(demo, spoil, words):
    with pytest.raises(UserError, match=words) as caught:
        read_remarks(spoil(demo), NAME, demo.routine.id)
    assert len(caught.value.sentence) < 1000


def test_text_carries_nothing_that_steers_a_screen(demo):
    text = "a\x1b[31mb\x00c\u202ed\u2066e\nf<b>g"
    (found,) = read_remarks(written(demo, [remark(demo, text=text)]), NAME, demo.routine.id)
    assert found.text == "a[31mbcde\nf<b>g"


def test_a_damaged_file_in_the_folder_is_one_sentence(tmp_path):
    (tmp_path / "remarks.yaml").write_text("format: 1\nremarks: 7\n")
    with pytest.raises(UserError, match="not a list"):
        load_remarks(tmp_path)


def test_what_is_written_without_ids_has_the_same_ones_at_every_opening(tmp_path):
    folder = shutil.copytree(DEMO, tmp_path / "copy")
    lines = (folder / ROUTINE).read_text().splitlines()
    # "- id: …" becomes "-", whose values follow on the next line; others lose the line.
    bare = [re.sub(r"^(\s*)- id: .*$", r"\1-", line) for line in lines]
    (folder / ROUTINE).write_text("\n".join(bare) + "\n")

    def ids():
        routine = open_folder(folder).routine
        moves = [m.id for p in routine.poses for m in p.moves] + [m.id for m in routine.exit]
        return [*(p.id for p in routine.poses), *moves, *(s.id for s in routine.sections)]

    first = ids()
    assert first == ids()
    assert len(set(first)) == len(first)
    assert routine_ids_differ(first)


def routine_ids_differ(ids):
    """They are not those of the demo: the file has lost them."""
    return not set(ids) & {p.id for p in open_folder(DEMO).routine.poses}
