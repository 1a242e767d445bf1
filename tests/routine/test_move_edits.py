"""Moves put in, made longer, taken out: at 120 BPM a count is 0.5 s (arithmetic of the tempo)."""

from __future__ import annotations

import shutil
from dataclasses import replace

import pytest

from rehearse.files.user_error import UserError
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine import edits
from rehearse.routine.compare import compare
from rehearse.routine.folder import open_folder, save_folder, save_routine
from rehearse.routine.merge import apply_offers, common_save, offers
from rehearse.routine.model import Move, OwnMove, Place, Side
from rehearse.routine.moving import moves_before, overrun, way_off

from .conftest import make_song, pose

SONG = make_song(eights=12)


@pytest.fixture
def two(routine):
    """Crucifix on 3:1 held four counts, victory on 5:1 after two."""
    poses = (pose("aa", "crucifix", Count(3, 1)), pose("bb", "victory", Count(5, 1)))
    return replace(routine, poses=poses, sections=(), stage=None)


def counts(moves):
    return [(m.move, m.length.value) for m in moves]


def test_a_move_makes_its_transition_begin_earlier_and_leaves_a_way_in(two):
    after = edits.add_move(two, SONG, "bb", "gather", counts=4)
    after = edits.add_move(after, SONG, "bb", "reach up", counts=2, side=Side.RIGHT)
    placed = after.placed("bb")
    assert counts(placed.moves) == [("gather", 4), ("reach up", 2)]
    assert placed.transition == Length(7)  # six counts of moves and one into the pose
    # 5:1 is 16 beats behind 3:1, at 4 + 32 × 0.5 = 20 s; the transition begins 3.5 s before it.
    assert [(t.start, t.end) for t in moves_before(placed, SONG)] == [(16.5, 18.5), (18.5, 19.5)]


def test_a_move_is_shorter_where_the_hold_before_leaves_no_more_and_refused_where_none(two):
    after = edits.add_move(two, SONG, "bb", "gather", counts=30)
    assert counts(after.placed("bb").moves) == [("gather", 11)]  # twelve counts lie between
    assert after.placed("bb").transition == Length(12)
    with pytest.raises(UserError, match="no time for another move"):
        edits.add_move(after, SONG, "bb", "step")


def test_a_move_begun_in_the_music_ends_what_was_done_until_then(two):
    after = edits.begin_move(two, SONG, Count(3, 4), "gather", counts=4)
    assert after.placed("aa").hold == Length(3)  # the hold ends where the move begins
    after = edits.begin_move(after, SONG, Count(3, 7), "turn", counts=2)
    after = edits.begin_move(after, SONG, Count(4, 5), "rise", counts=8)
    assert counts(after.placed("bb").moves) == [("gather", 3), ("turn", 6), ("rise", 3)]
    assert not overrun(after.placed("bb"), SONG)
    with pytest.raises(UserError, match="just been hit"):
        edits.begin_move(two, SONG, Count(3, 1, 1), "gather")


def test_a_move_begun_just_after_another_takes_its_place(two):
    after = edits.begin_move(two, SONG, Count(3, 5), "gather", counts=4)
    # 40 ms after the gather, which begins at 14.0 s: no quarter of a count (125 ms) is left to it.
    after = edits.begin_move(after, SONG, Seconds(14.04), "turn", counts=2)
    timed = moves_before(after.placed("bb"), SONG)
    assert [(t.move.move, t.start) for t in timed] == [("turn", 14.0), ("gather", 15.0)]


def test_a_hold_ends_no_later_than_the_move_begun_in_it(two):
    late = edits.move_to(two, SONG, "aa", Seconds(12.06))
    after = edits.begin_move(late, SONG, Seconds(13.3), "gather", counts=4)
    end, (first,) = after.placed("aa").times(SONG)[2], moves_before(after.placed("bb"), SONG)
    # Hold and transition are written in quarters of a count, each from a hit of its own.
    assert first.start == pytest.approx(13.3, abs=0.0625)
    assert 0 <= first.start - end < 0.125


def test_a_border_that_is_dragged_moves_no_other(two):
    after = edits.add_move(two, SONG, "bb", "gather", counts=4, move_id="m1")
    after = edits.add_move(after, SONG, "bb", "rise", counts=4, move_id="m2")
    ends = moves_before(after.placed("bb"), SONG)[1].end
    after = edits.set_border(after, SONG, "m1", Count(4, 3))
    first, second = moves_before(after.placed("bb"), SONG)
    assert first.end == second.start == SONG.time_of(Count(4, 3))
    assert second.end == ends
    with pytest.raises(UserError, match="needs some time"):
        edits.set_border(after, SONG, "m1", Count(5, 1))


