"""Two copies edited apart, brought together pose by pose."""

from __future__ import annotations

import shutil
from dataclasses import replace

import pytest

from rehearse.files.user_error import UserError
from rehearse.music.position import Count, Length
from rehearse.routine import edits
from rehearse.routine.folder import OpenedFolder, open_folder, save_folder, save_routine
from rehearse.routine.merge import apply_offers, common_save, import_files, offers
from rehearse.routine.model import Facing, OwnPose, Section, StagePart
from rehearse.routine.rules import load_rules


@pytest.fixture
def copies(tmp_path, routine, song):
    """My folder and the coach's copy of it."""
    mine = tmp_path / "mine"
    save_folder(mine, routine, song)
    shutil.copytree(mine, tmp_path / "coach")
    return mine, tmp_path / "coach"


def both(copies, song, mine, theirs):
    save_routine(copies[0], mine, song)
    save_routine(copies[1], theirs, song)
    return open_folder(copies[0]).routine, open_folder(copies[1])


def test_the_common_save_tells_who_changed_what(copies, routine, song):
    coach = edits.move_by(routine, song, "aa03", Length(2))
    coach = edits.lengthen(coach, song, "aa05", 1)
    mine = edits.take_out(routine, song, "aa04")
    mine = edits.lengthen(mine, song, "aa05", -1)
    mine, theirs = both(copies, song, mine, coach)
    common = common_save(copies[0], copies[1], song)
    assert common == routine
    found = offers(mine, song, theirs, common)
    assert [(o.by, o.wanted, o.text) for o in found] == [
        ("theirs", True, "side chest left moved from 3:1 to 3:3"),
        ("both", False, "crucifix held 2 counts longer (3 counts → 5 counts)"),
    ]
    merged = apply_offers(mine, song, [o for o in found if o.wanted], theirs)
    assert str(merged.placed("aa03").hit) == "3:3"
    assert "aa04" not in {p.id for p in merged.poses}
    assert merged.placed("aa05").hold == Length(3)


def test_a_version_that_cannot_be_read_is_none_and_the_others_are_compared(copies, routine, song):
    both(copies, song, edits.take_out(routine, song, "aa04"), routine)
    too_large = copies[0] / "versions" / "routine 2030-01-01T000000.000000Z.yaml"
    with too_large.open("wb") as file:
        file.truncate(5_000_000)
    assert common_save(copies[0], copies[1], song) == routine


def test_without_a_common_save_all_is_offered(routine, song, tmp_path):
    theirs = OpenedFolder(tmp_path, edits.take_out(routine, song, "aa02"), song)
    (found,) = offers(routine, song, theirs)
    assert (found.by, found.wanted) == ("unknown", False)  # it may be mine, added since
    assert found.text == "front double biceps taken out at 2:1"


def test_taking_everything_gives_their_poses(routine, song, tmp_path):
    coach = edits.add_own(routine, OwnPose("slow twist"))
    coach = edits.insert(coach, song, "slow twist", Count(3, 1), pose_id="new", pins=False)
    coach = edits.swap(coach, song, "aa02", "aa04")
    theirs = OpenedFolder(tmp_path, coach, song)
    merged = apply_offers(routine, song, offers(routine, song, theirs), theirs)
    assert merged.poses == coach.poses
    assert merged.own_poses == coach.own_poses
    assert offers(merged, song, theirs) == ()


def test_a_pose_taken_over_keeps_my_id(routine, song, tmp_path):
    coach = replace(
        routine, poses=tuple(replace(p, id=f"cc{i}") for i, p in enumerate(routine.poses))
    )
    coach = edits.move_by(coach, song, "cc1", Length(1))
    theirs = OpenedFolder(tmp_path, coach, song)
    (found,) = offers(routine, song, theirs)
    assert found.text == "front double biceps moved from 2:1 to 2:2"
    merged = apply_offers(routine, song, [found], theirs)
    assert [p.id for p in merged.poses] == [p.id for p in routine.poses]


