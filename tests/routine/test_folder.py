"""The routine folder: identity, every fault at once, refusals, versions, maps that changed."""

from __future__ import annotations

import dataclasses
import os
import shutil
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rehearse.files.user_error import UserError, UserErrors
from rehearse.music.beatmap import BeatMap
from rehearse.music.mapfile import save_map
from rehearse.music.position import Count, Length, Seconds
from rehearse.routine.folder import open_folder, save_folder, save_routine
from rehearse.routine.model import (
    Facing,
    Level,
    OwnPose,
    Placed,
    Routine,
    Section,
    StagePart,
)  # fmt: skip
from rehearse.routine.poses import load_catalogue, plain
from rehearse.routine.versions import fingerprint, list_versions


@pytest.fixture
def folder(tmp_path, routine, song):
    save_folder(tmp_path, routine, song)
    (tmp_path / "lanterns.ogg").write_bytes(b"not decoded here")
    return tmp_path


def write(folder, text):
    (folder / "routine.yaml").write_text(text, encoding="utf-8")


def test_a_saved_routine_opens_as_it_was(folder, routine, song):
    opened = open_folder(folder)
    assert opened.routine == routine
    assert opened.beatmap == song
    assert opened.warnings == ()
    assert open_folder(folder / "routine.yaml").routine == routine


texts = st.text(max_size=30)
words = st.text(min_size=1, max_size=20).filter(plain)
lengths = st.builds(Length, st.integers(0, 64).map(lambda q: q / 4)) | st.builds(
    Length, st.integers(0, 20000).map(lambda ms: ms / 1000), st.just(False)
)
positions = st.builds(Count, st.integers(1, 18), st.integers(1, 8), st.integers(0, 3)) | st.builds(
    Seconds, st.integers(0, 80_000_000).map(lambda us: us / 1e6)
)
ids = st.text("0123456789abcdef", min_size=8, max_size=8)


@st.composite
def routines(draw):
    own = draw(st.lists(st.builds(
        OwnPose, words, st.sampled_from(Facing), st.sampled_from(Level), st.just(""), texts,
    ), max_size=3, unique_by=lambda o: plain(o.name)))  # fmt: skip
    names = [o.name for o in own]
    catalogue = load_catalogue().with_own(own)
    known = [p.name for p in catalogue.poses if catalogue.find(p.name).name == p.name]
    placed = draw(st.lists(st.builds(
        Placed, ids, st.sampled_from(known + names), positions, lengths, lengths,
        st.none() | st.sampled_from(Facing), st.none() | st.sampled_from(Level), texts, texts,
    ), max_size=8, unique_by=lambda p: p.id))  # fmt: skip
    return Routine(
        title=draw(texts), track=draw(st.sampled_from(["song.ogg", "music/my song.mp3"])),
        show=draw(texts), division=draw(texts), rules=draw(texts),
        show_date=draw(st.dates().map(str) | st.just("")),
        stage=draw(st.none() | st.builds(
            StagePart, st.just(0.5), st.integers(1, 79).map(float),
            st.just(0.0), st.integers(0, 3000).map(lambda ms: ms / 1000))),
        poses=tuple(placed), own_poses=tuple(own),
        sections=draw(st.just(()) | st.builds(
            lambda i, n: (Section(i, n, Count(2, 1), Seconds(33.25)),), ids, words)),
    )  # fmt: skip


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(routines())
def test_saving_and_opening_is_the_identity(tmp_path, song, written):
    written = dataclasses.replace(
        written, poses=tuple(sorted(written.poses, key=lambda p: song.time_of(p.hit)))
    )
    save_folder(tmp_path, written, song)
    assert open_folder(tmp_path).routine == written


def test_every_fault_is_told_at_once_with_its_line_and_what_to_write(folder):
    write(
        folder,
        """\
format: 1
titel: Lanterns
track: lanterns.ogg
show_date: 17.4.2027
stage: {start: 10.00 s, end: 5.00 s}
poses:
- id: a1
  pose: front duble biceps
  hit: 2:9
- id: a1
  pose: crucifix
  hit: 2:1
  hold: 4
  facing: backwards
- pose: vacuum
  hit: 99:1
- hit: 12
  pose: crab
  lvel: lunge
sections:
- name: Opening
  start: 4:1
  end: 2:1
""",
    )
    with pytest.raises(UserErrors) as caught:
        open_folder(folder)
    told = {(f.where.rpartition(" ")[2], f.do) for f in caught.value.errors}
    for line, do in [
        ("2", "write title"),
        ("4", "write year-month-day such as 2027-04-17"),
        ("5", "write a later end"),
        ("8", "write front double biceps"),
        ("9", "write a count such as 3:5& or seconds such as 12.40 s"),
        ("10", "take this id line out"),
        ("13", "write 4 counts or 4 s"),
        ("14", "write back"),
        ("16", "write a count from 1:1 to 18:8"),
        ("17", "write a count such as 3:5 or seconds such as 12.40 s"),
        ("19", "write level"),
        ("23", "write a later end"),
    ]:
        assert (line, do) in told, (line, do, told)
    assert any("title is missing" in f.what for f in caught.value.errors)
    assert all(f.where.startswith("routine.yaml, line ") for f in caught.value.errors)
    lines = caught.value.sentence.splitlines()
    assert len(lines) == len(caught.value.errors) == 13


