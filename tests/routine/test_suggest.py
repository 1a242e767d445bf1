"""Suggestions fit beside the poses there are, and each has its reason."""

from __future__ import annotations

from dataclasses import replace

from rehearse.music.beatmap import Accent, BeatMap, Build, Stretch
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine.checks import Severity, check
from rehearse.routine.checks.timing import quarter_turns
from rehearse.routine.model import Facing, Routine, StagePart
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


def test_eights_make_up_what_the_music_does_not_say(catalogue):
    song = make_song(accents=(Accent(20.25, 0.9), Accent(30.0, 0.8)))
    found = suggest(EMPTY, song, catalogue, least=6)
    assert len(found) == 6
    assert {str(s.hit) for s in found if s.kind == "accent"} == {"5:1&", "7:5"}
    for one in (s for s in found if s.kind == "eight"):
        assert one.hit.count == 1
        assert one.hit.quarter == 0
        assert one.reason == "a new eight begins here"
    new = EMPTY
    for number in range(6):  # each taken, the others still stand
        first = suggest(new, song, catalogue, least=6)[0]
        new = accept(new, song, first, pose_id=str(number))
    assert len(new.poses) == 6
    assert [
        f
        for f in check(new, song, catalogue, load_rules("open-90"))
        if f.severity is Severity.FAULT
    ] == []
    assert not [s for s in suggest(new, song, catalogue, least=6) if s.kind == "eight"]


def test_an_accent_on_a_count_goes_before_a_stronger_one_between(catalogue):
    song = make_song(accents=(Accent(20.0, 0.6), Accent(20.75, 0.9)))
    assert [str(s.hit) for s in suggest(EMPTY, song, catalogue)] == ["5:1"]


def test_a_build_is_risen_with_and_hit_at_its_end(catalogue):
    song = make_song(accents=(Accent(20.0, 0.9),), builds=(Build(16.0, 20.0, 20.0),))
    (found,) = suggest(EMPTY, song, catalogue)
    assert (found.kind, found.hit, found.transition) == ("build", Count(5, 1), Length(8))
    assert (found.start, found.time, found.end) == (16.0, 20.0, 22.0)
    rise = "the music rises from 4:1 and ends in an accent here"
    assert found.reason == f"{rise}: reach up and arrive with it"
    assert [(m.move, m.length) for m in found.moves] == [("reach up", Length(7))]
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
    assert found.poses
    assert all(catalogue.find(p).level == "kneeling" for p in found.poses)
    assert found.reason == "6 s of quiet are fit for a slow way to the knees"


def test_shown_poses_are_not_offered_again(catalogue):
    song = make_song(accents=(Accent(8.0, 0.9),))
    shown = replace(EMPTY, poses=(pose("a", "front double biceps", Count(6, 1)),))
    (found,) = suggest(shown, song, catalogue)
    assert "front double biceps" not in found.poses
    assert found.poses
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


def test_near_silence_before_a_hit_is_gathered_in(catalogue):
    song = make_song(quiets=(Stretch(17.0, 20.0),), accents=(Accent(20.0, 0.9),))
    (found,) = suggest(EMPTY, song, catalogue)
    # 17 s is six counts before 5:1 at 20 s (0.5 s a count).
    assert (str(found.hit), found.transition) == ("5:1", Length(6))
    assert [(m.move, m.length) for m in found.moves] == [("gather", Length(5))]
    assert found.reason == "3 s of near-silence, then a hit: gather small, then open into it"
    after = accept(EMPTY, song, found, pose_id="new")
    assert [m.move for m in after.placed("new").moves] == ["gather"]
    assert not suggest(after, song, catalogue)
    # A pose that stands on the hit already is offered the move alone, and nothing twice.
    one = replace(EMPTY, poses=(pose("a", "crucifix", Count(5, 1)),))
    (found,) = suggest(one, song, catalogue)
    assert (found.pose_id, found.words) == ("a", "gather")
    filled = accept(one, song, found)
    assert [m.move for m in filled.placed("a").moves] == ["gather"]
    assert not suggest(filled, song, catalogue)


