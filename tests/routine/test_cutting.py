"""A routine follows its music into a cut, into another one, and back; nothing of it is lost."""

import json
import shutil
import zipfile
from dataclasses import replace

import numpy as np
import pytest
import soundfile

from rehearse.cli import main
from rehearse.files.hold import Hold
from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import load_yaml
from rehearse.handout.make import make
from rehearse.music.apart import load_mapped
from rehearse.music.cut import Cut, CutPart, map_of_cut, whole
from rehearse.music.decode import load_track
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine import cutcommand, cutting
from rehearse.routine.checks import check
from rehearse.routine.folder import open_folder, read_save, save_changes, save_folder
from rehearse.routine.follow import Music, follow, told_aside
from rehearse.routine.merge import apply_offers, common_save, offers
from rehearse.routine.model import Move, Placed, Routine, Section, StagePart
from rehearse.routine.poses import load_catalogue
from rehearse.routine.rules import load_rules
from rehearse.routine.versions import BEATS, keep_copied, list_versions, restore
from rehearse.work import child
from tests.music.structured import make_track


def quiet(fraction, text):
    """A report nobody hears."""


@pytest.fixture(scope="module")
def song():
    return make_track()


def pose(number, hit, **more):
    return Placed(f"{number:08x}", "crucifix", hit, Length(4), Length(4), **more)


def made_routine(beatmap, every=2):
    """A pose at every second eight, the fifth with moves and hit again."""
    eights = range(2, beatmap.counts[-1].eight, every)
    poses = [pose(k, Count(eight, 1)) for k, eight in enumerate(eights)]
    move = Move("0a0e0001", "gather", Length(2))
    poses[4] = replace(poses[4], moves=(move,), again=(Count(10, 3),))
    sections = (
        Section("5ec70001", "Opening", Count(1, 1), Count(4, 1)),
        Section("5ec70002", "Middle", Count(6, 1), Count(10, 1)),
    )
    return Routine("Made", "song.wav", poses=tuple(poses), sections=sections, id="ab" * 8)


def music(beatmap, *pairs):
    parts = [CutPart(*(beatmap.time_of(Count(*place)) for place in pair)) for pair in pairs]
    cut = Cut("song.wav", beatmap.track_hash, "b", tuple(parts))
    return Music(cut, map_of_cut(beatmap, cut))


def places(routine, stood):
    """Of each pose the second of the song that is heard when it is hit."""
    return {
        p.id: round(stood.cut.song_time(stood.beatmap.time_of(p.hit))[1], 3) for p in routine.poses
    }


@pytest.fixture
def all_of_it(song):
    _, beatmap = song
    return Music(whole("song.wav", beatmap.track_hash, beatmap.duration), beatmap)


def test_poses_keep_their_place_in_the_music_and_come_back(song, all_of_it):
    _, beatmap = song
    routine = made_routine(beatmap)
    short = music(beatmap, ((1, 1), (5, 1)), ((11, 1), (15, 1)))
    cut = follow(routine, all_of_it, short)
    before, after = places(routine, all_of_it), places(cut, short)
    assert after == {k: v for k, v in before.items() if k in after}
    gone = {p.id for p in cut.aside.poses}
    assert gone | set(after) == set(before)
    assert gone == {p.id for p in routine.poses if 5 <= p.hit.eight < 11 or p.hit.eight >= 15}
    assert "crucifix" in told_aside(cut.aside)
    # Another cut brings some of them back, the whole song all of them as they were.
    other = music(beatmap, ((1, 1), (3, 1)), ((9, 1), (15, 1)))
    moved = follow(cut, short, other)
    assert places(moved, other) == {k: v for k, v in before.items() if k in places(moved, other)}
    assert "00000004" in places(moved, other)
    back = follow(moved, other, all_of_it)
    assert back == routine


def test_a_quarter_count_at_a_join_stays_one(song, all_of_it):
    _, beatmap = song
    late = Count(4, 8, 2)
    routine = replace(made_routine(beatmap), poses=(pose(1, late),))
    short = music(beatmap, ((1, 1), (5, 1)), ((11, 1), (15, 1)))
    slipped = replace(short.cut.parts[1], slip=0.012)
    cut = replace(short.cut, parts=(short.cut.parts[0], slipped))
    moved = follow(routine, all_of_it, Music(cut, map_of_cut(beatmap, cut)))
    assert moved.poses[0].hit == late


