"""The window's logbook on a thread of its own: never waited for, nothing lost, sentences only."""

import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from rehearse.practice.keeper import Keeper
from rehearse.practice.logbook import Logbook
from rehearse.practice.plan import make_plan
from rehearse.practice.planbook import named

from .made import MONDAY, make_pass

ROOT = Path(__file__).parents[2]
#: Seconds: what the window's thread may spend on handing something over, with room for the load.
AT_ONCE = 0.1


@pytest.fixture
def told():
    return []


@pytest.fixture
def keeper(tmp_path, told):
    keeper = Keeper(
        tmp_path / "practice.sqlite", fallback=tmp_path / "spare.sqlite", on_error=told.append
    )
    assert keeper.settle()
    yield keeper
    keeper.close()
    assert keeper.join()


def history(keeper):
    found = []
    keeper.ask(lambda book: book.history(), found.append)
    assert keeper.settle()
    return found[0]


def stopped_sessions(keeper):
    found = []
    select = "SELECT count(*) FROM sessions WHERE stopped = 'unwell'"
    keeper.ask(lambda book: book.db.execute(select).fetchone()[0], found.append)
    assert keeper.settle()
    return found[0]


def test_what_is_handed_over_is_kept_in_its_order(keeper):
    passes = [make_pass(MONDAY + timedelta(minutes=k)) for k in range(20)]
    for done in passes:
        keeper.record(done)
        keeper.judge(done.id, "clean")
    assert [p.verdict for p in history(keeper)] == ["clean"] * 20


