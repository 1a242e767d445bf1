"""Suggestions fit beside the poses there are, and each has its reason."""

from __future__ import annotations

from dataclasses import replace

from rehearse.music.beatmap import Accent, Build, Stretch
from rehearse.music.position import Count, Length
from rehearse.routine.checks import Severity, check
from rehearse.routine.model import Routine
from rehearse.routine.rules import load_rules
from rehearse.routine.suggest import accept, suggest
from tests.routine.conftest import make_song, pose

EMPTY = Routine("T", "t.ogg")


def test_accents_without_a_pose_are_offered(catalogue):
    song = make_song(accents=(Accent(8.0, 0.9), Accent(20.0, 0.8), Accent(30.0, 0.3)))
    found = suggest(EMPTY, song, catalogue)
    assert [(s.kind, str(s.hit)) for s in found] == [("accent", "2:1"), ("accent", "5:1")]
    assert all(s.reason == "a strong accent without a pose" for s in found)
    one = replace(EMPTY, poses=(pose("a", "crucifix", Count(2, 1)),))
    assert [str(s.hit) for s in suggest(one, song, catalogue)] == ["5:1"]


def test_a_build_is_risen_with_and_hit_at_its_end(catalogue):
    song = make_song(accents=(Accent(20.0, 0.9),), builds=(Build(16.0, 20.0, 20.0),))
    (found,) = suggest(EMPTY, song, catalogue)
    assert (found.kind, found.hit, found.transition) == ("build", Count(5, 1), Length(8))
    assert (found.start, found.time, found.end) == (16.0, 20.0, 22.0)
    assert found.reason == "the music rises from 4:1 and ends in an accent here"
    new = accept(EMPTY, song, found, pose_id="new")
    assert new.placed("new").transition == Length(8)
    assert not suggest(new, song, catalogue)


def test_a_pose_on_a_builds_end_is_offered_the_longer_way(catalogue):
    song = make_song(accents=(Accent(20.0, 0.9),), builds=(Build(16.0, 20.0, 20.0),))
    one = replace(EMPTY, poses=(pose("a", "crucifix", Count(5, 1)),))
    (found,) = suggest(one, song, catalogue)
    assert (found.pose_id, found.poses, found.transition) == ("a", (), Length(8))
    after = accept(one, song, found).placed("a")
    assert (after.transition, after.hit, after.hold) == (Length(8), Count(5, 1), Length(4))
    # a pose held into the build leaves no room for it
    two = replace(one, poses=(pose("b", "victory", Count(4, 1)), *one.poses))
    assert not suggest(two, song, catalogue)


def test_quiet_is_for_the_knees(catalogue):
    song = make_song(quiets=(Stretch(40.0, 46.0), Stretch(60.0, 62.0)))
    (found,) = suggest(EMPTY, song, catalogue)
    assert found.kind == "quiet"
    assert found.start == 40.0
    assert 40.0 < found.time < 46.0
    assert all(catalogue.find(p).level == "kneeling" for p in found.poses)
    assert found.reason == "6 s of quiet are fit for a slow way to the knees"


def test_shown_poses_are_not_offered_again(catalogue):
    song = make_song(accents=(Accent(8.0, 0.9),))
    shown = replace(EMPTY, poses=(pose("a", "front double biceps", Count(6, 1)),))
    (found,) = suggest(shown, song, catalogue)
    assert "front double biceps" not in found.poses
    assert all(catalogue.find(p).kind == "mandatory" for p in found.poses)


def test_all_suggestions_can_be_taken_together(song, catalogue):
    routine = EMPTY
    for number, found in enumerate(suggest(EMPTY, song, catalogue)):
        routine = accept(routine, song, found, pose_id=str(number))
    assert len(routine.poses) >= 8
    told = check(routine, song, catalogue, load_rules("open"))
    assert not [f for f in told if f.severity is Severity.FAULT]
    assert not [f for f in told if f.kind in ("overlap", "hold", "outside")]
    assert not suggest(routine, song, catalogue)


def test_suggestions_stay_in_the_stage_part(song, catalogue, routine):
    for found in suggest(routine, song, catalogue):
        assert found.end <= routine.stage.end + 0.01