def test_a_repeat_that_is_heard_once_now_keeps_both_poses(song, all_of_it):
    _, beatmap = song
    twice = music(beatmap, ((3, 1), (6, 1)), ((3, 1), (6, 1)))
    routine = Routine("Made", "song.wav", poses=(pose(1, Count(2, 1)), pose(2, Count(5, 1))))
    once = follow(routine, twice, all_of_it)
    assert [p.id for p in once.poses] == ["00000001"]
    assert [(p.id, p.hit) for p in once.aside.poses] == [("00000002", Seconds(12.4))]


def test_a_section_that_is_cut_is_whole_again_with_its_music(song, all_of_it):
    _, beatmap = song
    routine = made_routine(beatmap)
    short = music(beatmap, ((1, 1), (5, 1)), ((8, 1), (15, 1)))
    cut = follow(routine, all_of_it, short)
    middle = next(s for s in cut.sections if s.name == "Middle")
    assert (middle.start, middle.end) == (Count(5, 1), Count(7, 1))
    renamed = replace(cut, sections=tuple(replace(s, name=f"{s.name} two") for s in cut.sections))
    back = follow(renamed, short, all_of_it)
    assert [(s.name, s.start, s.end) for s in back.sections] == [
        ("Opening two", Count(1, 1), Count(4, 1)),
        ("Middle two", Count(6, 1), Count(10, 1)),
    ]
    assert not back.aside


def test_a_section_changed_since_is_not_put_back(song, all_of_it):
    _, beatmap = song
    short = music(beatmap, ((1, 1), (5, 1)), ((8, 1), (15, 1)))
    cut = follow(made_routine(beatmap), all_of_it, short)
    sections = tuple(replace(s, end=Count(6, 1)) if s.name == "Middle" else s for s in cut.sections)
    back = follow(replace(cut, sections=sections), short, all_of_it)
    middle = next(s for s in back.sections if s.name == "Middle")
    assert (middle.start, middle.end) == (Count(8, 1), Count(9, 1))


# -- in a folder --------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def made(song, tmp_path_factory):
    """A folder with the song as wav, and its cut made."""
    track, beatmap = song
    folder = tmp_path_factory.mktemp("cut") / "routine"
    folder.mkdir()
    soundfile.write(folder / "song.wav", track.samples, track.sample_rate, subtype="PCM_24")
    beatmap = replace(beatmap, track_hash=load_track(folder / "song.wav").content_hash)
    routine = replace(made_routine(beatmap), stage=StagePart(0.0, 60.0))
    save_folder(folder, routine, beatmap)
    return folder


@pytest.fixture
def folder(made, tmp_path):
    return shutil.copytree(made, tmp_path / "routine")


def cut_it(folder, *pairs):
    """Cut the routine in `folder` on counts of the song, and save it."""
    opened = open_folder(folder)
    source = cutting.source_of(folder, opened.routine, opened.beatmap)
    parts = [CutPart(*(source.beatmap.time_of(Count(*place)) for place in pair)) for pair in pairs]
    cut = cutting.make_cut(folder, source, Cut("", "", "", tuple(parts)), quiet)
    routine = cutting.with_cut(opened.routine, opened.beatmap, source, cut, 1.0)
    save_changes(folder, routine, cut.beatmap, map_too=True)
    return open_folder(folder)


FIRST = (((1, 1), (5, 1)), ((11, 1), (15, 1)))


def test_a_cut_is_saved_opened_and_played(folder):
    before = (folder / "song.wav").read_bytes()
    opened = cut_it(folder, *FIRST)
    routine = opened.routine
    assert opened.warnings == ()
    assert (folder / "song.wav").read_bytes() == before
    track = load_mapped(folder / routine.track, opened.beatmap)
    assert track.duration == pytest.approx(32.0, abs=1e-4)
    assert (routine.stage.start, routine.stage.end) == (0.0, pytest.approx(32.0, abs=1e-4))
    assert [p.hit for p in routine.poses] == [Count(n, 1) for n in (2, 4, 6, 8)]
    assert {p.id for p in routine.aside.poses} == {f"{n:08x}" for n in (2, 3, 4, 7)}
    text = (folder / "routine.yaml").read_text()
    assert "cut:\n  song: song.wav" in text
    assert "set_aside:" in text
    aside = [
        f
        for f in check(routine, opened.beatmap, load_catalogue(), load_rules("open-60"))
        if f.kind == "aside"
    ]
    assert len(aside) == 1
    assert "crucifix (song 20.4 s)" in aside[0].sentence