def test_a_corrected_map_does_not_move_the_poses(routine, song, tmp_path):
    # The coach took the first eight for free time: every count there is one eight less.
    other = replace(song, beats=song.beats[8:], places=song.places[8:])
    theirs = OpenedFolder(tmp_path, edits.place(routine, other, "vacuum", Count(9, 1)), other)
    theirs = replace(theirs, routine=replace(theirs.routine, poses=theirs.routine.poses[-1:]))
    added = next(o for o in offers(routine, song, theirs) if o.mine is None)
    assert str(added.theirs.hit) == "10:1"


def test_a_copy_of_another_song_is_refused(routine, song, tmp_path):
    theirs = OpenedFolder(tmp_path, routine, replace(song, track_hash="other"))
    with pytest.raises(UserError, match="another song"):
        offers(routine, song, theirs)


def test_copies_without_common_saves_have_none(copies, routine, song, tmp_path):
    save_folder(tmp_path / "stranger", replace(routine, title="Other"), song)
    assert common_save(copies[0], tmp_path / "stranger", song) is None
    assert common_save(copies[0], copies[1], song) == routine


def pieces_of(found):
    return {o.label: o for o in found if o.item is not None}


def change_everything_beside(routine, song):
    """Title, show, date, rules, stage cut, sections and own poses as a coach would change them."""
    coach = edits.describe(
        routine, title="Night Lanterns", show="Quay Cup", show_date="2027-06-01", rules="open-90"
    )
    coach = edits.set_stage(coach, song, StagePart(1.0, 58.0, 0.5, 2.0))
    coach = edits.rename_section(coach, "bb01", "Rise")
    coach = edits.remove_section(coach, "bb02")
    coach = edits.add_section(coach, song, "End", Count(8, 1), Count(9, 1), "cc01")
    return edits.add_own(coach, OwnPose("slow twist", Facing.BACK))


def test_everything_beside_the_poses_is_offered_and_taken_piece_by_piece(routine, song, tmp_path):
    coach = change_everything_beside(routine, song)
    theirs = OpenedFolder(tmp_path, coach, song)
    found = pieces_of(offers(routine, song, theirs))
    assert list(found) == [
        *("title", "show", "date of the show", "rule set", "stage part"),
        *("section Opening", "section End", "section Turn to the back", "own pose slow twist"),
    ]
    merged = routine
    for number, offer in enumerate(found.values(), start=1):
        merged = apply_offers(merged, song, [offer], theirs)
        assert len(offers(merged, song, theirs)) == len(found) - number
    assert merged == coach


def test_the_common_save_tells_whose_a_piece_is(copies, routine, song):
    coach = edits.describe(routine, title="Night Lanterns", show="Quay Cup")
    coach = edits.rename_section(coach, "bb01", "Rise")
    mine = edits.describe(routine, title="My Lanterns", division="Masters")
    mine, theirs = both(copies, song, mine, coach)
    found = pieces_of(offers(mine, song, theirs, common_save(copies[0], copies[1], song)))
    assert {label: o.by for label, o in found.items()} == {
        "title": "both",
        "show": "theirs",
        "section Opening": "theirs",
    }


def test_the_song_may_be_called_otherwise_in_the_copy(routine, song, tmp_path):
    theirs = OpenedFolder(tmp_path, replace(routine, track="coach.ogg"), song)
    assert offers(routine, song, theirs) == ()


def test_an_own_pose_still_shown_stays_until_its_poses_are_taken(routine, song, tmp_path):
    mine = edits.place(
        edits.add_own(routine, OwnPose("slow twist")), song, "slow twist", Count(9, 1)
    )
    theirs = OpenedFolder(tmp_path, routine, song)
    found = offers(mine, song, theirs)
    gone = pieces_of(found)["own pose slow twist"]
    assert gone.text == "own pose slow twist taken out"
    assert apply_offers(mine, song, [gone], theirs) == mine
    assert apply_offers(mine, song, found, theirs) == routine


