"""Putting poses close to each other: hits stay, holds and transitions give way."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine.edits import place_fitting
from rehearse.routine.model import Routine
from rehearse.routine.snapping import Snap, snap

# 4/4 at 120 BPM from 4 s on: a count is 0.500 s, an eight 4.000 s.
BEATS = tuple(float(b) for b in np.arange(4.0, 76.0, 0.5))
SONG = BeatMap("5e1f", 80.0, BEATS, tuple(k % 4 + 1 for k in range(len(BEATS))))
EMPTY = Routine("Made", "song.wav")


def put(routine, hit, pose_id, name="vacuum"):
    return place_fitting(routine, SONG, name, hit, pose_id=pose_id)


def test_with_room_the_usual_lengths_stay():
    routine = put(put(EMPTY, Count(2, 1), "a"), Count(3, 1), "b")
    assert [(p.hold, p.transition) for p in routine.poses] == [(Length(4), Length(2))] * 2


def test_four_counts_apart_the_hold_before_ends_where_the_transition_begins():
    routine = put(put(EMPTY, Count(2, 1), "a"), Count(2, 5), "b")
    assert routine.placed("a").hold == Length(2)
    assert routine.placed("b").transition == Length(2)


def test_two_counts_apart_the_room_is_shared():
    routine = put(put(EMPTY, Count(2, 1), "a"), Count(2, 3), "b")
    assert routine.placed("a").hold == Length(1)
    assert routine.placed("b").transition == Length(1)


def test_a_pose_put_before_another_holds_until_its_transition():
    routine = put(put(EMPTY, Count(3, 1), "b"), Count(2, 5), "a")
    assert routine.placed("a").hold == Length(2)
    assert routine.placed("b").transition == Length(2)


def test_a_pose_put_into_a_transition_shares_its_room():
    routine = put(put(EMPTY, Count(3, 1), "b"), Count(2, 8), "a")
    assert routine.placed("a").hold == Length(0.5)
    assert routine.placed("b").transition == Length(0.5)


def test_in_free_time_lengths_are_seconds():
    routine = put(put(EMPTY, Seconds(0.5), "a"), Seconds(2.5), "b")
    assert routine.placed("a").hold == Length(1.0, in_counts=False)
    assert routine.placed("b").transition == Length(1.0, in_counts=False)


@given(st.lists(st.floats(4.0, 70.0), min_size=1, max_size=14))
def test_taps_anywhere_never_ask_for_two_poses_at_once(taps):
    routine, hits = EMPTY, []
    for number, tap in enumerate(taps):
        hit = snap(SONG, tap, Snap.COUNTS)
        if hit in hits:
            continue
        hits.append(hit)
        routine = put(routine, hit, f"{number}")
    assert sorted(hits) == [p.hit for p in routine.poses], "hits never move"
    times = [p.times(SONG) for p in routine.poses]
    for (_, hit, end), (start, later, _) in pairwise(times):
        assert hit < later
        assert end <= start + 0.02