def test_back_to_the_song_is_as_before(folder, capsys):
    before = open_folder(folder)
    cut_it(folder, *FIRST)
    assert main(["cut", str(folder), "--whole"]) == 0
    after = open_folder(folder)
    assert after.beatmap == before.beatmap
    assert after.routine == replace(before.routine, stage=None)
    assert main(["cut", str(folder), "--whole"]) == 2
    assert "the whole song already" in capsys.readouterr().err


def test_a_correction_made_in_the_cut_lives_on_in_the_next(folder):
    from rehearse.music.correct import nudge

    opened = cut_it(folder, *FIRST)
    corrected = nudge(opened.beatmap, 0.02)
    save_changes(folder, opened.routine, corrected, map_too=True)
    again = cut_it(folder, ((1, 1), (6, 1)), ((12, 1), (15, 1)))
    source = cutting.source_of(folder, again.routine, again.beatmap)
    assert source.beatmap.beats[20] == pytest.approx(0.4 + 10.0 + 0.02, abs=1e-5)
    assert again.routine.poses[0].hit == Seconds(4.0) or again.routine.poses


def test_a_change_broken_off_between_its_files_has_not_happened(folder):
    old_map = (folder / BEATS).read_bytes()
    routine = (folder / "routine.yaml").read_bytes()
    before = open_folder(folder)
    cut_it(folder, *FIRST)
    (folder / "routine.yaml").write_bytes(routine)
    assert (folder / BEATS).read_bytes() != old_map
    opened = open_folder(folder)
    assert opened.routine == before.routine
    assert opened.beatmap == before.beatmap
    assert any("broken off" in warning for warning in opened.warnings)


def test_the_zip_carries_the_song_and_its_map(folder, tmp_path):
    cut_it(folder, *FIRST)
    (tmp_path / "out").mkdir()
    done = make(folder, "zip", tmp_path / "out")
    with zipfile.ZipFile(done.paths[0]) as archive:
        archive.extractall(tmp_path / "there")
    there = next((tmp_path / "there").iterdir())
    opened = open_folder(there)
    assert opened.warnings == ()
    again = cut_it(there, ((1, 1), (3, 1)), ((9, 1), (15, 1)))
    assert len(again.routine.poses) > 3


def test_an_earlier_save_comes_back_with_its_music(folder):
    before = open_folder(folder)
    cut_it(folder, *FIRST)
    second = cut_it(folder, ((1, 1), (3, 1)), ((9, 1), (15, 1)))
    saves = [read_save(load_yaml(v.path), folder, second.beatmap) for v in list_versions(folder)]
    assert saves[-1] == (before.routine, before.beatmap)
    assert next(save.track for save, _ in saves).startswith("cut/")
    # Put in its place it opens with the song's own map.
    restore(folder, list_versions(folder)[-1])
    again = open_folder(folder)
    assert (again.routine, again.beatmap) == (before.routine, before.beatmap)


def test_a_copy_on_other_music_of_the_same_song_is_compared_and_taken_over(folder, tmp_path):
    copy = shutil.copytree(folder, tmp_path / "copy")
    keep_copied(folder)
    shutil.copytree(folder / "versions", copy / "versions", dirs_exist_ok=True)
    theirs = open_folder(copy)
    noted = tuple(
        replace(p, note="Chin up") if p.id == "00000001" else p for p in theirs.routine.poses
    )
    save_changes(copy, replace(theirs.routine, poses=noted), theirs.beatmap, map_too=False)
    mine = cut_it(folder, *FIRST)
    theirs = open_folder(copy)
    common = common_save(folder, copy, mine.beatmap, mine.routine)
    found = offers(mine.routine, mine.beatmap, theirs, common)
    assert [(offer.by, offer.parts) for offer in found] == [("theirs", ("note",))]
    taken = apply_offers(mine.routine, mine.beatmap, found, theirs)
    assert taken.placed("00000001").note == "Chin up"
    assert taken.cut == mine.routine.cut
    # The other way round: theirs is cut, mine is the whole song.
    back = offers(theirs.routine, theirs.beatmap, mine, None)
    assert {offer.parts for offer in back} == {("note",)}