def test_both_files_are_looked_through_before_refusing(folder):
    write(folder, "format: 1\ntitle: T\ntrack: t.ogg\nposes:\n- pose: nonsense\n  hit: 1:1\n")
    (folder / "beats.yaml").write_text("format: 1\n")
    with pytest.raises(UserErrors) as caught:
        open_folder(folder)
    files = {f.where.partition(",")[0] for f in caught.value.errors}
    assert files == {"routine.yaml", "beats.yaml"}


def test_a_synonym_opens_as_the_pose_it_means(folder):
    write(
        folder, "format: 1\ntitle: T\ntrack: t.ogg\nposes:\n- pose: Rear lat-spread\n  hit: 1:1\n"
    )
    opened = open_folder(folder)
    assert opened.routine.poses[0].pose == "back lat spread"
    assert opened.routine.poses[0].id
    assert opened.warnings == ("The song t.ogg is not in the folder – copy it there.",)


@pytest.mark.parametrize(
    ("text", "do"),
    [
        ("format: 3\nwhatever: [1, 2]\n", "update Rehearse; the file was left as it is"),
        ("format: 1\ntitle: [\n", "mend that line or restore a version"),
        ("format: 1\ntitle: &a T\ntrack: *a\n", "write the value out in full"),
        ("just a sentence", "write format: and a value"),
        ("", "write format: and a value"),
    ],
)
def test_newer_damaged_and_aliased_files_are_refused_untouched(folder, text, do):
    write(folder, text)
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    with pytest.raises(UserError) as caught:
        open_folder(folder)
    assert do in [f.do for f in getattr(caught.value, "errors", [caught.value])]
    assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before


@pytest.mark.parametrize(
    "name", ["/etc/passwd", "../song.ogg", "music/../../song.ogg", "C:\\song.ogg", "\\\\host\\x"]
)
def test_references_out_of_the_folder_are_refused(folder, name):
    write(folder, f"format: 1\ntitle: T\ntrack: '{name}'\nposes: []\n")
    with pytest.raises(UserErrors) as caught:
        open_folder(folder)
    assert caught.value.where == "routine.yaml, line 3"


@pytest.mark.skipif(os.name != "posix", reason="links need no rights only on POSIX")
@pytest.mark.parametrize("name", ["routine.yaml", "beats.yaml", "versions", "lanterns.ogg"])
def test_links_out_of_the_folder_are_refused(folder, tmp_path_factory, name):
    outside = tmp_path_factory.mktemp("outside") / "target"
    original = folder / name
    original.rename(outside) if original.exists() else outside.mkdir()
    original.symlink_to(outside)
    with pytest.raises(UserErrors, match="link that leads out"):
        open_folder(folder)


def test_pictures_of_own_poses_stay_inside_too(folder):
    write(folder, "format: 1\ntitle: T\ntrack: t.ogg\nposes: []\nown_poses:\n"
          "- name: my twist\n  picture: ../../private.jpg\n")  # fmt: skip
    with pytest.raises(UserErrors, match="leads out") as caught:
        open_folder(folder)
    assert caught.value.where == "routine.yaml, line 7"


def test_no_folder_and_no_routine(tmp_path):
    with pytest.raises(UserError, match="no such folder"):
        open_folder(tmp_path / "nowhere")
    with pytest.raises(UserError, match=r"no routine\.yaml"):
        open_folder(tmp_path)
    for name, do in (("lanterns.zip", "unpack it"), ("song.mp3", "choose the folder it is in")):
        (tmp_path / name).touch()
        with pytest.raises(UserError, match=f"is a file, not a routine's folder – {do}"):
            open_folder(tmp_path / name)


def test_each_save_keeps_the_one_before(folder, routine, song):
    for title in ("Second", "Third"):
        save_routine(folder, dataclasses.replace(routine, title=title), song)
    versions = list_versions(folder)
    assert len(versions) == 2
    assert "title: Second" in versions[0].path.read_text()
    assert "title: Paper Lanterns" in versions[1].path.read_text()


