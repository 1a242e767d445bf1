"""A routine stays at its place in the music whatever is corrected under it."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rehearse.music import correct
from rehearse.music.beatmap import BeatMap, Stretch
from rehearse.music.position import Count, Length, Seconds, parse_length
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import Placed, Routine, Section
from rehearse.routine.remap import carry_over, remap


def song() -> BeatMap:
    return BeatMap(
        "x", 40.0, tuple(0.5 + k * 0.5 for k in range(72)), tuple(k % 4 + 1 for k in range(72))
    )


def routine() -> Routine:
    return Routine(
        "Test",
        "track.ogg",
        poses=(
            Placed("a", "front double biceps", Count(2, 1), Length(4), Length(2)),
            Placed("b", "side chest", Count(3, 5, 2), Length(3), Length(1.5)),
            Placed("c", "victory", Seconds(21.3), Length(2.0, in_counts=False), Length(4)),
            Placed("d", "most muscular", Count(9, 8), Length(4), Length(2)),
        ),
        sections=(Section("s", "opening", Count(1, 1), Count(4, 1)),),
    )


CORRECTIONS = {
    "twice": correct.double_tempo,
    "half": correct.halve_tempo,
    "off-beat": lambda m: correct.shift_beats(m, 0.5),
    "a beat": lambda m: correct.shift_beats(m, 1),
    "one": lambda m: correct.set_one(m, 1.0),
    "nudge": lambda m: correct.nudge(m, 0.017),
    "free": lambda m: correct.mark_free(m, Stretch(8.0, 12.0)),
    "eight": lambda m: correct.toggle_restart(m, 6.0),
    "tapped": lambda m: correct.tap_along(m, [10 + k * 0.43 for k in range(30)]),
}


@pytest.mark.parametrize("name", CORRECTIONS)
def test_every_place_stays_within_a_millisecond(name):
    old, before = song(), routine()
    new = CORRECTIONS[name](old)
    after = remap(before, old, new)
    for was, now in zip(before.poses, after.poses, strict=True):
        assert now.times(new) == pytest.approx(was.times(old), abs=0.001)
        assert (now.id, now.pose) == (was.id, was.pose)
    for was, now in zip(before.sections, after.sections, strict=True):
        assert new.time_of(now.start) == pytest.approx(old.time_of(was.start), abs=0.001)
        assert new.time_of(now.end) == pytest.approx(old.time_of(was.end), abs=0.001)


def test_what_is_carried_over_can_be_written_and_read_again():
    beats = tuple(0.5 + k * 0.4637123 for k in range(72))
    old = BeatMap("x", 40.0, beats, tuple(k % 4 + 1 for k in range(72)))
    new = correct.mark_free(old, Stretch(0.0, 40.0))
    for now in remap(routine(), old, new).poses:
        assert not now.hold.in_counts
        assert parse_length(str(now.hold)) == now.hold
        assert parse_length(str(now.transition)) == now.transition


def test_counts_are_rewritten_and_holds_keep_their_length_in_time():
    old = song()
    new = correct.double_tempo(old)
    pose = remap(routine(), old, new).poses[0]
    assert str(pose.hit) == "3:1"
    assert str(pose.hold) == "8 counts"
    assert str(pose.transition) == "4 counts"


def test_what_falls_between_the_counts_becomes_seconds():
    old = song()
    pose = remap(routine(), old, correct.nudge(old, 0.017)).poses[0]
    assert str(pose.hit) == "4.50 s"
    assert str(pose.hold) == "4 counts"


def test_a_count_may_follow_a_beat_that_moved_a_little():
    old = song()
    new = correct.nudge(old, 0.017)
    after = remap(routine(), old, new, follow=0.05)
    assert [str(p.hit) for p in after.poses] == [str(p.hit) for p in routine().poses]
    assert after.poses[0].times(new)[1] == pytest.approx(4.517, abs=1e-6)


def test_a_count_that_no_longer_exists_stays_as_it_was_written():
    old = BeatMap("x", 40.0, song().beats[:4], song().places[:4])
    assert remap(routine(), old, song()) == routine()


@settings(deadline=None, max_examples=60)
@given(st.lists(st.sampled_from(sorted(CORRECTIONS)), min_size=1, max_size=4))
def test_a_row_of_corrections_moves_nothing(row):
    beatmap, now = song(), routine()
    for name in row:
        corrected = CORRECTIONS[name](beatmap)
        now = remap(now, beatmap, corrected)
        beatmap = corrected
    for was, pose in zip(routine().poses, now.poses, strict=True):
        for a, b in zip(pose.times(beatmap), was.times(song()), strict=True):
            assert a == pytest.approx(b, abs=0.001 * len(row))


@settings(max_examples=60, deadline=None)
@given(
    st.floats(4.0, 200.0),
    st.floats(0.2, 1.2),
    st.integers(0, 400),
    st.sampled_from([3, 4]),
)
def test_on_another_song_every_place_is_in_its_map_and_can_be_opened_again(
    tmp_path_factory, duration, step, beats, bar
):
    times = tuple(t for k in range(beats) if (t := 0.3 + k * step) < duration)
    other = BeatMap("y", duration, times, tuple(k % bar + 1 for k in range(len(times))))
    carried = carry_over(routine(), song(), other)
    for before, after in zip(routine().poses, carried.poses, strict=True):
        assert (before.id, before.pose, before.hold) == (after.id, after.pose, after.hold)
        if before.hit in other.counts:
            assert after.hit == before.hit
    folder = tmp_path_factory.mktemp("carried")
    save_folder(folder, carried, other)
    opened = open_folder(folder).routine
    assert {p.id: p.hit for p in opened.poses} == {p.id: p.hit for p in carried.poses}
    assert opened.sections == carried.sections
    for placed in opened.poses:
        placed.times(other)