def test_a_lost_cut_is_made_again_as_it_was(folder):
    opened = cut_it(folder, *FIRST)
    path = folder / opened.routine.track
    before = path.read_bytes()
    path.unlink()
    track = cutting.remake(folder, opened.routine, opened.beatmap, quiet)
    assert path.read_bytes() == before
    assert track.content_hash == opened.beatmap.track_hash


def test_stage_music_is_the_cut(folder, tmp_path):
    opened = cut_it(folder, *FIRST)
    done = make(folder, "stage-music", tmp_path)
    track = load_track(done.paths[0])
    assert track.duration == pytest.approx(opened.routine.stage.length, abs=0.06)


def test_faults_of_a_recipe_are_told_with_their_lines(folder):
    cut_it(folder, *FIRST)
    path = folder / "routine.yaml"
    text = path.read_text()
    wrong = text.replace("fade: 0.02 s", "fade: loud", 1).replace("song: song.wav", "song: ../x")
    path.write_text(wrong)
    with pytest.raises(UserError) as caught:
        open_folder(folder)
    sentence = str(caught.value)
    assert "leads out of the routine's folder" in sentence
    assert "'loud' cannot be used" in sentence


def test_what_is_read_of_a_recipe_is_what_is_written(folder, tmp_path):
    """By hand, the first part was given a join, and another one too exact a level."""
    cut_it(folder, *FIRST)
    path = folder / "routine.yaml"
    first, second = path.read_text().split("  - start: ")[1:3]
    joined = first.rstrip() + "\n    shift: 1 counts\n    fade: 0.05 s\n"
    level = second.replace("fade: ", "level: 1.2345 dB\n    fade: ", 1)
    path.write_text(path.read_text().replace(first, joined).replace(second, level))
    opened = open_folder(folder)
    save_folder(tmp_path / "again", opened.routine, opened.beatmap)
    assert open_folder(tmp_path / "again").routine.cut == opened.routine.cut
    assert opened.routine.cut.parts[1].level == 1.23


def test_another_song_in_its_place_is_not_cut(folder):
    cut_it(folder, *FIRST)
    opened = open_folder(folder)
    noise = np.random.default_rng(1).uniform(-0.1, 0.1, (48000 * 2, 2))
    soundfile.write(folder / "song.wav", noise, 48000)
    source = cutting.source_of(folder, opened.routine, opened.beatmap)
    with pytest.raises(UserError, match="another song"):
        cutting.make_cut(folder, source, opened.routine.cut, quiet)


def test_the_command_lists_and_takes(folder, capsys, monkeypatch):
    hold = Hold(folder)
    assert hold.take()
    with monkeypatch.context() as patch:
        patch.setattr(cutcommand, "listed", None)  # it is told before the work, not after it
        assert main(["cut", str(folder), "--to", "40", "--take", "1"]) == 2
    assert "is open in a window" in capsys.readouterr().err
    hold.release()
    assert main(["cut", str(folder), "--to", "40", "--json"]) == 0
    # From here on in this process: a new one would have to load its libraries each time.
    monkeypatch.setattr(child, "is_one", lambda: True)
    found = json.loads(capsys.readouterr().out)
    assert len(found) == 3
    assert all(37.0 <= f["length_s"] <= 40.0 for f in found)
    assert open_folder(folder).routine.cut is None
    assert main(["cut", str(folder), "--to", "40", "--take", "1"]) == 0
    opened = open_folder(folder)
    assert opened.routine.stage.length == pytest.approx(found[0]["length_s"], abs=0.01)
    assert main(["cut", str(folder), "--show"]) == 0
    assert "A cut of song.wav" in capsys.readouterr().out
    monkeypatch.setattr(cutcommand, "listed", lambda *_: (opened, cutting.Source("", None), found))
    assert main(["cut", str(folder), "--to", "40", "--take", "9"]) == 2
    assert "no version 9" in capsys.readouterr().err
