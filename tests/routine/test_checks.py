"""Each check at the edge where it begins to speak.

Thresholds without another source are common practice of the trade (no source), as
`resources/checks.yaml` says; times at 120 BPM follow from the tempo (a count is 0.500 s).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from rehearse.files.user_error import UserErrors
from rehearse.music.beatmap import Accent
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine import edits
from rehearse.routine.checks import Severity, check, load_thresholds
from rehearse.routine.checks.timing import quarter_turns
from rehearse.routine.model import Facing, Level, Move, OwnMove, OwnPose, Routine, StagePart
from rehearse.routine.rules import Forbidden, RuleSet, load_rules
from tests.routine.conftest import make_song, pose

SIXTY = load_rules("open-60")
OPEN = load_rules("open")


def find(kind, poses, catalogue, song=None, rules=OPEN, **more):
    routine = Routine("T", "t.ogg", poses=tuple(poses), **more)
    found = check(routine, song or make_song(), catalogue, rules)
    return [f for f in found if f.kind == kind]


@pytest.mark.parametrize(("length", "faulty"), [(59.9, 0), (60.0, 0), (60.01, 1), (60.1, 1)])
def test_sixty_seconds_pass_and_a_tenth_more_does_not(catalogue, length, faulty):
    # 60 s: IFBB Book of the Year 2017 p. 9 and others; the edge: any overrun counts
    part = StagePart(3.0, 3.0 + length)
    found = find("length", [], catalogue, rules=SIXTY, stage=part)
    assert [f.severity for f in found] == [Severity.FAULT] * faulty


def test_an_overrun_says_what_would_be_cut(catalogue):
    poses = [
        pose("a", "crucifix", Count(14, 1)),  # 56.0 s
        pose("b", "victory", Count(14, 8)),  # 59.5 s, held to 61.5 s
        pose("c", "vacuum", Count(15, 5)),  # 62.0 s
    ]
    (found,) = find("length", poses, catalogue, rules=SIXTY, stage=StagePart(0.0, 66.0))
    assert "66.0 s long, 6.0 s over the 60.0 s" in found.why
    assert "the hold of victory would be broken off, vacuum would be cut" in found.why
    assert found.place == "15:1"  # 60.0 s
    assert found.do.startswith("end the stage part 6.0 s earlier")
    (left,) = find("time left", poses, catalogue, rules=SIXTY, stage=StagePart(0.0, 66.0))
    # NPC classic event page (copy): warning at 10 s left, here at 50.0 s
    assert (left.time, left.place) == (50.0, "12:5")
    assert "still to come: crucifix, victory and vacuum" in left.why


def test_the_whole_song_counts_where_no_part_is_chosen(catalogue):
    assert find("length", [], catalogue, rules=SIXTY)[0].severity is Severity.FAULT  # 80 s
    assert not find("length", [], catalogue, rules=load_rules("open-90"))
    short = replace(SIXTY, minimum=90.0, limit=None)
    assert find("length", [], catalogue, rules=short)[0].severity is Severity.WARNING


def test_required_and_mandatory_poses(catalogue):
    rules = RuleSet("k", "Club", required=("side chest",), mandatory=("crucifix", "vacuum"))
    found = find("required", [pose("a", "crucifix", Count(2, 1))], catalogue, rules=rules)
    assert [f.severity for f in found] == [Severity.FAULT]
    assert "requires side chest" in found[0].why
    (missing,) = find("mandatory", [pose("a", "crucifix", Count(2, 1))], catalogue, rules=rules)
    assert missing.severity is Severity.WARNING
    assert missing.why.endswith("does not show vacuum")
    # either side shows it
    shown = [pose("a", "side chest right", Count(2, 1))]
    assert not find("required", shown, catalogue, rules=rules)


def test_forbidden_moves(catalogue):
    rules = RuleSet("k", "Club", forbidden=(
        Forbidden("lying on the floor", words=("lying",), why="it disqualifies"),
        Forbidden("most musculars", poses=("most muscular",)),
    ))  # fmt: skip
    own = (OwnPose("Lying twist"),)
    poses = [
        pose("a", "Lying twist", Count(2, 1)),
        pose("b", "most muscular crab", Count(4, 1)),
        pose("c", "crucifix", Count(6, 1), note="not lying, really"),
        pose("d", "victory", Count(8, 1), note="underlying idea"),
    ]
    found = find("forbidden", poses, catalogue, rules=rules, own_poses=own)
    assert [(f.pose_id, f.severity) for f in found] == [
        ("a", Severity.FAULT), ("b", Severity.FAULT), ("c", Severity.WARNING),
    ]  # fmt: skip
    assert "it disqualifies" in found[0].why


def test_what_a_body_asks_of_men_and_of_women(catalogue):
    """The body's By-Laws (undated, read 2026-11), p. 39: most muscular required of men only;
    another body's guidelines: for women the same rounds without the most muscular."""
    nga, nabba = load_rules("nga-amateur"), load_rules("nabba-australia")
    poses = [pose("a", "most muscular crab", Count(2, 1))]
    (missing,) = find("mandatory", [pose("a", "victory", Count(2, 1))], catalogue, rules=nga)
    assert "most muscular" in missing.why
    (missing,) = find(
        "mandatory", [pose("a", "victory", Count(2, 1))], catalogue, rules=nga, figure="woman"
    )
    assert "most muscular" not in missing.why
    assert not find("men only", poses, catalogue, rules=nabba)
    (found,) = find("men only", poses, catalogue, rules=nabba, figure="woman")
    assert (found.severity, found.pose_id) == (Severity.FAULT, "a")