def test_a_section_taken_over_keeps_my_id_and_its_place(routine, song, tmp_path):
    # The coach wrote the sections anew, by hand, on a map that begins an eight later.
    other = replace(song, beats=song.beats[8:], places=song.places[8:])
    section = Section("99", "Turn to the back", Count(3, 1), Count(6, 1))
    coach = replace(routine, poses=(), sections=(section,))
    theirs = OpenedFolder(tmp_path, coach, other)
    offer = pieces_of(offers(routine, song, theirs))["section Turn to the back"]
    taken = apply_offers(routine, song, [offer], theirs).section("bb02")
    assert (str(taken.start), str(taken.end)) == ("4:1", "7:1")


def test_a_rule_set_of_the_coach_comes_along(routine, song, tmp_path):
    mine, coach = tmp_path / "mine", tmp_path / "coach"
    mine.mkdir()
    (coach / "rules").mkdir(parents=True)
    (coach / "rules" / "club.yaml").write_text("format: 1\nname: Club night\n")
    theirs = OpenedFolder(coach, edits.describe(routine, rules="club"), song)
    import_files(theirs.routine, mine, theirs)
    assert load_rules("club", mine).name == "Club night"
    (mine / "rules" / "club.yaml").write_text("format: 1\nname: Mine\n")
    import_files(theirs.routine, mine, theirs)
    assert load_rules("club", mine).name == "Mine"


#: The head of a PNG of two by two pixels (W3C, PNG Third Edition, 11.2.1).
HEAD = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x02\0\0\0\x02"


def test_pictures_come_along_and_mine_stay(routine, tmp_path, song):
    mine, coach = tmp_path / "mine", tmp_path / "coach"
    (coach / "pictures").mkdir(parents=True)
    mine.mkdir()
    (coach / "pictures" / "twist.jpg").write_bytes(HEAD + b"theirs")
    own = (OwnPose("slow twist", picture="pictures/twist.jpg"), OwnPose("x", picture="none.jpg"))
    theirs = OpenedFolder(coach, replace(routine, own_poses=own), song)
    for _ in range(2):
        import_files(theirs.routine, mine, theirs)
        assert (mine / "pictures" / "twist.jpg").read_bytes() == HEAD + b"theirs"
    (mine / "pictures" / "twist.jpg").write_bytes(b"mine")
    import_files(theirs.routine, mine, theirs)
    assert (mine / "pictures" / "twist.jpg").read_bytes() == b"mine"


@pytest.mark.parametrize("name", ["checks.yaml", "pictures/notes.jpg", "practice.sqlite"])
def test_what_is_no_picture_does_not_come_along(routine, tmp_path, song, name):
    mine, coach = tmp_path / "mine", tmp_path / "coach"
    (coach / "pictures").mkdir(parents=True)
    mine.mkdir()
    (coach / name).write_bytes(b"format: 1\nshortest_hold: 1000 s\n")
    theirs = OpenedFolder(coach, replace(routine, own_poses=(OwnPose("slow", picture=name),)), song)
    import_files(theirs.routine, mine, theirs)
    assert not (mine / name).exists()


def test_a_pose_changed_on_both_sides_is_compared_part_by_part(copies, routine, song):
    # The coach moved it; I hold it longer since: nothing of mine may be shown as the coach's.
    coach = edits.move_by(routine, song, "aa03", Length(2))
    coach = edits.change(coach, song, "aa03", note="Slower.")
    mine = edits.lengthen(routine, song, "aa03", 2)
    mine = edits.change(mine, song, "aa03", note="Breathe.")
    mine, theirs = both(copies, song, mine, coach)
    found = offers(mine, song, theirs, common_save(copies[0], copies[1], song))
    assert [(o.by, o.parts) for o in found] == [("theirs", ("hit",)), ("both", ("note",))]
    merged = apply_offers(mine, song, [o for o in found if o.wanted], theirs)
    pose = merged.placed("aa03")
    assert (str(pose.hit), pose.hold, pose.note) == ("3:3", Length(6), "Breathe.")
    all_of_it = apply_offers(mine, song, found, theirs).placed("aa03")
    assert (str(all_of_it.hit), all_of_it.hold, all_of_it.note) == ("3:3", Length(6), "Slower.")
    (left,) = offers(merged, song, theirs, common_save(copies[0], copies[1], song))
    assert left.by == "both"


