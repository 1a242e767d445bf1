"""Earlier saves: listed, named, restored, thinned."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rehearse.files.user_error import UserError
from rehearse.files.yamlfile import load_yaml
from rehearse.routine import edits
from rehearse.routine.folder import open_folder, read_save, save_folder, save_routine
from rehearse.routine.versions import keep_as, list_versions, outline, rename, restore, thin

NOW = datetime(2027, 3, 2, 20, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path, routine, song):
    save_folder(tmp_path, routine, song)
    return tmp_path


def make(folder, *ages, name=""):
    """Versions replaced so long ago."""
    (folder / "versions").mkdir(exist_ok=True)
    for age in ages:
        stamp = (NOW - age).strftime("%Y-%m-%dT%H%M%S.%fZ")
        suffix = f" {name}" if name else ""
        (folder / "versions" / f"routine {stamp}{suffix}.yaml").write_text("format: 1\n")


def test_a_name_keeps_the_present_for_ever(folder):
    kept = keep_as(folder, "after Tuesday")
    assert [v.name for v in list_versions(folder)] == ["after Tuesday"]
    assert kept.path.read_bytes() == (folder / "routine.yaml").read_bytes()
    assert thin(folder, now=datetime.now(UTC) + timedelta(days=900)) == 0
    assert kept.path.exists()


@given(st.text(max_size=50))
def test_any_words_can_be_a_name(tmp_path_factory, name):
    folder = tmp_path_factory.mktemp("named")
    (folder / "routine.yaml").write_text("format: 1\n")
    if not name.strip():
        with pytest.raises(UserError, match="1 to 50"):
            keep_as(folder, name)
        return
    keep_as(folder, name)
    assert [v.name for v in list_versions(folder)] == [name.strip()]
    assert [p.parent for p in folder.rglob("routine 2*")] == [folder / "versions"]


def test_a_version_can_be_named_later(folder, routine, song):
    save_routine(folder, replace(routine, title="Second"), song)
    (version,) = list_versions(folder)
    renamed = rename(version, "before: the big/small change?")
    assert list_versions(folder) == (renamed,)
    assert renamed.name == "before: the big/small change?"
    with pytest.raises(UserError, match="1 to 50"):
        rename(renamed, "x" * 51)


def test_restoring_keeps_the_present(folder, routine, song):
    kept = keep_as(folder, "after Tuesday")
    second = edits.take_out(routine, song, "aa03")
    save_routine(folder, second, song)
    restore(folder, kept)
    assert open_folder(folder).routine == routine
    present = [v for v in list_versions(folder) if not v.name]
    assert read_save(load_yaml(present[0].path), folder, song) == (second, song)


def test_a_version_reads_on_the_map_of_today(folder, routine, song):
    kept = keep_as(folder, "old map")
    later = replace(song, beats=song.beats[8:], places=song.places[8:])  # the first eight went
    save_folder(folder, edits.describe(routine, title="now"), later)
    read, _ = read_save(load_yaml(kept.path), folder, later)
    assert [str(p.hit) for p in read.poses] == ["2.00 s", "1:1", "2:1", "4:1", "6:5&"]


def test_two_saves_a_second_all_stay_for_an_hour(tmp_path):
    make(tmp_path, *(timedelta(seconds=2 * k) for k in range(1800)))
    assert thin(tmp_path, now=NOW) == 0
    assert len(list_versions(tmp_path)) == 1800


def test_older_ones_thin_out_by_age(tmp_path):
    make(tmp_path, *(timedelta(seconds=30 * k) for k in range(2 * 60 * 3)))  # three hours
    thin(tmp_path, now=NOW)
    kept = [NOW - v.replaced for v in list_versions(tmp_path)]
    assert sum(age < timedelta(hours=1) for age in kept) == 120
    # two hours, one every ten minutes, and the edge
    assert 12 <= sum(age >= timedelta(hours=1) for age in kept) <= 13
    make(tmp_path, *(timedelta(days=2, minutes=k) for k in range(180)))
    make(tmp_path, *(timedelta(days=30, hours=k) for k in range(72)))
    make(tmp_path, timedelta(days=30, minutes=1), name="after Tuesday")
    thin(tmp_path, now=NOW)
    ages = [NOW - v.replaced for v in list_versions(tmp_path) if not v.name]
    week = [a for a in ages if timedelta(days=1) <= a < timedelta(days=7)]
    old = [a for a in ages if a >= timedelta(days=7)]
    assert 3 <= len(week) <= 4  # three hours: one an hour
    assert 3 <= len(old) <= 4  # three days: one a day
    assert [v.name for v in list_versions(tmp_path) if v.name] == ["after Tuesday"]
    assert thin(tmp_path, now=NOW) == 0


def test_the_first_of_each_span_stays(tmp_path):
    make(tmp_path, timedelta(hours=2, minutes=1), timedelta(hours=2, minutes=5))
    thin(tmp_path, now=NOW)
    assert [NOW - v.replaced for v in list_versions(tmp_path)] == [timedelta(hours=2, minutes=5)]


def test_what_had_stood_for_hours_stays_for_ever(tmp_path):
    # A copy may have been made of it: then it is what both copies come from.
    ages = [timedelta(days=40, minutes=k) for k in (0, 1, 2, 300, 301, 302)]
    make(tmp_path, *ages)
    thin(tmp_path, now=NOW)
    left = {NOW - v.replaced for v in list_versions(tmp_path)}
    assert ages[2] in left
    assert not {ages[0], ages[1]} & left


seconds = st.lists(st.integers(1, 400), min_size=2, max_size=40)


@given(seconds)
def test_what_was_listed_once_is_listed_again(tmp_path_factory, gaps):
    folder = tmp_path_factory.mktemp("listed")
    age, listed = timedelta(seconds=sum(gaps)), []
    for gap in gaps:
        make(folder, age)
        age -= timedelta(seconds=gap)
        now = outline(list_versions(folder))
        assert set(listed) <= set(now)
        listed = now
    kept = len(list_versions(folder))
    gone = thin(folder, now=NOW)
    assert len(list_versions(folder)) == kept - gone
    assert thin(folder, now=NOW) == 0, "what was thinned stays so"


def test_other_files_are_left_alone(folder):
    (folder / "versions").mkdir(exist_ok=True)
    (folder / "versions" / "routine of mine.yaml").write_text("x")
    (folder / "versions" / "notes.txt").write_text("x")
    assert list_versions(folder) == ()
    thin(folder, now=NOW)
    assert len(list((folder / "versions").iterdir())) == 2


def test_the_list_shows_named_ones_and_the_first_of_every_two_minutes(tmp_path):
    make(tmp_path, *(timedelta(seconds=20 * k) for k in range(20)))
    make(tmp_path, timedelta(seconds=50), name="after Tuesday")
    shown = [NOW - v.replaced for v in outline(list_versions(tmp_path))]
    assert [age.total_seconds() for age in shown] == [0, 50, 120, 240, 360, 380]


def test_an_empty_file_a_full_disk_left_is_no_version(folder):
    (folder / "versions").mkdir(exist_ok=True)
    (folder / "versions" / "routine 2027-03-02T200000.000000Z.yaml").touch()
    assert list_versions(folder) == ()
