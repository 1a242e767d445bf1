"""Each edit of the routine: what changes, and what stays."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rehearse.files.user_error import UserError
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine import edits
from rehearse.routine.model import Facing, Level, OwnPose, StagePart

from .conftest import make_song, pose


def hits(routine):
    return [(p.id, str(p.hit)) for p in routine.poses]


def test_a_pose_is_placed_in_the_order_of_the_music(routine, song):
    new = edits.place(routine, song, "vacuum", Count(4, 1), pose_id="new")
    assert [p.id for p in new.poses] == ["aa01", "aa02", "aa03", "new", "aa04", "aa05"]
    assert (new.placed("new").hold, new.placed("new").transition) == (Length(4), Length(2))
    assert [p for p in new.poses if p.id != "new"] == list(routine.poses)


def test_in_free_time_holds_are_seconds(routine, song):
    new = edits.place(routine, song, "vacuum", Seconds(1.0), pose_id="new")
    # Holds of about 3 s: a coaching page; transitions of 1.5 s: derived from 13 poses in 60 s.
    assert new.placed("new").hold == Length(3.0, in_counts=False)
    assert new.placed("new").transition == Length(1.5, in_counts=False)


def test_a_count_the_music_lacks_is_refused(routine, song):
    with pytest.raises(KeyError):
        edits.place(routine, song, "vacuum", Count(40, 1))
    with pytest.raises(KeyError):
        edits.move_to(routine, song, "aa02", Count(40, 1))


@pytest.mark.parametrize(
    ("by", "hit"),
    [(1, "2:2"), (0.5, "2:1&"), (0.25, "2:1e"), (-1, "1:8"), (8, "3:1"), (-0.5, "1:8&")],
)
def test_moving_by_counts(routine, song, by, hit):
    assert str(edits.move_by(routine, song, "aa02", Length(by)).placed("aa02").hit) == hit


def test_moving_from_free_time_onto_the_beat_and_back(routine, song):
    on = edits.move_by(routine, song, "aa01", Length(4))  # 2.0 s and 4 counts of 0.5 s
    assert str(on.placed("aa01").hit) == "1:1"
    off = edits.move_by(on, song, "aa01", Length(-1))
    assert str(off.placed("aa01").hit) == "3.50 s"


def test_moving_stops_at_the_ends_of_the_music(routine, song):
    assert edits.move_by(routine, song, "aa01", Length(-99)).placed("aa01").hit == Seconds(0.0)
    last = edits.move_by(routine, song, "aa05", Length(999)).placed("aa05").hit
    assert last == Seconds(song.duration)


def test_a_pose_beside_the_beat_keeps_its_distance(routine, song):
    beside = edits.move_to(routine, song, "aa02", Seconds(8.1))
    assert edits.move_by(beside, song, "aa02", Length(2)).placed("aa02").hit == Seconds(9.1)


def test_moving_past_a_neighbour_changes_the_order(routine, song):
    new = edits.move_to(routine, song, "aa02", Count(4, 1))
    assert [p.id for p in new.poses] == ["aa01", "aa03", "aa02", "aa04", "aa05"]


def test_swapping_leaves_the_lengths_with_the_places(routine, song):
    new = edits.swap(routine, song, "aa03", "aa04")
    back, side = new.placed("aa04"), new.placed("aa03")
    assert (str(back.hit), str(side.hit)) == ("3:1", "5:1")
    assert (back.hold, back.transition) == (Length(4), Length(2))
    assert (side.hold, side.transition) == (Length(6), Length(4))
    assert (back.say, side.note) == ("back double", "Chin up: it's “yours”.")
    assert edits.swap(new, song, "aa03", "aa04") == routine


def test_a_duplicate_follows_its_pose(routine, song):
    new = edits.duplicate(routine, song, ["aa02"], new=["copy"])
    assert str(new.placed("copy").hit) == "2:7"  # held 2:1 to 2:5, transition of two counts
    assert new.placed("copy").pose == "front double biceps"


def test_a_duplicate_moves_what_follows_in_free_time_by_seconds(routine):
    """Held 72–74 s, once more 75–77 s; what follows began its transition at 76.5 s: 0.5 s later."""
    song = make_song(tail=10.0)
    poses = (
        pose("aa", "crucifix", Count(18, 1)),
        pose("bb", "victory", Seconds(78.0), Length(1.0, False), Length(1.5, False)),
    )
    alone = replace(routine, poses=poses, sections=(), stage=None)
    after = edits.duplicate(alone, song, ["aa"], ["cc"])
    assert [(p.id, song.time_of(p.hit)) for p in after.poses] == [
        ("aa", 72.0),
        ("cc", 75.0),
        ("bb", 78.5),
    ]


def test_poses_move_together_up_to_the_ends_of_the_music_and_no_farther(routine, song):
    """The music lasts 80 s; the first pose is hit at 2 s, in free time, the last at 7:5&."""
    two = ["aa01", "aa02"]
    earlier = edits.move_all(routine, song, two, Length(-2.0, False))
    assert [song.time_of(earlier.placed(name).hit) for name in two] == [0.0, 6.0]
    with pytest.raises(UserError, match="before the music begins"):
        edits.move_all(routine, song, two, Length(-2.5, False))
    with pytest.raises(UserError, match="when the music is over"):
        edits.move_all(routine, song, ["aa05"], Length(80.0, False))


@pytest.mark.parametrize(("hold", "kept"), [(4, 4), (8, 8), (9, 4)])
def test_on_its_accent_a_pose_is_held_as_long_unless_into_the_next_hit(routine, song, hold, kept):
    """From 2:8 on to the accent on 3:1; the transition begins at 3:3, the next hit is 4:1.

    Where the hold gives way, the transition does too: each half of the eight counts.
    """
    poses = (
        pose("aa", "crucifix", Count(2, 8), hold),
        pose("bb", "victory", Count(4, 1), 4, 6),
    )
    after = edits.onto_accents(replace(routine, poses=poses, sections=()), song, ["aa"])
    assert after.placed("aa").hit == Count(3, 1)
    assert after.placed("aa").hold == Length(kept)
    assert after.placed("bb").transition == Length(4 if hold == 9 else 6)


def test_inserting_shifts_what_follows_with_its_sections(routine, song):
    new = edits.insert(routine, song, "vacuum", Count(3, 1), pose_id="new", pins=False)
    assert hits(new) == [
        ("aa01", "2.00 s"), ("aa02", "2:1"), ("new", "3:1"),
        ("aa03", "3:7"), ("aa04", "5:7"), ("aa05", "8:3&"),
    ]  # fmt: skip
    assert [str(s.end) for s in new.sections] == ["4:7", "8:7"]
    assert str(new.sections[0].start) == "0.00 s"


def test_taking_out_with_and_without_closing_up(routine, song):
    assert hits(edits.take_out(routine, song, "aa03")) == [
        ("aa01", "2.00 s"), ("aa02", "2:1"), ("aa04", "5:1"), ("aa05", "7:5&"),
    ]  # fmt: skip
    closed = edits.take_out(routine, song, "aa03", close_up=True, pins=False)
    assert hits(closed) == [
        ("aa01", "2.00 s"), ("aa02", "2:1"), ("aa04", "3:1"), ("aa05", "5:5&"),
    ]  # fmt: skip
    # The bound at 4:1 lay in the two eights that are gone; the one at 8:1 moved with its music.
    assert [(str(s.start), str(s.end)) for s in closed.sections] == [
        ("0.00 s", "3:1"), ("3:1", "6:1"),
    ]  # fmt: skip


def test_closing_up_after_the_last_pose_moves_nothing(routine, song):
    assert edits.take_out(routine, song, "aa05", close_up=True).poses == routine.poses[:-1]


def test_holds_and_transitions_in_counts_and_seconds(routine, song):
    longer = edits.lengthen(routine, song, "aa02", 1.5)
    assert longer.placed("aa02").hold == Length(5.5)
    assert edits.lengthen(routine, song, "aa02", -9).placed("aa02").hold == Length(0)
    free = edits.lengthen(routine, song, "aa01", 1)
    assert free.placed("aa01").hold == Length(2.5, in_counts=False)
    assert edits.quicken(routine, song, "aa04", 1).placed("aa04").transition == Length(3)


def test_another_pose_brings_its_own_facing(routine, song):
    turned = edits.change(routine, song, "aa02", facing=Facing.BACK, level=Level.LUNGE, note="n")
    assert (turned.placed("aa02").facing, turned.placed("aa02").level) == ("back", "lunge")
    other = edits.change(turned, song, "aa02", pose="victory")
    assert (other.placed("aa02").facing, other.placed("aa02").level) == (None, None)
    assert other.placed("aa02").note == "n"
    kept = edits.change(turned, song, "aa02", pose="victory", facing=Facing.BACK)
    assert kept.placed("aa02").facing is Facing.BACK


def test_ids_cannot_be_changed_and_fields_must_exist(routine, song):
    with pytest.raises(TypeError):
        edits.change(routine, song, "aa02", colour="red")
    with pytest.raises(KeyError):
        edits.change(routine, song, "nobody", note="n")


def test_what_cannot_be_written_is_rounded_to_what_can(routine, song):
    new = edits.change(routine, song, "aa02", hold=Length(4.1), hit=Seconds(8.00000049))
    assert new.placed("aa02").hold == Length(4)
    assert new.placed("aa02").hit == Seconds(8.0)


def test_sections_are_added_named_moved_and_taken_out(routine, song):
    new = edits.add_section(routine, song, "Close", Count(8, 1), Count(9, 1), "bb03")
    assert [s.name for s in new.sections] == ["Opening", "Turn to the back", "Close"]
    assert edits.rename_section(new, "bb03", "End").section("bb03").name == "End"
    moved = edits.move_section(new, song, "bb03", Seconds(1.0), Count(2, 1))
    assert [s.id for s in moved.sections] == ["bb01", "bb03", "bb02"]
    assert edits.remove_section(new, "bb03") == routine
    with pytest.raises(UserError, match="before it starts"):
        edits.move_section(new, song, "bb03", Count(9, 1), Count(8, 1))
    with pytest.raises(KeyError):
        edits.remove_section(routine, "bb99")


def test_a_section_over_poses_takes_in_the_way_there_and_out(routine, song):
    # Part practice must take in the transition into and out of the part: Fontana et al. 2009.
    new = edits.section_over(routine, song, ["aa03", "aa04"], "Middle", "bb03")
    assert (str(new.section("bb03").start), str(new.section("bb03").end)) == ("2:7", "5:7")


def test_the_stage_part_stays_in_the_music(routine, song):
    assert edits.set_stage(routine, song, StagePart(1.00049, 61)).stage == StagePart(1.0, 61)
    assert edits.set_stage(routine, song, None).stage is None
    for start, end in ((50, 40), (10, 99)):
        with pytest.raises(UserError, match="inside the music"):
            edits.set_stage(routine, song, StagePart(start, end))


def test_own_poses(routine, song):
    new = edits.add_own(routine, OwnPose(" My Twist ", Facing.BACK))
    placed = edits.place(new, song, "My Twist", Count(9, 1), pose_id="own")
    renamed = edits.change_own(placed, "My Twist", name="Slow twist", picture="pictures/t.jpg")
    assert renamed.placed("own").pose == "Slow twist"
    with pytest.raises(UserError, match="still in the routine"):
        edits.remove_own(renamed, "Slow twist")
    assert edits.remove_own(edits.take_out(renamed, song, "own"), "Slow twist") == routine
    two = edits.add_own(renamed, OwnPose("Other"))
    with pytest.raises(UserError, match="already a pose"):
        edits.change_own(two, "Other", name="slow TWIST")
    with pytest.raises(UserError, match="already a pose"):
        edits.change_own(renamed, "Slow twist", name="Crucifix")  # the trade's, in the routine
    with pytest.raises(UserError, match="no name"):
        edits.add_own(routine, OwnPose(" – "))
    with pytest.raises(UserError, match="no name"):
        edits.change_own(renamed, "Slow twist", name=" ")
    assert edits.change_own(renamed, "Slow twist", name=" Turn ").placed("own").pose == "Turn"


def test_describing(routine):
    new = edits.describe(routine, title="Lanterns", show_date="2027-05-01", rules="open-90")
    assert (new.title, new.show_date, new.rules) == ("Lanterns", "2027-05-01", "open-90")
    with pytest.raises(UserError, match="no date"):
        edits.describe(routine, show_date="1.5.2027")
    with pytest.raises(TypeError):
        edits.describe(routine, stage="all")
