"""The dry run's sound, table, pictures and log agree with each other and with the track."""

from __future__ import annotations

import csv
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PySide6.QtGui import QImage

from rehearse.cli import main
from rehearse.cueing.voice import SpeechEngine
from rehearse.files.user_error import UserError
from rehearse.music.position import Length
from rehearse.practice.logbook import Logbook
from rehearse.practice.scope import spots_of
from rehearse.practice.summary import summarise
from rehearse.routine import edits
from rehearse.routine.folder import open_folder, save_folder
from rehearse.routine.model import Move
from rehearse.routine.snapping import Snap, snap
from rehearse.session.dry_run import dry_run
from rehearse.ui.stage.stage_png import StagePictures
from tests.helpers.heard import heard_at

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    target = tmp_path_factory.mktemp("routine") / "copper-lights"
    return Path(shutil.copytree(ROOT / "demo" / "copper-lights", target))


@pytest.fixture(scope="module")
def whole(folder, tmp_path_factory, qapp):
    return dry_run(folder, tmp_path_factory.mktemp("whole"), StagePictures)


@pytest.fixture(scope="module")
def looped(folder, tmp_path_factory, qapp):
    out = tmp_path_factory.mktemp("looped")
    return dry_run(folder, out, StagePictures, section="Back", tempo=0.6, passes=2)


def rows(made):
    with made.cues.open(newline="") as file:
        return list(csv.DictReader(file))


def test_at_full_tempo_each_hit_is_heard_when_the_table_says(whole, folder):
    sound, rate = soundfile.read(whole.sound, always_2d=True)
    track, _ = soundfile.read(folder / "track.ogg", always_2d=True)
    hits = [r for r in rows(whole) if r["shown"] == "hit"]
    assert len(hits) == 16
    for row in hits:
        source, heard = (round(float(row[k]) * rate) for k in ("track", "time heard"))
        expected = track[source - 2000 : source + 12000].mean(axis=1)
        frame, likeness = heard_at(sound.mean(axis=1), expected, heard - 2000, 4000)
        assert likeness > 0.9
        assert abs(frame + 2000 - heard) <= rate / 1000


def test_the_loop_lasts_as_long_as_its_tempo_says(looped):
    starts = [float(r["time heard"]) for r in rows(looped) if r["count"] == "5:1"]
    hits = [r for r in rows(looped) if r["shown"] == "hit" and r["pass"] == "1"]
    times = np.array([[float(r["time heard"]), float(r["track"])] for r in hits])
    assert np.diff(times[:, 0]) == pytest.approx(np.diff(times[:, 1]) / 0.6, abs=0.002)
    assert len(starts) == 4  # its hit and the countdown's next line, twice


def test_the_countdown_steps_down_to_each_hit(whole):
    found = [r for r in rows(whole) if r["pose"] == "back double biceps" and r["kind"] == "pose"]
    shown = [r["shown"] for r in found]
    assert shown == ["8", "7", "6", "5", "4", "3", "2", "1", "hit"]


def test_the_count_in_is_counted_from_five(looped):
    first = [r for r in rows(looped) if r["pass"] == "1"][:4]
    assert [(r["count"], r["shown"]) for r in first] == [
        ("5", "4"), ("6", "3"), ("7", "2"), ("8", "1")
    ]  # fmt: skip


def test_there_is_one_picture_a_cue(whole, looped):
    assert len(whole.pictures) == 16
    assert len(looped.pictures) == 8
    image = QImage(str(whole.pictures[0]))
    assert (image.width(), image.height()) == (1920, 1080)


def test_passes_are_marked_and_never_counted_as_practice(whole, looped, folder):
    with Logbook(folder / "practice.sqlite") as book:
        passes = book.history()
        assert all(p.dry_run for p in passes)
        assert len(passes) == 3
        assert book.history(dry_runs=False) == ()
        opened = open_folder(folder)
        spots = spots_of(opened.routine, opened.beatmap)
        standings = summarise(book, opened.routine, spots, date.today())
        assert not any(standing.passes for standing in standings.sections)


@pytest.fixture
def other_folder(tmp_path):
    """The same routine with a logbook of its own."""
    return Path(shutil.copytree(ROOT / "demo" / "copper-lights", tmp_path / "copper-lights"))


def test_the_same_dry_run_sounds_the_same(other_folder, looped, tmp_path):
    out = tmp_path / "again"
    again = dry_run(other_folder, out, NoPictures, section="back", tempo=0.6, passes=2)
    first, second = (soundfile.read(m.sound)[0] for m in (looped, again))
    assert np.array_equal(first, second)
    assert looped.cues.read_bytes() == again.cues.read_bytes()


