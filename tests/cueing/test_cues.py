"""What is shown at each moment: countdown, held pose, transition, edge light, count-in."""

from __future__ import annotations

import time as clock

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehearse.cueing.cues import CueSheet
from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.position import Length, parse_position
from rehearse.routine.model import Facing, Move, Place, Placed, Routine, Section, Side, StagePart
from rehearse.routine.poses import load_catalogue

BEATS = tuple(2.0 + 0.5 * k for k in range(32))
MAP = BeatMap("h", 30.0, BEATS, tuple(k % 4 + 1 for k in range(32)), free=(Stretch(0, 2.0),))


def placed(pose, hit, hold=4, transition=2, **more):
    return Placed(
        pose[:4] + hit, pose, parse_position(hit), Length(hold), Length(transition), **more
    )


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


@pytest.fixture
def sheet(catalogue):
    routine = Routine(
        "t",
        "t.wav",
        poses=(
            placed("front double biceps", "1:1"),
            placed("back double biceps", "2:1", facing=Facing.BACK),
            placed("most muscular crab", "24.00 s"),
        ),
        sections=(Section("s1", "First", parse_position("1:1"), parse_position("2:5")),),
    )
    return CueSheet.compile(routine, MAP, catalogue)


@pytest.mark.parametrize(
    ("time", "numeral"),
    [(2.0, "8"), (2.4, "8"), (2.5, "7"), (4.0, "4"), (5.48, "2"), (5.5, "1"), (5.99, "1")],
)
def test_the_countdown_steps_on_the_beats_and_shows_one_on_the_last(sheet, time, numeral):
    assert sheet.at(time).numeral == numeral


def test_a_clock_a_hair_early_already_shows_the_count_of_the_beat(sheet):
    assert sheet.at(2.5 - 0.008).numeral == "7"


def test_in_free_time_seconds_are_counted(sheet):
    moment = sheet.at(0.5)
    assert moment.counts is None
    assert moment.numeral == "1.5"
    assert moment.count is None
    assert moment.rim == pytest.approx(1 - 1.5 / 4)  # it fills over four seconds


def test_the_next_pose_is_shown_from_the_hit_of_the_present_one(sheet):
    before, on = sheet.at(6.0 - 1e-4), sheet.at(6.0)
    assert before.next.name == "back double biceps"
    assert on.next.name == "most muscular crab"
    assert on.held.name == "back double biceps"
    assert on.held.facing is Facing.BACK
    assert on.hit
    assert not sheet.at(6.2).hit


def test_a_pose_is_held_until_the_transition_to_the_next_begins(sheet):
    assert sheet.at(4.99).held.name == "front double biceps"
    assert sheet.at(5.01).held is None
    assert sheet.at(5.5).travel == pytest.approx(0.5)


def test_after_the_last_hold_nothing_is_left(sheet):
    moment = sheet.at(29.0)
    assert (moment.next, moment.held, moment.numeral, moment.rim) == (None, None, "", 0.0)


@pytest.mark.parametrize(("time", "hit"), [(6.12, True), (6.13, False), (24.12, True)])
def test_a_hit_lights_up_for_a_quarter_of_a_count(sheet, time, hit):
    """An eighth of a second at 120 BPM, which is meant where nothing beats, too."""
    assert sheet.at(time).hit is hit
    assert not sheet.at(24.13).hit


@pytest.mark.parametrize(
    ("time", "rim"),
    [(5.9, 0.0), (6.0, 0.0), (8.0, 0.5), (9.0, 0.75), (10.0, 0.0), (10.5, 0.5), (25.0, 0.5)],
)
def test_the_edge_light_fills_over_eight_counts_or_the_way_from_the_hit_before(
    catalogue, time, rim
):
    """1:1 is at 2.0 s; from there to 3:1 are 16 counts, from there to 3:3 two, then two seconds."""
    hits = ("3:1", "3:3", "24.00 s", "26.00 s")
    poses = tuple(placed("vacuum", hit, transition=1) for hit in hits)
    moment = CueSheet.compile(Routine("t", "t", poses=poses), MAP, catalogue).at(time)
    assert moment.rim == pytest.approx(rim)


def test_the_count_that_sounds_is_told_with_its_place_and_length(sheet):
    moment = sheet.at(2.875)
    assert (moment.count, moment.beat_phase, moment.interval) == (MAP.counts[1], 0.75, 0.5)
    assert moment.counts == pytest.approx(6.25)
    assert moment.seconds == pytest.approx(3.125)


def test_progress_runs_along_the_part_used_on_stage(catalogue):
    routine = Routine("t", "t", stage=StagePart(4.0, 12.0))
    sheet = CueSheet.compile(routine, MAP, catalogue)
    assert [sheet.at(t).progress for t in (3.0, 4.0, 6.0, 12.0, 20.0)] == [0.0, 0.0, 0.25, 1.0, 1.0]


