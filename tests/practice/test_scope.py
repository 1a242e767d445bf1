"""Stretches begin before the pose is left and end with the last one held."""

import pytest

from rehearse.files.user_error import UserError
from rehearse.music.position import Length
from rehearse.practice.scope import (
    marks_scope,
    seconds_of,
    section_scope,
    taken_in,
    transition_scope,
    whole_scope,
)


def test_a_transition_goes_from_four_counts_before_leaving_to_the_end_of_the_hold(routine, beatmap):
    # Worked by hand at 0.5 s a count: pose 6 is hit on 6:1 = 20.0 s, its transition begins three
    # counts before (18.5 s), four counts before that is 16.5 s, its hold of four ends at 22.0 s.
    scope = transition_scope(routine, beatmap, "p04")
    assert (scope.start, scope.end) == (16.5, 22.0)
    assert scope.item == "p03>p04"
    assert scope.name == "side triceps left → back double biceps"


def test_the_way_in_is_adjustable_and_stops_at_the_start_of_the_track(routine, beatmap):
    assert transition_scope(routine, beatmap, "p04", way_in=2).start == 17.5
    assert transition_scope(routine, beatmap, "p00").start == 0.5
    with pytest.raises(KeyError):
        transition_scope(routine, beatmap, "nowhere")


def test_a_section_takes_in_its_way_in_and_its_last_hold(routine, beatmap):
    # "Back half" is 5:1 to 9:1 = 16.0 to 32.0 s; its first pose is left for at 14.5 s.
    scope = section_scope(routine, beatmap, "s1")
    assert (scope.start, scope.end) == (12.5, 32.0)


def test_two_marks_in_either_order(beatmap):
    assert marks_scope(beatmap, 9.0, 4.0) == marks_scope(beatmap, 4.0, 9.0)
    assert marks_scope(beatmap, 4.0, 9.0).name == "2:1 to 3:3"
    with pytest.raises(UserError, match="less than a second"):
        marks_scope(beatmap, 4.0, 4.5)


def test_a_pass_takes_in_the_poses_it_hit_and_held(routine, beatmap, spots):
    scope = section_scope(routine, beatmap, "s1")
    taken = taken_in(spots, scope.start, scope.end)
    assert [t.pose for t in taken] == ["p03", "p04", "p05", "p06"]
    assert [t.origin for t in taken] == ["p02", "p03", "p04", "p05"]
    half = taken_in(spots, scope.start, 21.0)
    assert [t.pose for t in half] == ["p03", "p04"]
    assert [t.pose for t in taken_in(spots, scope.start, 20.9)] == ["p03"]


def test_a_pass_that_begins_on_the_hit_has_no_way_in(spots):
    first = taken_in(spots, 20.0, 30.0)[0]
    assert (first.pose, first.origin, first.start) == ("p04", None, 20.0)


def test_the_whole_is_the_stage_part_and_holds_every_pose(routine, beatmap, spots):
    scope = whole_scope(routine, beatmap)
    assert (scope.start, scope.end) == (0.0, 70.0)
    assert len(taken_in(spots, scope.start, scope.end)) == len(routine.poses)


def test_a_rest_in_counts_follows_the_tempo(beatmap):
    assert seconds_of(Length(8), beatmap, 10.0, 100) == pytest.approx(4.0)
    assert seconds_of(Length(8), beatmap, 10.0, 50) == pytest.approx(8.0)
    assert seconds_of(Length(30, in_counts=False), beatmap, 10.0, 50) == 30.0