def test_take_all_keeps_what_only_one_side_has(copies, routine, song):
    shown = edits.add_own(routine, OwnPose("slow twist"))
    for folder in copies:
        save_routine(folder, shown, song)
    coach = edits.change_own(shown, "slow twist", say="twist")
    coach = edits.remove_section(coach, "bb02")
    mine = edits.change_own(shown, "slow twist", picture="pictures/twist.jpg")
    mine = edits.add_section(mine, song, "End", Count(8, 1), Count(9, 1), "dd01")
    mine = edits.insert(mine, song, "vacuum", Count(9, 1), pose_id="mine")
    mine, theirs = both(copies, song, mine, coach)
    found = offers(mine, song, theirs, common_save(copies[0], copies[1], song))
    assert [(o.label, o.by) for o in found] == [
        ("section Turn to the back", "theirs"),
        ("own pose slow twist", "theirs"),
    ]
    merged = apply_offers(mine, song, [o for o in found if o.wanted], theirs)
    (own,) = merged.own_poses
    assert (own.picture, own.say) == ("pictures/twist.jpg", "twist")
    assert "mine" in {p.id for p in merged.poses}
    assert [s.id for s in merged.sections] == ["bb01", "dd01"]


def test_taken_out_on_one_side_and_changed_on_the_other_is_a_conflict(copies, routine, song):
    coach = edits.take_out(routine, song, "aa02")
    coach = edits.lengthen(coach, song, "aa05", 1)
    mine = edits.lengthen(routine, song, "aa02", 1)
    mine = edits.take_out(mine, song, "aa05")
    mine, theirs = both(copies, song, mine, coach)
    found = offers(mine, song, theirs, common_save(copies[0], copies[1], song))
    assert [(o.by, o.wanted) for o in found] == [("both", False), ("both", False)]
    assert apply_offers(mine, song, [o for o in found if o.wanted], theirs) == mine


def test_without_a_common_state_take_all_gives_up_nothing_of_mine(routine, song, tmp_path):
    coach = edits.take_out(routine, song, "aa02")
    coach = edits.insert(coach, song, "vacuum", Count(9, 1), pose_id="theirs")
    theirs = OpenedFolder(tmp_path, edits.describe(coach, title="Other"), song)
    found = offers(routine, song, theirs)
    merged = apply_offers(routine, song, [o for o in found if o.wanted], theirs)
    assert {p.id for p in merged.poses} == {p.id for p in routine.poses} | {"theirs"}
    assert merged.title == routine.title


def test_a_photo_of_the_coach_under_the_name_of_mine_comes_along_beside_it(routine, song, tmp_path):
    mine, coach = tmp_path / "mine", tmp_path / "coach"
    for folder, colour in ((mine, b"1"), (coach, b"2")):
        (folder / "pictures").mkdir(parents=True)
        (folder / "pictures" / "twist.gif").write_bytes(b"GIF89a\x01\0\x01\0" + colour * 9)
    own = OwnPose("slow twist", picture="pictures/twist.gif")
    theirs = OpenedFolder(coach, replace(routine, own_poses=(own,)), song)
    before = replace(routine, own_poses=(replace(own, name="my twist"),))
    new = replace(before, own_poses=(*before.own_poses, own))
    new = import_files(new, mine, theirs, before)
    assert [o.picture for o in new.own_poses] == ["pictures/twist.gif", "pictures/twist-2.gif"]
    assert (mine / "pictures" / "twist-2.gif").read_bytes().endswith(b"2")
    assert (mine / "pictures" / "twist.gif").read_bytes().endswith(b"1")