def test_open_hands_where_the_body_asks_for_them(catalogue):
    """Women's physique page of the body (undated, read 2026-11): both double biceps open-handed."""
    rules = load_rules("nff-womens-physique-pro")
    poses = [
        pose("a", "front double biceps", Count(2, 1)),
        pose("b", "back double biceps", Count(4, 1), note="hands open"),
        pose("c", "side triceps left", Count(6, 1)),
    ]
    assert [f.pose_id for f in find("open hands", poses, catalogue, rules=rules)] == ["a"]
    assert not find("open hands", poses, catalogue, rules=load_rules("open-90"))


def test_the_forbidden_bend_is_seen_by_its_shape(catalogue):
    """An affiliate's rules (undated, read 2026-11): bending forward at the hips with the back to
    the audience is the forbidden pose."""
    rules = load_rules("npc-classic")
    bend = (Move("m", "bend forward", Length(2)),)
    poses = [
        pose("a", "back double biceps", Count(2, 1), moves=bend),
        pose("b", "front double biceps", Count(4, 1), moves=bend),
        pose("c", "back lat spread", Count(6, 1)),
    ]
    assert [f.pose_id for f in find("forbidden", poses, catalogue, rules=rules)] == ["a"]


@pytest.mark.parametrize(("hold", "found"), [(4, 0), (3.75, 1), (Length(1.9, False), 1)])
def test_a_hold_under_two_seconds_does_not_read(catalogue, hold, found):
    # fewer than 2 s does not read: common practice, no source
    assert len(find("hold", [pose("a", "crucifix", Count(2, 1), hold)], catalogue)) == found


def test_a_short_hold_says_how_much_longer(catalogue):
    (found,) = find("hold", [pose("a", "crucifix", Count(2, 1), 2)], catalogue)
    assert found.sentence == (
        "2:1 crucifix: held 1.0 s, less than 2 s does not read – hold it 2 counts longer."
    )


@pytest.mark.parametrize(
    ("first", "second", "needed"),
    [  # per kind of change: common practice, no source (resources/checks.yaml)
        ("front double biceps", "crucifix", 0.6),
        ("front double biceps", "side chest left", 1.0),
        ("front double biceps", "back double biceps", 1.5),
        ("side chest left", "side chest right", 1.5),
        ("front double biceps", "side lunge left", 1.0),
        ("front double biceps", "kneeling victory", 1.5),
        ("kneeling victory", "front double biceps", 1.5),
        ("kneeling victory", "kneeling back double biceps", 1.5),
    ],
)
def test_a_transition_needs_its_time_by_what_changes(catalogue, first, second, needed):
    for time, number in ((needed, 0), (needed - 0.05, 1)):
        poses = [
            pose("a", first, Count(2, 1)),
            pose("b", second, Count(5, 1), 4, Length(time, in_counts=False)),
        ]
        assert len(find("transition", poses, catalogue)) == number, time


def test_four_right_quarter_turns_return_to_the_front():
    # NGA By-Laws and federation sheets: quarter turns go to the competitor's right, four return
    # to front; the first shows the judges the left side.
    facing = Facing.FRONT
    seen = []
    for _ in range(4):
        facing = facing.quarter_turned()
        seen.append(facing)
    assert seen == [Facing.LEFT, Facing.BACK, Facing.RIGHT, Facing.FRONT]
    assert [quarter_turns(Facing.FRONT, f) for f in seen] == [1, 2, 1, 0]


def test_a_turned_pose_counts_with_its_facing(catalogue):
    poses = [
        pose("a", "crucifix", Count(2, 1)),
        pose("b", "victory", Count(4, 1), 4, 2, facing=Facing.BACK),
    ]
    (found,) = find("transition", poses, catalogue)
    assert "a half turn from crucifix" in found.why


