"""A folder without a song: comparison rounds alone, and how it gets its song and its routine."""

import shutil
from dataclasses import replace

import numpy as np
import pytest
import soundfile

from rehearse.cli import main
from rehearse.files.user_error import UserError, UserErrors
from rehearse.music.beatmap import BeatMap
from rehearse.music.position import Seconds
from rehearse.routine.folder import open_folder, save_changes, save_folder
from rehearse.routine.model import Placed
from rehearse.routine.rules import load_rules
from rehearse.routine.start import start_rounds


@pytest.fixture
def folder(tmp_path):
    rules = load_rules("nga-amateur")
    return start_rounds(None, tmp_path, rules, "Prejudging", division="Figure", figure="woman")


def test_it_holds_title_division_rules_and_opens(folder):
    opened = open_folder(folder)
    routine = opened.routine
    assert folder.name == "Prejudging"
    assert [p.name for p in folder.iterdir()] == ["routine.yaml"]
    assert (routine.title, routine.division, routine.rules) == (
        "Prejudging", "Figure", "nga-amateur",
    )  # fmt: skip
    assert (routine.track, routine.poses, opened.beatmap.duration) == ("", (), 0.0)
    assert routine.id
    assert opened.warnings == ()


def test_it_is_saved_again_without_a_map_and_keeps_its_id(folder):
    opened = open_folder(folder)
    changed = replace(opened.routine, show_date="2027-05-22")
    save_changes(folder, changed, opened.beatmap, map_too=True)
    again = open_folder(folder).routine
    assert again == changed
    assert again.id == opened.routine.id
    assert not (folder / "beats.yaml").exists()


def test_a_pose_put_without_a_song_is_not_lost(folder):
    opened = open_folder(folder)
    posed = replace(opened.routine, poses=(Placed("a0000001", "victory", Seconds(3.0)),))
    save_changes(folder, posed, opened.beatmap, map_too=False)
    assert open_folder(folder).routine.poses[0].pose == "victory"


def test_with_a_song_that_has_no_map_yet_it_opens_and_then_with_its_map(folder):
    opened = open_folder(folder)
    (folder / "song.wav").write_bytes(b"RIFF")
    named = replace(opened.routine, track="song.wav")
    save_changes(folder, named, opened.beatmap, map_too=False)
    half = open_folder(folder)
    assert (half.routine.track, half.beatmap.duration) == ("song.wav", 0.0)
    beats = tuple(0.5 * k for k in range(1, 40))
    beatmap = BeatMap("1" * 32, 21.0, beats, tuple(k % 4 + 1 for k in range(39)))
    save_changes(folder, half.routine, beatmap, map_too=True)
    whole = open_folder(folder)
    assert whole.beatmap.duration == 21.0
    assert whole.routine.id == opened.routine.id


def test_a_routine_whose_map_was_lost_is_still_refused(folder):
    """Its counts would mean nothing: only what never had a map opens without one."""
    opened = open_folder(folder)
    beatmap = BeatMap("1" * 32, 21.0, (0.5, 1.0, 1.5), (1, 2, 3))
    (folder / "song.wav").write_bytes(b"RIFF")
    save_changes(folder, replace(opened.routine, track="song.wav"), beatmap, map_too=True)
    (folder / "beats.yaml").unlink()
    with pytest.raises(UserError, match=r"beats\.yaml"):
        open_folder(folder)


def test_a_routine_with_a_map_must_name_its_song(folder):
    opened = open_folder(folder)
    beatmap = BeatMap("1" * 32, 21.0, (0.5, 1.0, 1.5), (1, 2, 3))
    save_changes(folder, opened.routine, beatmap, map_too=True)
    with pytest.raises(UserErrors, match="track"):
        open_folder(folder)


def test_the_command_makes_one_and_says_what_is_missing(tmp_path, capsys):
    folder = tmp_path / "mine"
    assert main(["new", str(folder)]) == 2
    assert "--no-song" in capsys.readouterr().err
    assert not folder.exists()
    assert main(["new", str(folder), "--no-song", "--division", "Bikini", "--title", "On"]) == 0
    assert open_folder(folder).routine.title == "On"
    assert main(["new", str(folder), "--no-song"]) == 2
    assert "something there already" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("command", "told"),
    [
        (["dry-run", "{}", "--out", "{}/out"], "has no song yet"),
        (["handout", "{}", "--kind", "stage-music", "--out", "{}"], "has no song yet"),
        (["handout", "{}", "--kind", "cue-track", "--out", "{}"], "has no song yet"),
        (["handout", "{}", "--kind", "sheet", "--out", "{}"], "no poses yet"),
        (
            ["dry-run", "{}", "--round", "turns", "--background", "--out", "{}/out"],
            "name one with --background-song",
        ),
    ],
)
def test_what_needs_a_song_says_so_in_one_sentence(folder, capsys, command, told):
    assert main([part.format(folder) for part in command]) == 2
    sentence = capsys.readouterr().err
    assert told in sentence
    assert sentence.count("\n") == 1


def test_any_song_plays_beneath_a_round_with_a_beat_or_without(folder, tmp_path, qapp):
    """A long tone: nothing is to be counted in it. It is heard while nobody speaks."""
    song, rate = tmp_path / "drone.wav", 22_050
    tone = 0.3 * np.sin(2 * np.pi * 220 * np.arange(6 * rate) / rate)
    soundfile.write(song, tone, rate)
    quiet = ["dry-run", str(folder), "--round", "turns", "--hold", "3"]
    beneath = [*quiet, "--background-song", str(song)]
    levels = {}
    for name, command in (("quiet", quiet), ("song", beneath)):
        assert main([*command, "--out", str(tmp_path / name)]) == 0
        sound, at = soundfile.read(tmp_path / name / "session.wav", always_2d=True)
        row = (tmp_path / name / "calls.csv").read_text().splitlines()[1].split(",")
        held = round((float(row[3]) + 1.0) * at)
        levels[name] = float(np.sqrt(np.mean(sound[held : held + at] ** 2)))
    assert levels["quiet"] < 0.001
    assert 0.1 < levels["song"] < 0.25
    # Nor must the folder's own song have a map for that.
    shutil.copyfile(song, folder / "drone.wav")
    save_folder(folder, replace(open_folder(folder).routine, track="drone.wav"), BeatMap("", 0.0))
    assert main([*quiet, "--background", "--out", str(tmp_path / "own")]) == 0


def test_it_is_checked_logged_and_packed(folder, tmp_path, capsys, qapp):
    round_ = ["--round", "turns", "--hold", "2", "--out", str(tmp_path / "out")]
    assert main(["dry-run", str(folder), *round_]) == 0
    assert main(["check", str(folder)]) == 0
    capsys.readouterr()
    assert main(["log", str(folder), "--rounds"]) == 0
    table = capsys.readouterr().out.splitlines()
    assert len(table) == 6
    assert "figure left side stance" in table[2]
    assert main(["log", str(folder), "--rounds", "--csv"]) == 0
    assert capsys.readouterr().out.count("quarter turn to the right") == 4
    assert main(["handout", str(folder), "--kind", "zip", "--out", str(tmp_path)]) == 0
