"""What is heard of a cue track before it is made, and what is said to be left out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rehearse.handout.cue_plan import CuePlan, plan_stretches
from rehearse.handout.handout_options import HandoutOptions
from rehearse.handout.handout_source import make_source
from rehearse.handout.preview import around_a_hit, heard, unspoken
from rehearse.music.position import Length, parse_position


def crowded(source):
    poses = [
        replace(pose, hit=parse_position(hit), hold=Length(0), transition=Length(0))
        for pose, hit in zip(source.routine.poses, ("2:1", "2:1&", "2:2"), strict=False)
    ]
    routine = replace(source.routine, poses=tuple(poses))
    return make_source(source.folder, routine, source.beatmap)


@pytest.mark.parametrize("tempo", [0.4, 0.7, 1.0, 1.05])
@pytest.mark.parametrize("first", ["1:1", "5:1", "7:7&"])
def test_twenty_seconds_with_a_hit_are_heard(source, tempo, first):
    poses = [replace(source.routine.poses[0], hit=parse_position(first))]
    routine = replace(source.routine, poses=tuple(poses))
    late = make_source(source.folder, routine, source.beatmap)
    (whole,) = plan_stretches(late, CuePlan(tempos=(tempo,)))
    part = around_a_hit(late, whole)
    seconds = (part.end - part.start) / tempo
    assert seconds <= 20.0 + 1e-9
    assert part.start <= late.sheet.hits[0] < part.end
    assert whole.start <= part.start < part.end <= whole.end


def test_it_is_heard_as_it_will_be(source):
    options = HandoutOptions(tempos=(0.7,), clicks="off")
    part = heard(source, options, 44100)
    assert part.tempo == 0.7
    assert part.lead > 2.0  # its count-in
    assert {clip.kind for clip in part.clips} == {"speech"}


def test_what_finds_no_room_and_what_cannot_be_read_is_named(source):
    assert unspoken(source, HandoutOptions()) == ()
    (sentence,) = unspoken(crowded(source), HandoutOptions())
    assert sentence.startswith("1 name is not said, for want of room: side chest left (2:1&)")
    assert unspoken(crowded(source), HandoutOptions(cueing="counts")) == ()
