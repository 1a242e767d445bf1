"""Stretches begin before the pose is left and end with the last one held."""

from dataclasses import replace

import pytest

from rehearse.files.user_error import UserError
from rehearse.music.position import Length
from rehearse.practice.scope import (
    marks_scope,
    seconds_of,
    section_scope,
    spots_of,
    taken_in,
    transition_scope,
    whole_scope,
)
from rehearse.routine.model import StagePart


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
        marks_scope(beatmap, 4.0, 4.99)
    assert marks_scope(beatmap, 4.0, 5.0).length == 1.0
    # Set by hand on the spot: 30 ms beside a count is that count, more is a time of its own.
    assert marks_scope(beatmap, 4.02, 8.98).name == "2:1 to 3:3"
    assert marks_scope(beatmap, 4.05, 9.0).name.startswith("4.05 s")
    outside = marks_scope(beatmap, -3.0, 900.0)
    assert (outside.start, outside.end) == (0.0, 80.0)  # the track's own


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


def test_a_hair_late_a_pass_still_takes_in_its_first_pose_and_half_the_hold_is_enough(spots):
    """p04 is hit at 20.0 s, its way begins at 18.5 s, its hold ends at 22.0 s."""
    late = taken_in(spots, 20.0004, 21.0)
    assert [(t.pose, t.origin, t.start) for t in late] == [("p04", None, 20.0)]
    assert taken_in(spots, 20.01, 21.0) == ()
    (whole,) = taken_in(spots, 18.5004, 21.0)
    assert (whole.origin, whole.origin_name, whole.start) == ("p03", "side triceps left", 18.5)


def test_a_stretch_ends_with_the_track_and_a_hold_with_the_music(routine, beatmap):
    long = replace(routine.poses[-1], hold=Length(200.0, in_counts=False))
    poses = (*routine.poses[:-1], long)
    endless = replace(routine, poses=poses, stage=None)
    assert spots_of(endless, beatmap)[-1].end == 80.0
    assert whole_scope(endless, beatmap).end == 80.0
    assert spots_of(replace(endless, stage=StagePart(0.0, 70.0)), beatmap)[-1].end == 70.0
    assert transition_scope(endless, beatmap, long.id).end == 80.0
    assert section_scope(endless, beatmap, "s3").end == 80.0


def test_the_first_way_is_the_walk_on(routine, beatmap):
    first = transition_scope(routine, beatmap, "p00")
    assert (first.item, first.name) == (">p00", "walk-on → front double biceps")


def test_an_empty_section_is_just_as_long_as_its_marks(routine, beatmap):
    bare = replace(routine, poses=())
    scope = section_scope(bare, beatmap, "s1")
    assert (scope.start, scope.end) == (16.0, 32.0)


def test_the_whole_is_the_stage_part_and_holds_every_pose(routine, beatmap, spots):
    scope = whole_scope(routine, beatmap)
    assert (scope.start, scope.end) == (0.0, 70.0)
    assert len(taken_in(spots, scope.start, scope.end)) == len(routine.poses)


def test_a_rest_in_counts_follows_the_tempo(beatmap):
    assert seconds_of(Length(8), beatmap, 10.0, 100) == pytest.approx(4.0)
    assert seconds_of(Length(8), beatmap, 10.0, 50) == pytest.approx(8.0)
    assert seconds_of(Length(30, in_counts=False), beatmap, 10.0, 50) == 30.0
