"""Differences in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rehearse.music.position import Count, Length, Seconds
from rehearse.routine import edits
from rehearse.routine.compare import compare
from rehearse.routine.merge import pair
from rehearse.routine.model import Facing, Level, OwnPose, StagePart


def told(old, new, song):
    return [d.text for d in compare(old, new, song)]


def test_the_same_has_no_difference(routine, song):
    assert told(routine, routine, song) == []


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda r, s: edits.move_by(r, s, "aa03", Length(2)),
         ["side chest left moved from 3:1 to 3:3"]),
        (lambda r, s: edits.place(r, s, "vacuum", Count(9, 1)), ["vacuum added at 9:1"]),
        (lambda r, s: edits.take_out(r, s, "aa04"), ["back double biceps taken out at 5:1"]),
        (lambda r, s: edits.lengthen(r, s, "aa03", 2),
         ["side chest left at 3:1: held 2 counts longer (4 counts → 6 counts)"]),
        (lambda r, s: edits.quicken(r, s, "aa04", 1),
         ["back double biceps at 5:1: transition 1 count shorter (4 counts → 3 counts)"]),
        (lambda r, s: edits.change(r, s, "aa03", hold=Length(2.5, in_counts=False)),
         ["side chest left at 3:1: held 2.5 s instead of 4 counts"]),
        (lambda r, s: edits.swap(r, s, "aa03", "aa04"),
         ["side chest left and back double biceps changed places (3:1 and 5:1)"]),
        (lambda r, s: edits.change(r, s, "aa02", pose="vacuum"),
         ["front double biceps at 2:1: is now vacuum"]),
        (lambda r, s: edits.change(r, s, "aa02", facing=Facing.BACK, level=Level.LUNGE, note="x"),
         ["front double biceps at 2:1: faces back, is lunge, note: x"]),
        (lambda r, s: edits.change(r, s, "aa04", say=""),
         ["back double biceps at 5:1: spoken as usual"]),
        (lambda r, s: edits.shift_after(r, s, Count(3, 1), Length(4)),
         ["3 poses from side chest left at 3:1 on moved 4 counts later",
          "section Opening now from 0.00 s to 4:5, was 0.00 s to 4:1",
          "section Turn to the back now from 4:5 to 8:5, was 4:1 to 8:1"]),
        (lambda r, s: edits.rename_section(r, "bb01", "Rise"),
         ["section Opening is now called Rise"]),
        (lambda r, s: edits.remove_section(r, "bb01"), ["section Opening taken out"]),
        (lambda r, s: edits.add_section(r, s, "End", Count(8, 1), Count(9, 1)),
         ["section End added, 8:1 to 9:1"]),
        (lambda r, s: edits.describe(r, rules="open-90", show=""),
         ["show is now empty, was Harbour Hall Open", "rule set is now open-90, was open-60"]),
        (lambda r, s: edits.set_stage(r, s, StagePart(0, 58.5)),
         ["stage part is 0.0–58.5 s of the song, 58.5 s long, was 60.0 s"]),
        (lambda r, s: edits.set_stage(r, s, None), ["the whole song is used on stage"]),
        (lambda r, s: edits.add_own(r, OwnPose("twist")), ["own pose twist added"]),
    ],
)  # fmt: skip
def test_each_edit_is_told_in_words(routine, song, edit, words):
    assert told(routine, edit(routine, song), song) == words


def test_going_back_is_told_too(routine, song):
    new = edits.lengthen(edits.place(routine, song, "vacuum", Count(9, 1)), song, "aa03", 2)
    assert told(new, routine, song) == [
        "side chest left at 3:1: held 2 counts shorter (6 counts → 4 counts)",
        "vacuum taken out at 9:1",
    ]


def test_copies_written_by_hand_are_paired_by_name_and_place(routine, song):
    renamed = replace(
        routine, poses=tuple(replace(p, id=f"zz{i}") for i, p in enumerate(routine.poses))
    )
    moved = edits.move_by(renamed, song, "zz1", Length(2))
    changed = edits.change(moved, song, "zz4", pose="victory")
    assert told(routine, changed, song) == [
        "front double biceps moved from 2:1 to 2:3",
        "crucifix at 7:5&: is now victory",
    ]
    far = edits.move_to(renamed, song, "zz1", Count(17, 1))  # 60 s away: another showing
    assert told(routine, far, song) == [
        "front double biceps taken out at 2:1",
        "front double biceps added at 17:1",
    ]


def test_every_pose_is_paired_once(routine, song):
    new = edits.move_to(edits.duplicate(routine, song, ["aa02"]), song, "aa05", Seconds(1.0))
    pairs = pair(routine, new, song)
    assert {a.id for a, _ in pairs if a} == {p.id for p in routine.poses}
    assert {b.id for _, b in pairs if b} == {p.id for p in new.poses}
    assert len(pairs) == len(new.poses)
