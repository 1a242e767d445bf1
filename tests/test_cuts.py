"""The power goes after any single system call: routine, map and logbook open, old or new."""

import shutil
import sqlite3

import pytest

from rehearse.handout.make import make
from rehearse.practice import schema
from rehearse.practice.logbook import Logbook
from rehearse.routine.cutting import source_of
from rehearse.routine.folder import open_folder
from tests.helpers.cuts import can_record, cuts, lay_out, record
from tests.practice.made import MONDAY, make_pass
from tests.ui.made import fast_folder

pytestmark = pytest.mark.skipif(not can_record(), reason="strace may not be used here")

#: Begins every piece of work: the folder, and what lies in it.
HEAD = """
import sys
from dataclasses import replace
from pathlib import Path
from rehearse.routine.folder import open_folder, save_changes, save_folder
folder = Path(sys.argv[1])
"""


@pytest.fixture
def folder(tmp_path):
    return fast_folder(tmp_path / "mine")


@pytest.fixture
def place(tmp_path):
    return tmp_path / "found"


def states_after(code, folder, *arguments):
    """The folder as it was, and every state it can be found in."""
    before = shutil.copytree(folder, folder.with_name("before"), symlinks=True)
    calls = record(HEAD + code, folder, *map(str, arguments))
    assert calls, "nothing was written"
    assert sum(call.name == "write" for call in calls) >= 1
    return list(cuts(before, calls, folder))


def opened(folder):
    found = open_folder(folder)
    return found.routine, found.beatmap


def hits_of(routine, beatmap):
    return [round(beatmap.time_of(p.hit), 3) for p in routine.poses]


def test_a_save(folder, place):
    old = opened(folder)
    states = states_after(
        "o = open_folder(folder)\n"
        "save_changes(folder, replace(o.routine, title='New'), o.beatmap, map_too=False)\n",
        folder,
    )
    new = opened(folder)
    assert new != old
    seen = {"Made": 0, "New": 0}
    for words, files in states:
        found = opened(lay_out(files, place))
        assert found in (old, new), words
        seen[found[0].title] += 1
    assert min(seen.values()) > 0
    assert len(states) >= 6


def test_a_save_with_another_map(folder, place):
    """Between the two files the poses are at their places in the music all the same."""
    old = opened(folder)
    states = states_after(
        "from rehearse.routine.remap import remap\n"
        "o = open_folder(folder)\n"
        "beats = tuple(round(b + 0.07, 6) for b in o.beatmap.beats[8:])\n"
        "m = replace(o.beatmap, beats=beats, places=o.beatmap.places[8:])\n"
        "r = replace(remap(o.routine, o.beatmap, m), title='New')\n"
        "save_changes(folder, r, m, map_too=True)\n",
        folder,
    )
    new = opened(folder)
    for words, files in states:
        routine, beatmap = opened(lay_out(files, place))
        assert beatmap in (old[1], new[1]), words
        assert routine.title in ("Made", "New"), words
        assert hits_of(routine, beatmap) == hits_of(*old), words
    assert hits_of(*new) == hits_of(*old)


def test_a_cut_of_the_song(folder, place):
    """Four files – sound, the song's map, the cut's map, the routine – are old or new together."""
    old = opened(folder)
    states = states_after(
        "from rehearse.music.cut import Cut, CutPart\n"
        "from rehearse.routine.cutting import make_cut, source_of, with_cut\n"
        "o = open_folder(folder)\n"
        "at = o.beatmap.beats\n"
        "cut = Cut('', '', '', (CutPart(at[0], at[12]), CutPart(at[40], at[56])))\n"
        "source = source_of(folder, o.routine, o.beatmap)\n"
        "made = make_cut(folder, source, cut, lambda done, text: None)\n"
        "r = with_cut(o.routine, o.beatmap, source, made)\n"
        "save_changes(folder, r, made.beatmap, map_too=True)\n",
        folder,
    )
    new = opened(folder)
    assert new[0].cut is not None
    sound = (folder / new[0].track).read_bytes()
    seen = {old[0].track: 0, new[0].track: 0}
    for words, files in states:
        found = opened(lay_out(files, place))
        assert found in (old, new), words
        seen[found[0].track] += 1
        if found == new:
            assert files[new[0].track] == sound, words
            assert source_of(place, *found).beatmap == old[1], words
    assert min(seen.values()) > 0