def test_a_folder_that_cannot_be_written_is_a_plain_fault(folder, tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(UserError):
        dry_run(folder, tmp_path / "file" / "out", StagePictures)


class NoPictures:
    def __init__(self, context):
        pass

    def save(self, view, path):
        pass


def test_the_table_says_what_is_said_and_when_and_it_is_heard_there(other_folder, tmp_path):
    made = {
        who: dry_run(
            other_folder, tmp_path / who, NoPictures, section="Back", speech_engine=speech_engine
        )
        for who, speech_engine in (("voice", SpeechEngine()), ("clicks", None))
    }
    spoken, plain = (soundfile.read(made[k].sound)[0].mean(axis=1) for k in ("voice", "clicks"))
    rate = soundfile.info(made["voice"].sound).samplerate
    # The same music and clicks lie in both: what is left is the voice. Before a count-in that is
    # spoken there may be a name, which the other does without.
    early = len(spoken) - len(plain)
    voice = spoken - np.pad(plain, (max(0, early), 0))[: len(spoken)]
    told = [row for row in rows(made["voice"]) if row["said"]]
    hits = [row for row in rows(made["voice"]) if row["shown"] == "hit"]
    assert [row["pose"] for row in hits if row["said"]] == [row["pose"] for row in hits]
    assert {"5", "6", "7", "8"} <= {row["said"] for row in told}
    for row in told:
        onset = round(float(row["said at"]) * rate)
        assert np.abs(voice[onset : onset + rate // 8]).max() > 0.02, row
    assert not any(row["said"] for row in rows(made["clicks"]))
    assert made["voice"].unsaid == ()


def test_a_name_without_room_is_told_in_the_table_and_at_the_end(other_folder, tmp_path):
    crowded = other_folder
    opened = open_folder(crowded)
    first, second, third = opened.routine.poses[2:5]
    hit = opened.beatmap.time_of(second.hit)
    nothing = Length(0)
    close = [
        replace(pose, hit=opened.beatmap.position_at(hit + 0.25 * k), hold=nothing)
        for k, pose in enumerate((first, second, third))
    ]
    poses = tuple(replace(pose, transition=nothing) for pose in close)
    save_folder(crowded, replace(opened.routine, poses=poses, sections=()), opened.beatmap)
    made = dry_run(crowded, tmp_path / "out", NoPictures, speech_engine=SpeechEngine())
    assert [cue.name for cue in made.unsaid] == [second.pose]
    assert f"1 name is not said, for want of room: {second.pose}" in made.words
    (row,) = (r for r in rows(made) if r["shown"] == "hit" and r["pose"] == second.pose)
    assert (row["said"], row["said at"]) == ("(no room for the name)", "")


class Silent:
    """A painter that paints nothing."""

    def save(self, view, path):
        path.touch()


def test_moves_and_hits_once_more_stand_in_the_table_with_their_kind(tmp_path):
    folder = Path(shutil.copytree(ROOT / "demo" / "copper-lights", tmp_path / "moves"))
    opened = open_folder(folder)
    routine, beatmap = opened.routine, opened.beatmap
    routine = replace(
        routine, exit=(), poses=tuple(replace(p, moves=(), again=()) for p in routine.poses)
    )
    pose = next(p for p in routine.poses[2:] if p.transition.in_counts)
    routine = edits.change(routine, beatmap, pose.id, transition=Length(4))
    routine = edits.set_moves(routine, pose.id, [Move("m", "gather", Length(2))])
    _, hit, end = routine.placed(pose.id).times(beatmap)
    at = snap(beatmap, (hit + end) / 2, Snap.COUNTS)
    routine = edits.change(routine, beatmap, pose.id, again=(at,))
    save_folder(folder, routine, beatmap)
    made = dry_run(folder, tmp_path / "out", lambda context: Silent(), speech_engine=SpeechEngine())
    found = rows(made)
    assert {r["kind"] for r in found} == {"pose", "move", "again"}
    (move,) = (r for r in found if r["kind"] == "move")
    (again,) = (r for r in found if r["kind"] == "again")
    assert (move["pose"], again["pose"], again["count"]) == ("gather", pose.pose, str(at))
    start = routine.placed(pose.id).times(beatmap)[0]
    assert float(move["track"]) == pytest.approx(start, abs=0.001)
    if move["said"]:  # where the voice had room: on the very beginning of the move
        assert float(move["said at"]) == pytest.approx(float(move["time heard"]), abs=0.010)
    heard = [float(r["time heard"]) for r in found]
    assert heard == sorted(heard)


@pytest.mark.parametrize(("said", "kinds"), [("poses", {"pose"}), ("moves", {"move"})])
def test_a_dry_run_says_poses_or_moves_as_it_is_told(tmp_path, capsys, qapp, said, kinds):
    folder, out = tmp_path / "copper-lights", tmp_path / "out"
    shutil.copytree(ROOT / "demo" / "copper-lights", folder)
    arguments = ["dry-run", str(folder), "--section", "Back", "--said", said, "--out", str(out)]
    assert main(arguments) == 0
    with (out / "cues.csv").open(newline="") as table:
        spoken = [r for r in csv.DictReader(table) if r["said"] and not r["said"].isdigit()]
    assert {r["kind"] for r in spoken} == kinds