def test_moves_are_reordered_mirrored_and_taken_out(two):
    after = edits.add_move(two, SONG, "bb", "reach up", side=Side.LEFT, move_id="m1")
    after = edits.add_move(after, SONG, "bb", "walk on", direction="left", move_id="m2")
    after = edits.reorder_move(after, "m2", -1)
    assert [m.id for m in after.placed("bb").moves] == ["m2", "m1"]
    for steps, order in ((-7, ["m2", "m1"]), (1, ["m1", "m2"]), (9, ["m1", "m2"])):
        there = edits.reorder_move(after, "m2", steps)  # past the ends: first or last
        assert [m.id for m in there.placed("bb").moves] == order
    after = edits.mirror_moves(after, "bb")
    assert [(m.direction, m.side) for m in after.placed("bb").moves] == [
        ("right", None),
        ("", Side.RIGHT),
    ]
    assert edits.remove_move(after, "m2").placed("bb").moves[0].id == "m1"


def test_a_pose_is_hit_once_more_inside_its_hold_and_no_longer(two):
    after = edits.hit_again(two, SONG, Count(3, 3))
    assert after.placed("aa").again == (Count(3, 3),)
    assert edits.hit_again(after, SONG, Count(3, 3)) == two
    with pytest.raises(UserError, match="No pose is held there"):
        edits.hit_again(two, SONG, Count(4, 5))


def test_the_way_off_follows_the_last_hold(two):
    after = edits.begin_move(two, SONG, Count(6, 1), "walk off", counts=4)
    assert [(t.start, t.end) for t in way_off(after, SONG)] == [(22.0, 24.0)]
    usual = edits.begin_move(two, SONG, Count(6, 1), "walk off")
    assert [(t.start, t.end) for t in way_off(usual, SONG)] == [(22.0, 23.0)]


def test_the_way_off_ends_with_the_music(two):
    """The last hold ends at 22 s, the music at 56 s: 34 s, 68 counts."""
    moves = (Move("m1", "gather", Length(4)), Move("m2", "walk off", Length(64)))
    after = edits.fit_moves(two, SONG, edits.EXIT, moves)
    assert way_off(after, SONG)[-1].end == SONG.duration
    longer = (moves[0], replace(moves[1], length=Length(64.5)))
    with pytest.raises(UserError, match="past the end of the music"):
        edits.fit_moves(two, SONG, edits.EXIT, longer)


def test_an_own_move_keeps_its_places_under_a_new_name(two):
    after = edits.add_own_move(two, OwnMove("swing"))
    after = edits.add_move(after, SONG, "bb", "swing")
    after = edits.change_own_move(after, "swing", name="lantern swing")
    assert after.placed("bb").moves[0].move == "lantern swing"
    with pytest.raises(UserError, match="still in the routine"):
        edits.remove_own_move(after, "lantern swing")


def test_what_was_changed_between_the_poses_is_told(two):
    after = edits.add_move(two, SONG, "bb", "reach up", side=Side.RIGHT)
    after = edits.change(after, SONG, "bb", turn=Side.LEFT, place=Place.RIGHT)
    after = edits.hit_again(after, SONG, Count(5, 3))
    after = edits.add_move(after, SONG, edits.EXIT, "walk off", counts=4)
    told = " | ".join(d.text for d in compare(two, after, SONG))
    for words in ("reach up right 2 counts", "to the left", "stage place: right",
                  "hit again at 5:3", "way off is now walk off 4 counts"):  # fmt: skip
        assert words in told


def test_moves_of_another_copy_are_taken_over_with_own_moves_and_their_photos(
    tmp_path, two, song, catalogue
):
    mine, coach = tmp_path / "mine", tmp_path / "coach"
    save_folder(mine, two, song)
    shutil.copytree(mine, coach)
    theirs = edits.add_own_move(open_folder(coach).routine, OwnMove("swing"))
    theirs = edits.add_move(theirs, song, "bb", "swing", move_id="m1")
    theirs = edits.add_move(theirs, song, edits.EXIT, "walk off", move_id="m2")
    save_routine(coach, theirs, song)
    # Meanwhile the same move stands elsewhere in mine: no two moves may share an id.
    ours = edits.add_move(two, song, "aa", "bow", move_id="m1")
    ours = edits.hit_again(ours, song, Count(3, 3))
    save_routine(mine, ours, song)
    opened = open_folder(coach)
    found = offers(ours, song, opened, common_save(mine, coach, song))
    taken = apply_offers(ours, song, [o for o in found if o.wanted], opened)
    assert [m.move for m in taken.placed("bb").moves] == ["swing"]
    assert [m.move for m in taken.exit] == ["walk off"]
    assert taken.own_moves == (OwnMove("swing"),)
    assert taken.placed("aa").again == (Count(3, 3),)
    save_routine(mine, taken, song)
    assert open_folder(mine).routine == taken