@pytest.mark.parametrize(
    ("hit", "found"),
    [(Seconds(8.1), "100 ms after 2:1"), (Seconds(8.21), "40 ms before 2:1&"),
     (Seconds(8.02), None), (Seconds(1.234), None), (Count(2, 1, 1), None)],
)  # fmt: skip
def test_hits_off_the_beat(catalogue, hit, found):
    told = find("off the beat", [pose("a", "crucifix", hit)], catalogue)
    assert [found in f.why for f in told] == ([True] if found else [])


def test_hits_beside_an_accent(catalogue):
    song = make_song(accents=(Accent(8.12, 0.9), Accent(20.0, 0.9)))
    (found,) = find("accent", [pose("a", "crucifix", Count(2, 1))], catalogue, song)
    assert "120 ms before the accent" in found.why
    assert found.do == "hit it at 2:1e"
    assert not find("accent", [pose("a", "crucifix", Count(5, 1))], catalogue, song)  # on it
    assert not find("accent", [pose("a", "crucifix", Count(3, 1))], catalogue, song)  # far away
    on_it = [pose("a", "crucifix", Count(2, 1)), pose("b", "victory", Count(2, 1, 1))]
    assert not find("accent", on_it, catalogue, song)  # another pose has it


def test_a_hit_on_an_accent_off_the_beat_is_on_the_music(catalogue):
    song = make_song(accents=(Accent(8.1, 0.9),))
    assert not find("off the beat", [pose("a", "crucifix", Seconds(8.1))], catalogue, song)


def test_a_pose_shown_twice(catalogue):
    poses = [
        pose("a", "crucifix", Count(2, 1)),
        pose("b", "victory", Count(4, 1)),
        pose("c", "crucifix", Count(6, 1)),
        pose("d", "crucifix", Count(8, 1), facing=Facing.BACK),
    ]
    (found,) = find("repeat", poses, catalogue)
    assert (found.pose_id, found.why) == ("c", "it was already shown at 2:1")


def test_balance_of_front_side_and_back(catalogue):
    front = ["crucifix", "victory", "vacuum", "front double biceps", "front lat spread"]
    poses = [pose(str(i), name, Count(2 * i + 1, 1)) for i, name in enumerate(front)]
    assert not find("balance", poses, catalogue)  # too few to judge
    poses.append(pose("x", "side chest left", Count(12, 1)))
    found = find("balance", poses, catalogue)
    assert {f.why for f in found} == {
        "none of the 6 poses shows the back",
        "5 of 6 poses show the front",
    }


def test_long_stretches_without_a_hit(catalogue):
    poses = [pose("a", "crucifix", Count(2, 1)), pose("b", "victory", Count(4, 1, 2))]
    found = find("gap", poses, catalogue, stage=StagePart(0.0, 24.0))
    assert [f.place for f in found] == ["2:1"]  # 8.0 to 16.25 s; 8.0 s before it is just enough
    assert "no hit for 8.2 s, from here to 4:1&" in found[0].why
    assert not find("gap", [], catalogue)


def test_a_gap_lies_in_the_stage_part_and_says_what_can_be_done_there(catalogue):
    # Hits at 4.0 s (1:1) and 36.0 s (9:1), one of them after the stage part is over.
    poses = [pose("a", "crucifix", Count(1, 1)), pose("b", "victory", Count(9, 1))]
    (found,) = find("gap", poses, catalogue, stage=StagePart(0.0, 24.0))
    assert (found.place, found.do) == ("1:1", "add a pose, or end the stage part earlier")
    assert "no hit for 20.0 s, from here to 6:1" in found.why
    (first, _) = find("gap", poses[1:], catalogue, stage=StagePart(0.0, 72.0))
    assert (first.place, first.do) == ("0.00 s", "add a pose, or begin the stage part later")


def test_overlapping_poses(catalogue):
    base = [pose("a", "crucifix", Count(2, 1), 8)]
    fine = [*base, pose("b", "victory", Count(3, 3), 4, 2)]
    assert not find("overlap", fine, catalogue)
    (into_way,) = find("overlap", [*base, pose("b", "victory", Count(3, 2), 4, 2)], catalogue)
    assert into_way.severity is Severity.WARNING
    assert "begins 0.5 s before the hold of crucifix is over" in into_way.why
    (into_hit,) = find("overlap", [*base, pose("b", "victory", Count(2, 7), 4, 2)], catalogue)
    assert into_hit.severity is Severity.FAULT
    same = [pose("a", "crucifix", Count(2, 1), 0), pose("b", "victory", Count(2, 1))]
    assert find("overlap", same, catalogue)[0].severity is Severity.FAULT