def test_a_locked_logbook_holds_nobody_up_and_loses_nothing(keeper, told, routine, beatmap):
    first, second = make_pass(), make_pass(MONDAY + timedelta(minutes=1))
    plans = []
    keeper.ask(
        lambda b: make_plan(b, routine, beatmap, minutes=20, today=MONDAY.date()), plans.append
    )
    assert keeper.settle()
    with closing(sqlite3.connect(keeper.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        began = time.monotonic()
        keeper.record(first)
        keeper.judge(first.id, "missed", broke_at=3.0)
        keeper.end_session(MONDAY + timedelta(seconds=30), unwell=True)
        keeper.record(second)
        keeper.keep_plan(named(plans[0]))
        keeper.ask(lambda book: book.history(), lambda _found: None)
        assert time.monotonic() - began < AT_ONCE
        deadline = time.monotonic() + 15
        while not told and time.monotonic() < deadline:
            time.sleep(0.02)
        other.execute("ROLLBACK")
    assert keeper.settle(40)
    assert "another program holds the logbook" in told[0]
    assert not any("sqlite" in sentence.lower().replace("practice.sqlite", "") for sentence in told)
    assert [(p.id, p.verdict) for p in history(keeper)] == [(first.id, "missed"), (second.id, None)]
    assert stopped_sessions(keeper) == 1


def test_a_session_that_is_closed_is_no_stop_unless_that_is_said(keeper):
    keeper.record(make_pass())
    keeper.end_session(MONDAY + timedelta(seconds=30))
    assert stopped_sessions(keeper) == 0
    keeper.end_session(MONDAY + timedelta(seconds=40), unwell=True)
    assert stopped_sessions(keeper) == 1


def limit(keeper, pages):
    keeper.ask(lambda book: book.db.execute(f"PRAGMA max_page_count = {pages}"), lambda _c: None)


def test_a_full_disk_keeps_the_stop_for_dizziness_too(keeper, told):
    for k in range(40):
        keeper.record(make_pass(MONDAY + timedelta(minutes=k)))
    count = []
    keeper.ask(lambda b: b.db.execute("PRAGMA page_count").fetchone()[0], count.append)
    keeper.settle()
    limit(keeper, count[0])
    total = 40
    while not told and total < 3000:  # until the last page is full
        keeper.record(make_pass(MONDAY + timedelta(days=1, minutes=total)))
        total += 1
        keeper.settle()
    at = MONDAY + timedelta(days=60)
    keeper.end_session(at, unwell=True)
    keeper.settle()
    assert told
    assert all("the disk is full" in sentence for sentence in told)
    limit(keeper, 1_000_000)
    keeper.record(make_pass(at + timedelta(minutes=1)))
    assert len(history(keeper)) == total + 1
    assert stopped_sessions(keeper) == 1


@pytest.mark.parametrize("what", ["folder", "text", "locked", "newer", "no folder", "link"])
def test_whatever_is_in_its_place_there_is_a_logbook(tmp_path, told, what, monkeypatch):
    folder, fallback = tmp_path / "routine", tmp_path / "machine" / "spare.sqlite"
    path = folder / "practice.sqlite"
    if what != "no folder":
        folder.mkdir()
    if what == "folder":
        path.mkdir()
        (path / "kept.txt").write_text("mine")
    elif what == "text":
        path.write_text("this is no logbook")
    elif what == "link":
        path.symlink_to("nowhere")
    elif what in ("locked", "newer"):
        Logbook(path, fallback).close()
    other = sqlite3.connect(path, isolation_level=None) if what in ("locked", "newer") else None
    if what == "locked":
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
    elif what == "newer":
        other.execute("PRAGMA user_version = 9")
    monkeypatch.setattr("rehearse.practice.database.PATIENCE", 0.2)
    keeper = Keeper(path, fallback=fallback, on_error=told.append)
    keeper.record(make_pass())
    assert len(history(keeper)) == 1
    if other is not None:
        other.close()
    keeper.close()
    assert keeper.join()
    assert len(told) == 1
    assert told[0].count("\n") == 0
    if what == "folder":
        (aside,) = folder.glob("practice damaged *")
        assert (aside / "kept.txt").read_text() == "mine"
    if what == "newer":
        with closing(sqlite3.connect(path)) as db:
            assert db.execute("SELECT count(*) FROM passes").fetchone() == (0,)
    elif what != "no folder":
        with Logbook(path, fallback) as book:  # at home, or come home
            assert len(book.history()) == 1


def test_what_cannot_be_read_is_told_and_the_next_is_answered(keeper, told):
    failed, found = [], []

    def broken(book):
        return book.db.execute("SELECT nothing FROM nowhere")

    keeper.record(make_pass())
    keeper.ask(broken, found.append, lambda: failed.append(1))
    assert keeper.settle()
    assert failed == [1]
    assert len(history(keeper)) == 1


def test_nothing_is_answered_after_the_end(tmp_path):
    keeper = Keeper(tmp_path / "practice.sqlite", fallback=tmp_path / "spare.sqlite")
    keeper.settle()
    found = []
    keeper.record(make_pass())
    keeper.ask(lambda book: time.sleep(0.2), found.append)
    keeper.ask(lambda book: book.history(), found.append)
    keeper.close()
    assert keeper.join()
    assert found == []
    with Logbook(tmp_path / "practice.sqlite", tmp_path / "spare.sqlite") as book:
        assert len(book.history()) == 1


def test_the_next_logbook_of_a_folder_waits_for_the_one_before(tmp_path):
    path, fallback = tmp_path / "practice.sqlite", tmp_path / "spare.sqlite"
    first = Keeper(path, fallback=fallback)
    first.settle()
    first.ask(lambda book: time.sleep(0.3), lambda _f: None)
    first.record(make_pass())
    first.close()
    second = Keeper(path, fallback=fallback, after=[first])
    assert len(history(second)) == 1
    second.close()
    assert second.join()


def test_passes_of_one_stick_do_not_come_home_into_another(tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_data_path", lambda _name: tmp_path / "machine")
    stick = tmp_path / "stick" / "practice.sqlite"

    def practise(identity, *, can_write):
        if can_write:
            stick.parent.mkdir(parents=True, exist_ok=True)
        with Logbook(stick, identity=identity) as book:
            book.record(make_pass(id=f"{identity} {can_write}"))
            return {p.id for p in book.history()}

    def swap(name):
        """The stick in this place is another one, called `name`."""
        if stick.parent.exists():
            stick.parent.rename(tmp_path / "drawer")
        if (tmp_path / name).exists():
            (tmp_path / name).rename(stick.parent)

    practise("alpha", can_write=False)
    assert practise("beta", can_write=True) == {"beta True"}
    swap("nothing")
    assert practise("alpha", can_write=True) == {"alpha False", "alpha True"}


def killed_while_recording(path, seed, delay):
    command = [sys.executable, "-m", "tests.practice.keeping", str(path), str(seed)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, cwd=ROOT, env={"PYTHONPATH": str(ROOT)}
    ) as process:
        assert process.stdout.readline() == "open\n"
        time.sleep(delay)
        process.send_signal(signal.SIGKILL)
        return [line.split() for line in process.stdout.read().splitlines()]


def test_a_kill_in_mid_pass_loses_none_that_was_reported(tmp_path):
    path, draw = tmp_path / "practice.sqlite", random.Random(12)
    kept, began = set(), set()
    for number in range(12):
        for word, name, *_ in killed_while_recording(path, number, draw.uniform(0.0, 0.15)):
            (kept if word == "kept" else began).add(name)
    with Logbook(path, tmp_path / "spare.sqlite") as book:
        ids = [p.id for p in book.history()]
        assert book.notice == ""
    assert kept
    assert len(ids) == len(set(ids))
    assert kept <= set(ids) <= began