def test_a_low_body_rises_with_a_build(catalogue):
    song = make_song(accents=(Accent(20.0, 0.9),), builds=(Build(16.0, 20.0, 20.0),))
    low = replace(EMPTY, poses=(pose("a", "kneeling victory", Count(2, 1)),))
    (found,) = suggest(low, song, catalogue)
    assert [m.move for m in found.moves] == ["rise"]


def test_a_run_of_accents_is_one_pose_hit_again(catalogue):
    song = make_song(accents=tuple(Accent(20.0 + k, 0.9) for k in range(4)))
    (found,) = suggest(EMPTY, song, catalogue)
    assert (found.kind, str(found.hit)) == ("run", "5:1")
    assert [str(p) for p in found.again] == ["5:3", "5:5", "5:7"]
    assert found.reason.startswith("4 accents in a row")
    after = accept(EMPTY, song, found, pose_id="new").placed("new")
    assert after.again == found.again
    assert all(after.times(song)[1] < song.time_of(p) < after.times(song)[2] for p in after.again)


def test_accents_far_enough_apart_get_a_pose_each(catalogue):
    song = make_song(accents=tuple(Accent(20.0 + 4 * k, 0.9) for k in range(3)))
    assert [s.kind for s in suggest(EMPTY, song, catalogue)] == ["accent"] * 3


def test_an_accent_inside_a_hold_is_hit_again(catalogue):
    song = make_song(accents=(Accent(21.0, 0.9), Accent(20.3, 0.9)))
    one = replace(EMPTY, poses=(pose("a", "crucifix", Count(5, 1), 6),))
    (found,) = (s for s in suggest(one, song, catalogue) if s.kind == "again")
    assert (found.words, [str(p) for p in found.again]) == ("hit again", ["5:3"])
    assert "falls into the hold of crucifix" in found.reason
    after = accept(one, song, found)
    assert after.placed("a").again == (Count(5, 3),)
    assert not [s for s in suggest(after, song, catalogue) if s.kind == "again"]


def test_what_the_rules_still_miss_goes_first_and_says_so(catalogue):
    song = make_song(accents=(Accent(8.0, 0.9), Accent(20.0, 0.8)))
    rules = replace(load_rules("open"), name="Club night", required=("crucifix",), mandatory=())
    first, second = suggest(EMPTY, song, catalogue, rules=rules)
    found = {s.poses[0] for s in (first, second)}
    assert "crucifix" in found
    (why,) = (s.reason for s in (first, second) if s.poses[0] == "crucifix")
    assert why.endswith("crucifix is still missing for Club night")


def test_a_pose_that_cannot_be_reached_in_time_comes_after_one_that_can(catalogue):
    """Two counts at 120 BPM are 1 s, a half turn wants 1.5 s (common practice)."""
    song = make_song(accents=(Accent(20.0, 0.9),))
    before = pose("a", "back double biceps", Count(4, 1), 4)
    (found,) = suggest(replace(EMPTY, poses=(before,)), song, catalogue)
    facings = [catalogue.find(name).facing for name in found.poses]
    assert all(quarter_turns(Facing.BACK, facing) < 2 for facing in facings)


def test_a_song_without_counts_is_offered_moments_in_seconds(catalogue):
    song = BeatMap("0" * 32, 80.0, (), (), free=(Stretch(0.0, 80.0),))
    routine = Routine("Made", "song.wav", stage=StagePart(0.0, 60.0))
    offers = suggest(routine, song, catalogue, least=6)
    assert len(offers) == 6
    assert all(isinstance(s.hit, Seconds) and s.start >= 0.0 and s.end <= 60.0 for s in offers)
    for suggestion in offers:
        routine = accept(routine, song, suggestion)
    assert len(routine.poses) == 6