def test_of_two_sections_that_sound_the_one_that_began_last_is_named(catalogue):
    places = {"All": ("1:1", "4:1"), "Inside": ("2:1", "3:1")}
    sections = tuple(
        Section(name, name, parse_position(a), parse_position(b)) for name, (a, b) in places.items()
    )
    sheet = CueSheet.compile(Routine("t", "t", sections=sections), MAP, catalogue)
    named = [sheet.at(t).section.name for t in (5.9, 6.0, 9.9, 10.0)]
    assert named == ["All", "Inside", "Inside", "All"]


def test_the_edge_light_grows_and_is_whole_on_the_hit(sheet):
    rims = [sheet.at(t).rim for t in np.arange(2.0, 5.999, 0.05)]
    assert rims == sorted(rims)
    assert rims[0] == pytest.approx(0.0, abs=0.01)
    assert sheet.at(6.0 - 1e-6).rim == pytest.approx(1.0, abs=1e-4)


def test_the_section_sounding_is_named(sheet):
    assert sheet.at(3.0).section.name == "First"
    assert sheet.at(9.0).section is None


def test_a_section_is_named_from_its_first_moment_to_before_its_end(sheet):
    assert sheet.at(2.0).section.name == "First"
    assert sheet.at(8.0 - 1e-3).section.name == "First"
    assert sheet.at(8.0).section is None


def test_the_tenths_run_down_to_nothing_in_free_time(sheet):
    assert [sheet.at(t).numeral for t in (1.5, 1.96)] == ["0.5", "0.0"]
    # From ten seconds on tenths would only flicker (24.00 s is the hit).
    assert [sheet.at(24.0 - left).numeral for left in (10.4, 9.95, 9.94)] == ["10", "10", "9.9"]


def test_a_count_in_to_a_hit_takes_the_counts_left_in_seconds(sheet):
    moment = sheet.before(6.0, 3.0, 0.5)
    assert (moment.next.name, moment.counts, moment.seconds) == ("back double biceps", 3.0, 1.5)


def test_nothing_has_begun_before_a_pass_that_starts_in_mid_transition(sheet):
    assert 0.0 < sheet.at(5.5).travel < 1.0
    moment = sheet.ready(5.5)
    assert (moment.rim, moment.travel, moment.count_in) == (0.0, 0.0, "")


def test_ready_in_free_time_shows_the_seconds_to_the_first_pose(sheet):
    moment = sheet.ready(0.5)
    assert (moment.next.name, moment.numeral, moment.count_in) == ("front double biceps", "1.5", "")


def test_poses_at_counts_that_do_not_exist_are_left_out(catalogue):
    routine = Routine("t", "t", poses=(placed("front double biceps", "99:1"),))
    assert CueSheet.compile(routine, MAP, catalogue).cues == ()


def test_a_count_in_counts_on_to_the_first_pose(sheet):
    moment = sheet.before(2.0, 4.0, 0.5)
    assert (moment.count_in, moment.numeral) == ("5", "4")
    assert moment.next.name == "front double biceps"
    assert sheet.before(2.0, 0.5, 0.5).count_in == "8"
    later = sheet.before(4.0, 4.0, 0.5)
    assert later.next.name == "back double biceps"
    assert later.numeral == "8"


def test_ready_at_a_hit_shows_that_pose_without_any_light(sheet):
    moment = sheet.ready(2.0)
    assert moment.next.name == "front double biceps"
    assert (moment.hit, moment.rim, moment.count_in, moment.numeral) == (False, 0.0, "", "")
    assert sheet.ready(4.0).numeral == "4"
    assert (sheet.ready(0.5).numeral, sheet.ready(29.0).numeral) == ("1.5", "")  # in free time


@given(st.floats(-5, 40))
def test_any_moment_can_be_asked_for(time):
    routine = Routine("t", "t", poses=(placed("front double biceps", "1:1"),))
    moment = CueSheet.compile(routine, MAP, load_catalogue_once()).at(time)
    assert 0.0 <= moment.rim <= 1.0
    assert 0.0 <= moment.travel <= 1.0
    assert 0.0 <= moment.progress <= 1.0


def load_catalogue_once(cache=[]):  # noqa: B006 - one catalogue for all examples
    return cache[0] if cache else cache.append(load_catalogue()) or cache[0]


def test_looking_up_is_cheap_enough_for_every_paint(sheet):
    """The order of magnitude only; the figure itself is measured by the benchmark."""
    started = clock.perf_counter()
    for k in range(2000):
        sheet.at(2.0 + 0.01 * k)
    assert (clock.perf_counter() - started) / 2000 < 1e-3


def with_moves(catalogue):
    moves = (
        Move("m1", "reach up", Length(1), Side.RIGHT),
        Move("m2", "turn", Length(1), direction="left"),
    )
    poses = (
        placed("front double biceps", "1:1", again=(parse_position("1:3"),), place=Place.CENTRE),
        placed("vacuum", "2:1", transition=3, moves=moves, place=Place.FRONT_LEFT),
        placed("crucifix", "3:1", place=Place.FRONT_LEFT),
    )
    leave = (Move("x1", "walk off", Length(4), direction="left"),)
    return CueSheet.compile(Routine("t", "t.wav", poses=poses, exit=leave), MAP, catalogue)