def test_poses_outside_the_stage_part(catalogue):
    poses = [
        pose("a", "crucifix", Seconds(1.0), Length(2.0, False), Length(1.0, False)),
        pose("b", "victory", Count(9, 1)),  # 36.0 s, held to 38.0 s
        pose("c", "vacuum", Count(10, 1)),  # 40.0 s
    ]
    found = find("outside", poses, catalogue, stage=StagePart(2.0, 37.0))
    assert [(f.pose_id, f.severity) for f in found] == [
        ("a", Severity.FAULT), ("c", Severity.FAULT), ("b", Severity.WARNING),
    ]  # fmt: skip
    assert "1.0 s after the stage part is over" in found[2].why
    assert not find("outside", poses, catalogue)


def test_a_hit_after_the_end_of_the_music(catalogue):
    (found,) = find("outside", [pose("a", "crucifix", Seconds(90.0))], catalogue)
    assert "when the music is over, at 80.0 s" in found.why


def test_faults_come_first_then_the_order_of_the_music(catalogue, routine, song):
    found = check(routine, song, catalogue, load_rules("ifbb-amateur"))
    keys = [(f.severity.rank, f.time) for f in found]
    assert len(keys) > 3
    assert keys == sorted(keys)
    assert all(f.why and f.sentence.endswith(".") for f in found)


def test_thresholds_are_data_and_can_be_changed(catalogue, nobody, tmp_path):
    assert load_thresholds().shortest_hold == 2.0
    (nobody / "checks.yaml").write_text("format: 1\nshortest_hold: 1.5 s\nlongest_gap: 12 s\n")
    assert load_thresholds().shortest_hold == 1.5
    (tmp_path / "checks.yaml").write_text("format: 1\nshortest_hold: 1 s\n")
    own = load_thresholds(tmp_path)
    assert (own.shortest_hold, own.longest_gap, own.arms_only) == (1.0, 12.0, 0.6)
    assert not find("hold", [pose("a", "crucifix", Count(2, 1), 3)], catalogue)
    (tmp_path / "checks.yaml").write_text("format: 1\nshortest_hld: 1 s\none_facing: 7\n")
    with pytest.raises(UserErrors) as caught:
        load_thresholds(tmp_path)
    assert [f.do for f in caught.value.errors] == ["write shortest_hold", "write 0 to 1"]


def test_a_routine_of_the_usual_density_has_no_warning(catalogue):
    # Derived: 3 s holds and 1.5 s transitions give about 13 poses in 60 s.
    names = ["front double biceps", "crucifix", "side chest left", "back double biceps"]
    song = make_song(eights=16, start=0.0, tail=0.0)
    routine = Routine("T", "t.ogg", stage=StagePart(0.0, 59.0))
    for k in range(13):
        hit = Seconds(round(1.5 + 4.5 * k, 3))
        hold, way = Length(2.5 if k % 4 > 1 else 2.7, False), Length(1.8, False)
        name = names[k % 4] if k < 4 else ["victory", "vacuum", "side chest right",
                "back lat spread", "most muscular crab", "bow", "side triceps left",
                "twisted back left", "arms folded"][k - 4]  # fmt: skip
        routine = edits.place(routine, song, name, hit, hold=hold, transition=way)
    found = check(routine, song, catalogue, SIXTY)
    assert not [f for f in found if f.severity is Severity.FAULT]
    assert {f.kind for f in found} <= {"off the beat", "time left"}
    assert Level.STANDING in {catalogue.find(p.pose).level for p in routine.poses}


@pytest.mark.parametrize(
    ("name", "say", "asked"),
    [
        ("lantern swing", "", False),
        ("copper lanterns rising", "", True),  # three lines of thirteen letters
        ("schulterblattdrehung", "", True),  # one word of twenty letters
        ("schulterblattdrehung", "shoulder turn", False),
        ("copper lanterns rising", "the slow copper lanterns rise", True),
    ],
)
def test_an_own_name_that_cannot_be_read_from_afar_is_asked_for_a_short_form(
    catalogue, name, say, asked
):
    poses = [pose("a", name, Count(2, 1)), pose("b", name, Count(4, 1))]
    own = (OwnPose(name, say=say),)
    found = find("name", poses, catalogue, own_poses=own)
    assert len(found) == asked, "once for all its places"
    moved = replace(pose("a", "crucifix", Count(4, 1)), moves=(Move("m", name, Length(2)),))
    found = find("name", [moved], catalogue, own_moves=(OwnMove(name, say=say),))
    assert len(found) == asked
