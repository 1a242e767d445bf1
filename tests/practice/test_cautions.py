"""Cautions appear where they belong and nowhere else, each with its source."""

from dataclasses import replace
from datetime import date

import pytest

from rehearse.music.position import Length
from rehearse.practice.cautions import due, due_for_round, load_cautions, stopped
from rehearse.routine.model import Level
from rehearse.routine.poses import load_catalogue

TODAY = date(2026, 11, 2)


def keys(routine, beatmap, minutes=30, today=TODAY, seen=()):
    found = due(routine, beatmap, load_catalogue(), minutes=minutes, today=today, seen=seen)
    return [c.key for c in found]


def test_every_caution_has_words_and_a_source():
    cautions = load_cautions()
    assert len({c.key for c in cautions}) == len(cautions)
    assert all(c.text and c.source and len(c.text) < 140 for c in cautions)


def test_figures_are_those_of_their_sources():
    # Archives of Physical Medicine and Rehabilitation 1995, 76 (abstract): 311/284 against
    # 198/175 mmHg. NIOSH 1998: 85 dBA for 8 h, 3 dB exchange rate.
    text = " ".join(c.source for c in load_cautions())
    assert all(figure in text for figure in ("311/284", "198/175", "85 dBA", "3 dB", "13:68"))


def test_only_what_belongs_is_shown_and_only_once(routine, beatmap):
    standing = replace(routine, poses=routine.poses[:3])
    assert keys(standing, beatmap) == ["warm up", "ask"]
    assert keys(standing, beatmap, seen=("warm up", "ask")) == []
    assert "volume" in keys(standing, beatmap, minutes=90)
    shown = {days: "last week" in keys(standing, beatmap, today=date(2027, 1, 16 - days))
             for days in (8, 7, 0)}  # fmt: skip
    assert shown == {8: False, 7: True, 0: True}
    assert "last week" not in keys(standing, beatmap, today=date(2027, 1, 17))
    assert "volume" not in keys(standing, beatmap, minutes=60)


def test_long_holds_and_low_poses_have_their_word(routine, beatmap):
    long = replace(routine.poses[0], hold=Length(6.0, in_counts=False))
    low = replace(routine.poses[1], pose="kneeling double biceps")
    assert "breathe" in keys(replace(routine, poses=(long,)), beatmap)
    assert "knees" in keys(replace(routine, poses=(low,)), beatmap)
    own = replace(routine.poses[1], level=Level.LUNGE)
    assert "knees" in keys(replace(routine, poses=(own,)), beatmap)
    for up in (replace(low, level=Level.STANDING), replace(low, pose="my own lantern")):
        assert "knees" not in keys(replace(routine, poses=(up,)), beatmap)


@pytest.mark.parametrize(("seconds", "told"), [(4.9, False), (5.0, True)])
def test_from_five_seconds_on_a_hold_is_long_in_the_routine_and_in_a_round(
    routine, beatmap, seconds, told
):
    held = replace(routine.poses[0], hold=Length(seconds, in_counts=False))
    both = (held, replace(routine.poses[1], hold=Length(1.0, in_counts=False)))
    assert ("breathe" in keys(replace(routine, poses=both), beatmap)) is told
    assert ("breathe" in [c.key for c in due_for_round(seconds)]) is told


def test_a_round_has_its_own_words_and_none_twice():
    assert [c.key for c in due_for_round(3.0)] == ["warm up", "ask", "long holds"]
    assert [c.key for c in due_for_round(3.0, seen=("ask", "warm up"))] == ["long holds"]


def test_the_vacuum_has_a_word_of_its_own(routine, beatmap):
    """It is shown with the breath out, so that "keep breathing" would contradict it."""
    held = replace(routine.poses[0], pose="vacuum", hold=Length(6.0, in_counts=False))
    found = keys(replace(routine, poses=(held,)), beatmap)
    assert "held out breath" in found
    assert "breathe" not in found


def test_after_a_stop_nothing_counts_as_missed():
    assert "Nothing counts as missed" in stopped().text
