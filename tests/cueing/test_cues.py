"""What is shown at each moment: countdown, held pose, transition, edge light, count-in.

Sources: "5, 6, 7, 8" as the usual count-in, its last count one beat before the start (common
practice, no source); beats over 1.5 s apart get their "&" (Repp 2005, Psychonomic Bulletin &
Review 12, 969–992).
"""

from __future__ import annotations

import time as clock

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehearse.cueing.clap import clap, clap_before
from rehearse.cueing.count_in import click, count_in
from rehearse.cueing.cues import CueSheet
from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.position import Length, parse_position
from rehearse.routine.model import Facing, Move, Place, Placed, Routine, Section, Side
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


def test_count_in_scales_with_the_tempo_and_ends_one_beat_before_the_start():
    heard = count_in(MAP, 4.0, tempo=0.5)
    assert [c.label for c in heard] == ["1", "2", "3", "4"]  # it begins on 1:5
    assert [c.label for c in count_in(MAP, 6.0)] == ["5", "6", "7", "8"]
    assert [c.label for c in count_in(MAP, 0.5)] == ["5", "6", "7", "8"]  # free time
    assert [c.at for c in heard] == pytest.approx([-4.0, -3.0, -2.0, -1.0])


def test_slow_counts_get_their_and():
    slow = BeatMap("h", 60.0, tuple(2.0 * k for k in range(20)), (1, 2, 3, 4) * 5)
    assert [c.label for c in count_in(slow, 16.0, counts=2)] == ["7", "&", "8", "&"]


def test_a_click_starts_at_once_and_ends_in_silence():
    sound = click(44100, strong=True)
    assert np.argmax(np.abs(sound) > 0.25) < 0.001 * 44100
    assert abs(sound[-1]) < 1e-6
    assert len(sound) == int(0.045 * 44100)  # over before a count said with it
    assert np.abs(sound).max() < 0.5  # the music is heard beside it
    last = np.abs(sound[-len(sound) // 8 :])  # it fades, and is not cut off before its end
    assert last[: len(last) // 4].max() > 1e-4
    quieter = np.abs(click(44100)).max() / np.abs(click(44100, soft=True)).max()
    assert 20 * np.log10(quieter) == pytest.approx(10, abs=0.2)


def test_a_clap_begins_at_once_and_is_over_before_the_count_in():
    """Five counts of 0.5 s before the music at its tempo, twice as far at half of it."""
    assert clap_before(MAP, 6.0) == 2.5
    assert clap_before(MAP, 6.0, tempo=0.5) == 5.0
    sound = np.abs(clap(8000))
    assert 0.69 < sound.max() < 0.71
    assert sound[:40].max() > 0.2  # within 5 ms
    assert len(sound) < 0.4 * 8000
    assert sound[-40:].max() < 0.01
    again = [
        k for k in range(40, len(sound)) if sound[k : k + 40].max() > 4 * sound[k - 40 : k].max()
    ]
    assert len({k // 80 for k in again}) >= 3  # more than one clap, so that one is found in noise


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