def test_a_takeover(folder, place, tmp_path):
    theirs = shutil.copytree(folder, tmp_path / "theirs")
    (theirs / "pictures").mkdir()
    (theirs / "pictures" / "bow.gif").write_bytes(b"GIF89a\x01\0\x01\0" + b"9" * 200_000)
    there = open_folder(theirs)
    own = "OwnPose('bow', picture='pictures/bow.gif')"
    states = states_after(
        "from rehearse.routine.model import OwnPose\n"
        "from rehearse.routine.merge import apply_offers, import_files, offers\n"
        f"theirs = open_folder(Path(sys.argv[2])); own = {own}\n"
        "theirs = replace(theirs, routine=replace(theirs.routine, own_poses=(own,)))\n"
        "o = open_folder(folder)\n"
        "r = apply_offers(o.routine, o.beatmap, offers(o.routine, o.beatmap, theirs), theirs)\n"
        "r = import_files(r, folder, theirs, o.routine)\n"
        "save_changes(folder, r, o.beatmap, map_too=False)\n",
        folder,
        theirs,
    )
    old, whole = there.routine, (theirs / "pictures" / "bow.gif").read_bytes()
    taken = open_folder(folder).routine
    assert [o.name for o in taken.own_poses] == ["bow"]
    for words, files in states:
        routine, _ = opened(lay_out(files, place))
        assert routine in (old, taken), words
        for pose in routine.own_poses:  # no routine shows a photo that is not there whole
            assert (place / pose.picture).read_bytes() == whole, words


@pytest.mark.parametrize("way", ["zip", "song"])
def test_an_import(folder, place, tmp_path, way):
    """A folder appears whole or not at all."""
    into = tmp_path / "routines"
    into.mkdir()
    if way == "zip":
        (source,) = make(folder, "zip", tmp_path).paths
        code = (
            "from rehearse.routine.zip_import import open_bundle\n"
            "open_bundle(Path(sys.argv[2]), folder)\n"
        )
    else:
        source = folder / "track.wav"
        code = (
            "from rehearse.music.mapfile import load_map\n"
            "from rehearse.routine.rules import load_rules\n"
            "from rehearse.routine.start import start_routine\n"
            "song = Path(sys.argv[2]); m = load_map(song.with_name('beats.yaml'))\n"
            "start_routine(folder, song, m, load_rules('open-60'), 'New')\n"
        )
    states = states_after(code, into, source)
    whole = open_folder(next(p for p in into.iterdir() if not p.name.startswith(".")))
    song = (whole.folder / whole.routine.track).read_bytes()
    appeared = 0
    for words, files in states:
        lay_out(files, place)
        for made in (p for p in place.iterdir() if not p.name.startswith(".")):
            found = open_folder(made)
            assert (found.routine, found.beatmap) == (whole.routine, whole.beatmap), words
            assert (made / found.routine.track).read_bytes() == song, words
            appeared += 1
    assert appeared


def test_a_pass(folder, place):
    with Logbook(folder / "practice.sqlite") as book:
        book.record(make_pass(MONDAY))
    states = states_after(
        "from datetime import timedelta\n"
        "from rehearse.practice.logbook import Logbook\n"
        "from tests.practice.made import MONDAY, make_pass\n"
        "book = Logbook(folder / 'practice.sqlite')\n"
        "for k in (1, 2):\n"
        "    book.record(make_pass(MONDAY + timedelta(minutes=k)))\n"
        "    (folder / f'kept {k}').touch()\n"  # what was told: from here on it may not be lost
        "book.close()\n",
        folder,
    )
    for words, files in states:
        lay_out(files, place)
        told = sum((place / f"kept {k}").exists() for k in (1, 2))
        with Logbook(place / "practice.sqlite") as book:
            assert book.notice == "", words
            passes = book.history()
        assert 1 + told <= len(passes) <= 3, words
        assert len({done.id for done in passes}) == len(passes), words
        assert opened(place), words


def test_a_schema_change(folder, place):
    with Logbook(folder / "practice.sqlite") as book:
        book.record(make_pass(MONDAY))
    make_older(folder / "practice.sqlite")
    states = states_after(
        "from rehearse.practice.logbook import Logbook\n"
        "Logbook(folder / 'practice.sqlite').close()\n",
        folder,
    )
    for words, files in states:
        lay_out(files, place)
        with Logbook(place / "practice.sqlite") as book:
            assert book.notice == "", words
            assert len(book.history()) == 1, words


def make_older(path):
    """A logbook of the first version: what the later steps add is not there."""
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA journal_mode=DELETE")
        kept = {
            table: db.execute(f"SELECT * FROM {table}").fetchall()
            for table in ("sessions", "passes", "taken")
        }
    db.close()
    path.unlink()
    with sqlite3.connect(path, isolation_level=None) as db:
        first = schema.STEPS[0]
        first(db) if callable(first) else db.executescript(first)
        for table, rows in kept.items():
            width = len(db.execute(f"SELECT * FROM {table}").description)
            marks = ",".join("?" * width)
            db.executemany(f"INSERT INTO {table} VALUES ({marks})", [r[:width] for r in rows])
        db.execute("PRAGMA user_version = 1")
    db.close()


def test_the_cutter_finds_a_rename_before_its_sync(tmp_path):
    """The cutter itself: a save without a sync loses both states, and that is found."""
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / "a").write_bytes(b"old")
    states = states_after(
        "import os\n(folder / '.a').write_bytes(b'new'); os.replace(folder / '.a', folder / 'a')\n",
        folder,
    )
    assert b"" in {files.get("a") for _, files in states}
    assert {b"old", b"new"} <= {files.get("a") for _, files in states}