def test_a_copy_by_hand_whose_moves_have_other_ids_is_the_same(tmp_path, two, song):
    ours = edits.add_move(two, song, "bb", "bow", move_id="m1")
    mine, coach = tmp_path / "mine", tmp_path / "coach"
    save_folder(mine, ours, song)
    theirs = replace(
        ours,
        poses=(ours.poses[0], replace(ours.poses[1], moves=(Move("zz", "bow", Length(2)),))),
    )
    save_folder(coach, theirs, song)
    assert not offers(ours, song, open_folder(coach))
    assert not compare(ours, theirs, song)


def test_moves_in_free_time_are_seconds(routine):
    placed = replace(routine.poses[0], hit=Seconds(3.5))
    free = replace(routine, poses=(placed,), stage=None)
    after = edits.add_move(free, SONG, placed.id, "gather", counts=4)
    (move,) = after.poses[0].moves
    assert move.length == Length(2.0, in_counts=False)  # half a second stands for a count


# -- phrases in other counts -----------------------------------------------------------------
@pytest.fixture
def phrase(routine):
    """Three poses, eight counts apart: 2:1, 3:1, 4:1; moves of four counts before the last two."""
    moves = (Move("m1", "gather", Length(2)), Move("m2", "reach up", Length(2), Side.LEFT))
    poses = (
        pose("aa", "crucifix", Count(2, 1)),
        replace(pose("bb", "victory", Count(3, 1)), transition=Length(5), moves=moves),
        replace(pose("cc", "crucifix", Count(4, 1)), again=(Count(4, 3),)),
        pose("dd", "victory", Count(9, 1)),
    )
    return replace(routine, poses=poses, sections=(), stage=None)


def test_a_phrase_is_danced_in_half_its_counts(phrase):
    """16 counts between the hits and 4 of the last hold: 20; in 10 everything is half as long."""
    ids = ("aa", "bb", "cc")
    assert edits.counts_of(phrase, SONG, ids) == 20
    after = edits.stretch(phrase, SONG, ids, 10)
    assert [str(p.hit) for p in after.poses] == ["2:1", "2:5", "3:1", "9:1"]
    assert after.placed("aa").transition == phrase.placed("aa").transition
    assert [p.hold.value for p in after.poses] == [2, 2, 2, 4]
    assert after.placed("bb").transition == Length(2.5)
    assert counts(after.placed("bb").moves) == [("gather", 1), ("reach up", 1)]
    assert after.placed("cc").again == (Count(3, 2),)
    assert edits.stretch(after, SONG, ids, 20) == phrase
    assert edits.stretch(phrase, SONG, ids, 40).placed("cc").hit == Count(6, 1)


def test_nothing_becomes_shorter_than_can_be_danced_or_longer_than_none(phrase):
    brief = edits.change(phrase, SONG, "bb", hold=Length(0.25))
    brief = edits.change(brief, SONG, "cc", transition=Length(0))
    after = edits.stretch(brief, SONG, ("aa", "bb", "cc"), 10)
    assert after.placed("bb").hold == Length(0.25)
    assert after.placed("cc").transition == Length(0)


@pytest.mark.parametrize(
    ("ids", "count", "words"),
    [
        (("aa", "cc"), 10, "ther poses lie between"),
        (("aa", "bb", "cc"), 80, "leaves no room"),
        (("aa", "bb", "cc"), 0.25, "wo poses would be hit on one count"),
        (("aa", "bb", "cc"), 0, "cannot be danced in 0 counts"),
        (("dd",), 100, "past the end of the music"),
    ],
)
def test_a_phrase_that_does_not_fit_is_refused_in_one_sentence(phrase, ids, count, words):
    with pytest.raises(UserError, match=words):
        edits.stretch(phrase, SONG, ids, count)
