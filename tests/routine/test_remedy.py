"""Each finding that names one clear edit is gone after it, and nothing else moved."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rehearse.music.position import Count, Length, Seconds
from rehearse.routine.checks import check, load_thresholds, make_case
from rehearse.routine.model import Routine, StagePart
from rehearse.routine.remedy import ACTS, act_of, remedy
from rehearse.routine.rules import load_rules

from .conftest import pose

MINUTE = StagePart(4.0, 64.0)
FRONT, SIDE = "front double biceps", "side chest left"


def made(*poses, stage=MINUTE):
    return Routine("Made", "song.wav", rules="open-60", stage=stage, poses=poses)


CASES = {
    "hold": made(pose("a", FRONT, Count(2, 1), hold=2)),
    "transition": made(
        pose("a", FRONT, Count(2, 1)), pose("b", "back lat spread", Count(3, 1), transition=1)
    ),
    "overlap": made(pose("a", FRONT, Count(2, 1), hold=7), pose("b", SIDE, Count(3, 1))),
    "off the beat": made(pose("a", FRONT, Seconds(9.1), hold=4)),
    "accent": made(pose("a", FRONT, Seconds(12.15), hold=4)),
    "outside": made(pose("a", FRONT, Count(15, 1), hold=20)),
    "length": made(pose("a", FRONT, Count(2, 1)), stage=StagePart(4.0, 70.0)),
}


def findings(routine, song, catalogue):
    rules, limits = load_rules(routine.rules), load_thresholds()
    found = check(routine, song, catalogue, rules, limits)
    return found, make_case(routine, song, catalogue, rules, limits)


@pytest.mark.parametrize("kind", sorted(CASES))
def test_taking_a_finding_puts_it_right(kind, song, catalogue):
    routine = CASES[kind]
    found, case = findings(routine, song, catalogue)
    finding = next(f for f in found if f.kind == kind)
    better = remedy(case, finding)
    assert better is not None
    assert better != routine
    after, _ = findings(better, song, catalogue)
    assert [f for f in after if f.kind == kind] == []
    assert [p.id for p in better.poses] == [p.id for p in routine.poses]


def test_every_act_in_words_can_be_taken():
    assert set(CASES) == set(ACTS)


def test_hold_and_transition_reach_the_wanted_time_and_not_more(song, catalogue):
    # 120 BPM: 2 s are 4 counts; the finding asks for half counts at the least.
    routine = CASES["hold"]
    found, case = findings(routine, song, catalogue)
    better = remedy(case, next(f for f in found if f.kind == "hold"))
    assert better.placed("a").hold == Length(4)
    assert better.placed("a").hit == Count(2, 1)


def test_too_long_music_ends_at_the_limit_with_its_fades(song, catalogue):
    routine = replace(CASES["length"], stage=StagePart(4.0, 70.0, 0.5, 2.0))
    found, case = findings(routine, song, catalogue)
    better = remedy(case, next(f for f in found if f.kind == "length"))
    assert better.stage == StagePart(4.0, 64.0, 0.5, 2.0)


def test_what_takes_a_choice_is_left_to_the_athlete(song, catalogue):
    routine = made(pose("a", FRONT, Count(2, 1)), pose("b", FRONT, Count(4, 1)))
    found, case = findings(routine, song, catalogue)
    repeat = next(f for f in found if f.kind == "repeat")
    assert remedy(case, repeat) is None


def test_a_pose_after_the_end_has_no_single_way(song, catalogue):
    # It can be moved or taken out; a shorter hold would not help.
    routine = made(pose("a", FRONT, Count(2, 1)), pose("b", SIDE, Seconds(75.0)))
    found, case = findings(routine, song, catalogue)
    outside = next(f for f in found if f.kind == "outside")
    assert act_of(outside) == ""
    assert remedy(case, outside) is None
    assert all(act_of(f) for f in found if remedy(case, f) is not None)