@pytest.mark.parametrize(
    ("time", "text", "numeral"),
    [
        (4.4, "", ""),  # still held
        (4.5, "reach up right", "1"),
        (4.99, "reach up right", "1"),
        (5.0, "turn left", "1"),
        (5.5, "", ""),  # the way in
        (12.0, "walk off left", "4"),  # the last hold is over
        (13.5, "walk off left", "1"),
        (14.0, "", ""),
    ],
)
def test_the_move_under_way_has_counts_of_its_own(catalogue, time, text, numeral):
    moment = with_moves(catalogue).at(time)
    assert (moment.move.text if moment.move else "", moment.move_numeral) == (text, numeral)


def test_a_pose_hit_again_counts_down_to_that_and_is_a_hit(catalogue):
    sheet = with_moves(catalogue)
    assert (sheet.at(2.0).again, sheet.at(2.0).move_numeral) == (True, "2")
    assert sheet.at(2.0).next.name == "vacuum"
    assert sheet.at(2.9).hit is False
    assert sheet.at(3.0).hit is True
    assert sheet.at(3.0).again is False
    assert sheet.flashes == (2.0, 3.0, 6.0, 10.0)


def test_a_pose_is_hit_again_in_the_first_second_of_the_music_too(catalogue):
    poses = (placed("crucifix", "0.20 s", again=(parse_position("0.80 s"),)),)
    moment = CueSheet.compile(Routine("t", "t.wav", poses=poses), MAP, catalogue).at(0.3)
    assert (moment.again, moment.move_numeral) == (True, "0.5")


@pytest.mark.parametrize(
    ("time", "moving"),
    [(4.4, False), (4.5, True), (5.6, True), (7.0, False), (9.5, False), (12.5, True)],
)
def test_a_way_with_moves_and_the_way_off_are_told_from_a_plain_transition(catalogue, time, moving):
    """Held, a move, the way in behind it, held again, a transition without moves, walking off."""
    assert with_moves(catalogue).at(time).moving is moving


def test_nobody_moves_in_a_count_in(catalogue):
    sheet = with_moves(catalogue)
    assert sheet.at(5.6).moving
    counted = sheet.before(5.6, 0.5, 0.5)
    assert counted.travel > 0.0
    assert not counted.moving


def test_the_way_off_begins_with_the_last_pose_and_lasts_as_long_as_its_moves(catalogue):
    sheet = with_moves(catalogue)
    leaving, last = sheet.leaving, sheet.cues[-1]
    assert (leaving.start, leaving.hit, leaving.end) == (12.0, 14.0, 14.0)
    assert (leaving.way.start, leaving.way.end) == (12.0, 14.0)
    assert leaving.moves == sheet.exit
    assert leaving.way.before == last.pose.seen(last.facing, last.level)
    assert leaving.way.after is None
    bare = Routine("t", "t", exit=(Move("x1", "walk off", Length(4)),))
    assert CueSheet.compile(bare, MAP, catalogue).leaving is None  # nobody is there to leave


def test_an_again_at_a_count_that_does_not_exist_hides_none_of_the_others(catalogue):
    again = (parse_position("99:1"), parse_position("1:3"))
    poses = (placed("vacuum", "1:1", again=again),)
    assert CueSheet.compile(Routine("t", "t", poses=poses), MAP, catalogue).flashes == (2.0, 3.0)


def test_the_place_is_named_where_it_is_another_one(catalogue):
    assert [c.moved_to for c in with_moves(catalogue).cues] == ["centre", "front left", ""]


@pytest.mark.parametrize(
    ("direction", "short"), [("left", "reach left"), ("right", "reach right"), ("up", "reach")]
)
def test_what_is_said_in_less_keeps_left_and_right_and_no_other_direction(
    catalogue, direction, short
):
    moves = (Move("m", "reach", Length(4), direction=direction),)
    poses = (placed("vacuum", "3:1", transition=2, moves=moves),)
    (cue,) = CueSheet.compile(Routine("t", "t.wav", poses=poses), MAP, catalogue).cues
    (move,) = cue.moves
    assert move.text == f"reach {direction}"
    assert (move.short or move.text) == short
    assert (move.start, move.end) == (cue.start, cue.hit)  # not beyond the hit, however long


def test_the_way_into_a_pose_begins_with_the_body_of_the_one_before(sheet):
    first, second, _third = sheet.cues
    assert first.way.before is None  # on to the stage
    assert second.way.before == first.pose.seen(first.facing, first.level)
    assert second.way.after == second.pose.seen(second.facing, second.level)
    assert (second.way.start, second.way.end) == (5.0, 6.0)


def test_a_section_at_a_count_that_does_not_exist_hides_none_after_it(catalogue):
    sections = tuple(
        Section(f"s{k}", name, parse_position(a), parse_position(b))
        for k, (name, a, b) in enumerate([("Gone", "90:1", "91:1"), ("Here", "1:1", "2:1")])
    )
    sheet = CueSheet.compile(Routine("t", "t.wav", sections=sections), MAP, catalogue)
    assert [x.section.name for x in sheet.sections] == ["Here"]