def shifted(song, by):
    """The same song with the map of a coach who found the first beat elsewhere."""
    times = np.round(song.times + by, 6)
    return dataclasses.replace(song, beats=tuple(float(t) for t in times), free=())


def test_a_save_cut_short_between_the_two_files_is_put_right(folder, routine, song):
    # The map is written first; then the program is killed before the routine is.
    corrected = shifted(song, 0.5)
    save_map(folder / "beats.yaml", corrected, versions=folder / "versions")
    opened = open_folder(folder)
    assert opened.beatmap == corrected
    for was, now in zip(routine.poses, opened.routine.poses, strict=True):
        assert corrected.time_of(now.hit) == pytest.approx(song.time_of(was.hit), abs=0.001)
    assert opened.routine.poses[1].hit == Count(1, 8)  # it was 2:1 on a map half a second earlier


def test_a_changed_map_without_its_earlier_one_is_told(folder, song):
    save_map(folder / "beats.yaml", shifted(song, 0.1))
    assert "beats.yaml has changed" in open_folder(folder).warnings[0]


def test_a_map_that_is_gone_is_taken_from_the_earlier_saves(folder, song):
    save_map(folder / "beats.yaml", shifted(song, 0.1), versions=folder / "versions")
    (folder / "beats.yaml").unlink()
    opened = open_folder(folder)
    assert opened.beatmap == song
    assert opened.warnings[0].startswith("beats.yaml is missing – the beat map kept until ")
    assert not (folder / "beats.yaml").exists()  # opening changes nothing


def test_without_any_map_one_sentence_says_what_is_missing(folder):
    (folder / "beats.yaml").unlink()
    with pytest.raises(
        UserErrors, match=r"has no beats\.yaml in it, the beat map .* – copy it there"
    ):
        open_folder(folder)


def test_the_fingerprint_is_of_what_counts_mean(song):
    assert fingerprint(song) == fingerprint(dataclasses.replace(song, accents=(), quiets=()))
    assert fingerprint(song) != fingerprint(shifted(song, 0.000002))
    assert fingerprint(song) != fingerprint(dataclasses.replace(song, restarts=(6.0,)))
    assert len(fingerprint(BeatMap("x", 1.0))) == 12


def test_a_stage_part_longer_than_the_mapped_music_is_told_and_opens(folder, routine, song):
    # As when a longer song was chosen and its map is not made yet.
    longer = dataclasses.replace(routine, stage=StagePart(0.0, song.duration + 85.0))
    save_folder(folder, longer, song)
    opened = open_folder(folder)
    assert opened.routine.stage.end == song.duration + 85.0
    (told,) = opened.warnings
    assert told.startswith("The stage part ends at ")
    assert told.endswith("on the Music page.")


def test_saving_never_makes_a_folder_that_is_gone(folder, routine, song):
    gone = folder.rename(folder.with_name("gone"))
    with pytest.raises(UserError, match="not there any more – plug its drive in"):
        save_routine(folder, routine, song)
    assert not folder.exists()
    assert gone.exists()


def test_an_empty_file_names_the_save_that_is_whole(folder, routine, song):
    save_routine(folder, dataclasses.replace(routine, title="Second"), song)
    write(folder, "")
    with pytest.raises(UserError, match="is empty – the window offers the save kept until"):
        open_folder(folder)
    (folder / "routine.yaml").unlink()
    with pytest.raises(UserError, match="is missing – the window offers the save kept until"):
        open_folder(folder)


def test_an_empty_map_is_taken_from_the_earlier_saves(folder, song):
    save_map(folder / "beats.yaml", shifted(song, 0.1), versions=folder / "versions")
    (folder / "beats.yaml").write_bytes(b"")
    opened = open_folder(folder)
    assert opened.beatmap == song
    assert opened.warnings[0].startswith("beats.yaml is empty – the beat map kept until ")


@pytest.mark.skipif(getattr(os, "getuid", lambda: 1)() != 0, reason="needs root to be nobody")
@pytest.mark.parametrize("rights", [0o000, 0o444])
def test_a_folder_without_rights_is_one_sentence(folder, rights):
    code = (
        "import os, sys\n"
        "from rehearse.cli import main\n"
        "main(['check', sys.argv[2]])\n"  # everything is imported while it may be read
        "os.setegid(65534); os.seteuid(65534)\n"
        "sys.exit(main(['check', sys.argv[1]]))"
    )
    whole = shutil.copytree(folder, folder / "whole")
    command = [sys.executable, "-c", code, str(folder), str(whole)]
    for place in (folder, *folder.parents[:2]):
        place.chmod(0o755)
    folder.chmod(rights)
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    finally:
        folder.chmod(0o755)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "no permission to read" in done.stderr
