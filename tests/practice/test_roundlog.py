"""Rounds in the logbook: kept with each call, over damage, older files and folders shut."""

import csv
import io
import sqlite3
from dataclasses import replace
from datetime import timedelta

import pytest

from rehearse.practice.export import call_rows, calls_to_csv
from rehearse.practice.history import calendar
from rehearse.practice.logbook import Logbook
from rehearse.practice.roundlog import CallDone, RoundDone

from .made import MONDAY, make_pass


def make_calls(at=MONDAY, number=3, hold=10.0):
    names = ("front double biceps", "side chest left", "back double biceps")
    return tuple(
        CallDone(
            names[k % 3], names[k % 3].removesuffix(" left"), 1, at + timedelta(seconds=17 * k),
            1.4, hold, hold, ("clean", None, "missed")[k % 3], 4.0 if k % 3 == 2 else None,
        )
        for k in range(number)
    )  # fmt: skip


def make_round(at=MONDAY, **changes):
    calls = changes.pop("calls", make_calls(at))
    ended = at + timedelta(seconds=17 * len(calls))
    values = {
        "kind": "mandatories", "rules": "nga-amateur", "seed": 7, "hold": 10.0, "longest": 10.0,
        "callouts": 1, "started": at, "ended": ended, "complete": True, "calls": calls,
    }  # fmt: skip
    return RoundDone(**(values | changes))


@pytest.fixture
def path(tmp_path):
    return tmp_path / "practice.sqlite"


def test_a_round_is_kept_with_each_call_and_read_as_it_was(path):
    whole = make_round()
    begun = replace(whole, calls=whole.calls[:1], complete=False, ended=whole.calls[1].called)
    with Logbook(path) as book:
        book.keep_round(begun)
        assert book.rounds() == (begun,)
        book.keep_round(whole)
    with Logbook(path) as book:
        assert book.notice == ""
        assert book.rounds() == (whole,)


def test_time_under_tension_ends_where_a_hold_was_lost():
    assert make_round().tension == 10.0 + 10.0 + 4.0
    assert not make_round().is_clean


def test_a_row_of_the_table_says_all_of_a_call():
    done = make_round(dry_run=True)
    assert call_rows([done])[2] == (
        "2026-11-02", "18:00:34", "mandatory poses", "1", "back double biceps",
        "back double biceps", "10.0", "10.0", "missed", "4.0", "dry run",
    )  # fmt: skip
    lines = list(csv.DictReader(io.StringIO(calls_to_csv([done, make_round()]))))
    assert len(lines) == 6
    first = lines[0]
    assert (first["lost at"], first["called at"]) == ("", MONDAY.isoformat())
    assert (first["round id"], first["seed"]) == (done.id, "7")


def test_a_hold_lost_after_its_end_is_no_longer_than_it_was_held():
    call = replace(make_calls()[2], hold=3.0)
    assert call.tension == 3.0


def test_rounds_are_found_by_day_and_count_in_the_days_minutes(path):
    later = make_round(MONDAY + timedelta(days=2))
    with Logbook(path) as book:
        book.record(make_pass())
        book.keep_round(make_round(MONDAY + timedelta(minutes=5)))
        book.keep_round(later)
        day = later.started.date()
        assert book.rounds(since=day) == (later,)
        assert len(book.rounds(until=MONDAY.date())) == 1
        days = calendar(book, MONDAY.date(), day)
    assert [d.passes for d in days] == [1, 0]
    assert days[0].minutes == pytest.approx(5 + 51 / 60)


def test_a_logbook_without_rounds_is_brought_up_with_its_history(path):
    done = make_pass(verdict="clean")
    with Logbook(path) as book:
        book.record(done)
    with sqlite3.connect(path) as db:
        for table in ("offsets", "takes", "calls", "rounds"):
            db.execute(f"DROP TABLE {table}")
        db.execute("PRAGMA user_version = 3")
    db.close()
    with Logbook(path) as book:
        assert book.history() == (done,)
        book.keep_round(make_round())
        assert len(book.rounds()) == 1
    assert len(list((path.parent / "versions").iterdir())) == 1


def test_rounds_come_out_of_a_damaged_file(path):
    with Logbook(path) as book:
        for k in range(40):
            book.keep_round(make_round(MONDAY + timedelta(minutes=k)))
    with sqlite3.connect(path) as db:
        db.execute("UPDATE calls SET hold = 1e300 WHERE place = 2 AND round = 3")
        db.execute("UPDATE rounds SET day = 'no day' WHERE n = 5")
    db.close()
    with Logbook(path) as book:
        assert "damaged" in book.notice
        found = book.rounds()
    assert len(found) == 39  # the one whose day is lost is left out, its calls with it
    assert sum(len(one.calls) for one in found) == 39 * 3
    assert found[2].calls[1].hold == 0.0


def test_rounds_wait_on_this_machine_while_the_folder_is_held(path, tmp_path):
    fallback = tmp_path / "machine" / "spare.sqlite"
    Logbook(path, fallback).close()
    held = sqlite3.connect(path, isolation_level=None)
    held.execute("BEGIN EXCLUSIVE")
    done = make_round()
    with Logbook(path, fallback) as book:
        assert book.is_away
        book.keep_round(done)
        assert book.rounds() == (done,)
        held.execute("ROLLBACK")
        held.close()
        assert book.retry()
        assert book.rounds() == (done,)
    assert not fallback.exists()
