"""The logbook keeps every finished pass exactly once, whatever happens to the file."""

import re
import shutil
import sqlite3
import struct
from dataclasses import replace
from datetime import timedelta, timezone

import pytest

from rehearse.files.user_error import UserError
from rehearse.practice import schema
from rehearse.practice.database import open_for_reading
from rehearse.practice.export import HEADINGS, format_table, table_rows, to_csv
from rehearse.practice.fallback_log import fallback_path
from rehearse.practice.logbook import Logbook
from rehearse.practice.passes import PoseTaken

from .made import MONDAY, make_pass


def count(book, table="passes"):
    return book.db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]


def test_a_pass_comes_back_as_it_went_in(book):
    zone = timezone(timedelta(hours=5, minutes=45))
    done = make_pass(
        MONDAY.astimezone(zone), tempo=0.65, cueing="names", effort="marked", complete=False,
        reached=5.5, verdict="missed", broke_at=4.5, transition="b", transition_name="a → b",
    )  # fmt: skip
    book.record(done)
    assert book.history() == (done,)
    assert book.history()[0].started.utcoffset() == timedelta(hours=5, minutes=45)
    assert book.get(done.id) == done


def test_recording_twice_keeps_one(book):
    done = make_pass()
    book.record(done)
    book.record(done)
    assert count(book) == 1
    assert book.db.execute("SELECT sum(passes) FROM tally WHERE kind='section'").fetchone() == (1,)


def test_a_committed_pass_is_seen_by_another_reader_at_once(book):
    done = make_pass()
    book.record(done)
    other = open_for_reading(book.path)
    assert other.execute("SELECT id FROM passes").fetchall() == [(done.id,)]
    other.close()


def test_each_commit_is_synced_to_the_disk(book):
    # SQLite, "PRAGMA synchronous": in WAL mode only FULL (2) syncs the log at each commit.
    assert book.db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert book.db.execute("PRAGMA synchronous").fetchone() == (2,)


def test_judging_later_changes_the_verdict_and_the_counts(book):
    done = make_pass()
    book.record(done)
    book.judge(done.id, "clean")
    assert book.get(done.id).verdict == "clean"
    book.judge(done.id, "missed", broke_at=5.0)
    rows = book.db.execute("SELECT item, judged, clean FROM tally WHERE kind='pose' ORDER BY 1")
    assert rows.fetchall() == [("a", 1.0, 1.0), ("b", 1.0, 0.0)]
    book.judge(done.id, None)
    assert book.get(done.id) == done
    with pytest.raises(KeyError):
        book.judge("nothing", "clean")


def test_dry_runs_are_listed_but_never_counted(book):
    book.record(make_pass(dry_run=True, verdict="clean"))
    assert count(book) == 1
    assert count(book, "tally") == 0
    assert book.history(dry_runs=False) == ()
    assert table_rows(book.history())[0][-1] == "dry run"


def test_passes_half_an_hour_apart_are_two_sessions(book):
    book.record(make_pass(MONDAY))
    book.record(make_pass(MONDAY + timedelta(minutes=20)))
    assert count(book, "sessions") == 1
    book.record(make_pass(MONDAY + timedelta(minutes=51)))
    assert count(book, "sessions") == 2
    book.begin_session(MONDAY + timedelta(minutes=55))
    book.record(make_pass(MONDAY + timedelta(minutes=56)))
    assert count(book, "sessions") == 3
    book.end_session(MONDAY + timedelta(minutes=60), unwell=True)
    last = book.db.execute("SELECT ended, stopped FROM sessions ORDER BY n DESC").fetchone()
    assert last == ((MONDAY + timedelta(minutes=60)).timestamp(), "unwell")


def test_a_stop_before_the_first_pass_leaves_older_sessions_alone(book):
    book.record(make_pass())
    book.end_session(MONDAY + timedelta(days=3), unwell=True)
    rows = book.db.execute("SELECT ended - started, stopped FROM sessions ORDER BY n").fetchall()
    assert rows == [(8.0, ""), (0.0, "unwell")]


def test_naive_times_are_refused():
    with pytest.raises(ValueError, match="aware"):
        make_pass(started=MONDAY.replace(tzinfo=None))


def test_a_newer_logbook_is_refused_untouched(tmp_path):
    path = tmp_path / "practice.sqlite"
    with Logbook(path) as book:
        book.record(make_pass())
    raw = bytearray(path.read_bytes())
    # SQLite file format, 1.3: the user version is the big-endian integer at offset 60.
    assert struct.unpack(">I", raw[60:64])[0] == schema.VERSION
    raw[60:64] = struct.pack(">I", schema.VERSION + 1)
    path.write_bytes(raw)
    with pytest.raises(UserError, match="newer version"):
        Logbook(path)
    with pytest.raises(UserError, match="newer version"):
        open_for_reading(path)
    assert path.read_bytes() == bytes(raw)
    assert [p.name for p in tmp_path.iterdir() if "damaged" in p.name] == []


def age(path, version):
    """Take out of a logbook what later versions brought."""
    with sqlite3.connect(path) as db:
        newer = ("offsets", "takes") + (("calls", "rounds") if version < 4 else ())
        for table in newer:
            db.execute(f"DROP TABLE {table}")
        if version < 3:
            db.execute("DROP INDEX passes_by_plan")
            db.execute("DROP TABLE plans")
            for column in ("plan", "line"):
                db.execute(f"ALTER TABLE passes DROP COLUMN {column}")
        if version < 2:
            db.execute("DROP TABLE tally")
        db.execute(f"PRAGMA user_version = {version}")
    db.close()


@pytest.mark.parametrize("version", [1, 2, 3, 4])
def test_an_older_logbook_is_brought_up_and_its_old_self_kept(tmp_path, version):
    path = tmp_path / "practice.sqlite"
    done = make_pass(verdict="clean")
    with Logbook(path) as book:
        book.record(done)
    age(path, version)
    with Logbook(path) as book:
        assert book.history() == (done,)
        assert count(book, "tally") == 5  # two poses, the ways into them, one section
        assert book.db.execute("PRAGMA user_version").fetchone() == (schema.VERSION,)
    (kept,) = (tmp_path / "versions").iterdir()
    with sqlite3.connect(kept) as copy:
        assert copy.execute("SELECT id FROM passes").fetchall() == [(done.id,)]
    copy.close()


@pytest.mark.parametrize("damage", ["text", "page", "short"])
def test_a_damaged_logbook_is_set_aside_and_what_can_be_read_is_kept(tmp_path, damage):
    path = tmp_path / "practice.sqlite"
    passes = [make_pass(MONDAY + timedelta(minutes=i)) for i in range(400)]
    with Logbook(path) as book:
        book.record_all(passes)
    raw = bytearray(path.read_bytes())
    if damage == "text":
        raw = bytearray(b"this was a logbook")
    elif damage == "page":
        middle = len(raw) // 2 // 4096 * 4096
        raw[middle : middle + 3 * 4096] = b"\xa5" * (3 * 4096)
    else:
        raw = raw[: len(raw) // 2]
    path.write_bytes(raw)
    with Logbook(path) as book:
        assert "damaged" in book.notice
        assert book.notice.count("\n") == 0
        saved = book.history()
        book.record(make_pass(MONDAY + timedelta(days=1)))
    assert {p.id for p in saved} <= {p.id for p in passes}
    assert len(saved) >= (0 if damage == "text" else 100)
    (aside,) = tmp_path.glob("* damaged *.sqlite")
    assert aside.read_bytes() == bytes(raw)
    with Logbook(path) as book:
        assert book.notice == ""
        assert len(book.history()) == len(saved) + 1


def test_an_older_damaged_logbook_is_read_too(tmp_path):
    path = tmp_path / "practice.sqlite"
    passes = [make_pass(MONDAY + timedelta(minutes=i)) for i in range(400)]
    with Logbook(path) as book:
        book.record_all(passes)
    age(path, 2)
    raw = bytearray(path.read_bytes())
    middle = len(raw) // 2 // 4096 * 4096
    raw[middle : middle + 3 * 4096] = b"\xa5" * (3 * 4096)
    path.write_bytes(raw)
    with Logbook(path) as book:
        assert "damaged" in book.notice
        assert len(book.history()) >= 100


@pytest.mark.parametrize("where", ["waits in memory", "is kept on this machine meanwhile"])
def test_a_pass_that_cannot_be_written_waits_and_goes_with_the_next(tmp_path, where):
    fallback = tmp_path / "machine" / "spare.sqlite"
    if "memory" in where:
        fallback.parent.touch()  # nothing can be kept there either
    with Logbook(tmp_path / "practice.sqlite", fallback) as book:
        book.db.execute("PRAGMA query_only = ON")
        first, second = make_pass(), make_pass(MONDAY + timedelta(minutes=1))
        with pytest.raises(UserError, match=f"1 pass {where}"):
            book.record(first)
        with pytest.raises(UserError, match=where):
            book.judge(first.id, "missed")
        book.db.execute("PRAGMA query_only = OFF")
        book.record(second)
        assert [p.id for p in book.history()] == [first.id, second.id]
        assert book.history()[0].verdict == "missed"
        assert not fallback.exists()


def test_what_could_not_be_written_survives_a_kill_and_goes_home(tmp_path):
    path, fallback = tmp_path / "practice.sqlite", tmp_path / "machine" / "spare.sqlite"
    killed = Logbook(path, fallback)
    killed.db.execute("PRAGMA query_only = ON")
    done = make_pass()
    with pytest.raises(UserError, match="kept on this machine"):
        killed.record(done)
    with pytest.raises(UserError, match="kept on this machine"):
        killed.judge(done.id, "missed", broke_at=3.0)
    killed.db.close()  # and nothing more is written
    with Logbook(path, fallback) as book:
        (home,) = book.history()
    assert (home.id, home.verdict, home.broke_at) == (done.id, "missed", 3.0)
    assert not fallback.exists()


def test_a_folder_removed_while_it_is_open_loses_nothing(tmp_path):
    folder, fallback = tmp_path / "routine", tmp_path / "machine" / "spare.sqlite"
    folder.mkdir()
    book = Logbook(folder / "practice.sqlite", fallback)
    first, second = make_pass(), make_pass(MONDAY + timedelta(minutes=1))
    book.record(first)
    shutil.rmtree(folder)
    with pytest.raises(UserError, match="folder is gone – bring it back"):
        book.record(second)
    with pytest.raises(UserError, match="folder is gone"):
        book.judge(second.id, "clean")
    book.db.close()
    folder.mkdir()
    with Logbook(folder / "practice.sqlite", fallback) as again:
        assert [(p.id, p.verdict) for p in again.history()] == [
            (first.id, None),
            (second.id, "clean"),
        ]


def fill(book):
    for i in range(2000):
        book.record(make_pass(MONDAY + timedelta(minutes=i)))


def test_a_full_disk_is_one_sentence(book):
    (pages,) = book.db.execute("PRAGMA page_count").fetchone()
    book.db.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(UserError, match="the disk is full") as caught:
        fill(book)
    assert "\n" not in caught.value.sentence
    book.db.execute("PRAGMA max_page_count = 100000")
    total = count(book)
    book.record(make_pass(MONDAY + timedelta(days=9)))
    assert count(book) == total + 2


def test_reading_where_nothing_was_practised(tmp_path):
    with pytest.raises(UserError, match="nothing has been practised"):
        open_for_reading(tmp_path / "practice.sqlite")
    assert list(tmp_path.iterdir()) == []


def test_csv_is_read_back_by_the_standard_reader(book):
    import csv
    import io

    book.record(make_pass(section_name='Opening, "slow"\npart'))
    rows = list(csv.DictReader(io.StringIO(to_csv(book.history()))))
    assert rows[0]["what"] == 'Opening, "slow"\npart'
    assert rows[0]["started"] == MONDAY.isoformat()
    table = format_table(table_rows(book.history()))
    assert (
        table.split()[: len(HEADINGS) - 2] == " ".join(HEADINGS[:-2]).split()[: len(HEADINGS) - 2]
    )


def test_a_row_of_the_table_says_all_of_a_pass():
    done = make_pass(
        tempo=0.65, cueing="names", effort="marked", complete=False, verdict="missed", broke_at=4.5
    )
    assert table_rows([done, make_pass(dry_run=True)]) == [
        ("2026-11-02", "18:00:00", "Opening", "0.00", "8.00", "65 %", "names on the hit", "marked",
         "8.0", "broken off", "missed", "4.50", ""),
        ("2026-11-02", "18:00:00", "Opening", "0.00", "8.00", "100 %", "all cues", "full out",
         "8.0", "yes", "", "", "dry run"),
    ]  # fmt: skip


def test_columns_stand_two_spaces_apart_and_no_name_writes_over_the_terminal():
    rows = [("a\x1b[2Jb", "x"), ("long name", "yy")]
    assert format_table(rows, ("n", "m")) == (
        "n          m\n"
        "a [2Jb     x\n"
        "long name  yy\n"
    )  # fmt: skip


def test_the_newest_come_first_and_no_more_than_asked_for(book):
    passes = [make_pass(MONDAY + timedelta(minutes=k), dry_run=k == 2) for k in range(4)]
    book.record_all(passes)
    assert book.history() == tuple(passes)
    assert book.history(limit=2) == tuple(passes[:2])
    assert book.history(limit=2, newest_first=True) == (passes[3], passes[2])
    assert book.history(newest_first=True, dry_runs=False) == (passes[3], passes[1], passes[0])
    bare = book.history(taken=False)
    assert [p.id for p in bare] == [p.id for p in passes]
    assert not any(p.taken for p in bare)


def test_half_an_hour_to_the_second_is_still_the_same_session(book):
    book.record(make_pass(MONDAY))
    book.record(make_pass(MONDAY + timedelta(minutes=30, seconds=8)))
    assert count(book, "sessions") == 1
    book.record(make_pass(MONDAY + timedelta(minutes=60, seconds=17)))
    assert count(book, "sessions") == 2
    book.record(make_pass(MONDAY + timedelta(minutes=61), dry_run=True))
    assert count(book, "sessions") == 3  # no practice


@pytest.mark.parametrize(
    ("identity", "name"),
    [("5f0c2a9be1d34c77", "routine 5f0c2a9be1d34c77"), ("", "[0-9a-f]{16}"),
     ("../x", "routine [0-9a-f]{64}"), ("abc", "routine [0-9a-f]{64}")],
)  # fmt: skip
def test_the_stand_in_is_named_after_the_routine_or_its_place_and_never_leads_out(
    tmp_path, identity, name
):
    path = fallback_path(tmp_path / "practice.sqlite", identity)
    assert path.parent.name == "logbooks"
    assert re.fullmatch(f"{name}.sqlite", path.name)
    assert path != fallback_path(tmp_path / "other.sqlite", f"{identity}0" if identity else "")


def test_renamed_and_moved_keep_their_history(book):
    book.record(make_pass(verdict="clean"))
    moved = (PoseTaken("b", "side chest left", 0.0, 4.0, ""),)
    book.record(make_pass(MONDAY + timedelta(days=1), section_name="Entrance", taken=moved))
    names = book.db.execute("SELECT name FROM tally WHERE kind='section' ORDER BY day").fetchall()
    assert names == [("Opening",), ("Entrance",)]
    total = book.db.execute("SELECT sum(passes) FROM tally WHERE kind='pose' AND item='b'")
    assert total.fetchone() == (2,)
    ways = book.db.execute("SELECT item FROM tally WHERE kind='transition' ORDER BY item")
    assert ways.fetchall() == [(">a",), (">b",), ("a>b",)]
    assert replace(book.history()[0], id="") == replace(make_pass(verdict="clean"), id="")


def unwritable(monkeypatch, path):
    """The folder of `path` can be read but not written (root ignores permissions)."""
    import rehearse.practice.database as opening

    real = opening._connect

    def connect(which, patience, *, check):
        if which == path:
            error = sqlite3.OperationalError("attempt to write a readonly database")
            error.sqlite_errorcode = sqlite3.SQLITE_READONLY
            raise error
        return real(which, patience, check=check)

    monkeypatch.setattr(opening, "_connect", connect)


def test_in_a_folder_that_cannot_be_written_passes_are_kept_here_and_come_home(
    tmp_path, monkeypatch
):
    path, fallback = tmp_path / "practice.sqlite", tmp_path / "machine" / "spare.sqlite"
    first, second = make_pass(), make_pass(MONDAY + timedelta(minutes=1), verdict="clean")
    with Logbook(path, fallback) as book:
        book.record(first)
    before = path.read_bytes()
    with monkeypatch.context() as read_only:
        unwritable(read_only, path)
        for more in (second, make_pass(MONDAY + timedelta(minutes=2))):
            with Logbook(path, fallback) as book:
                assert "cannot be written here" in book.notice
                assert book.is_away
                assert first.id in {p.id for p in book.history()}
                book.record(more)
                book.judge(first.id, "missed")
    assert path.read_bytes() == before
    with Logbook(path, fallback) as book:
        assert (book.notice, book.is_away) == ("", False)
        assert [p.verdict for p in book.history()] == ["missed", "clean", None]
        assert book.history()[1] == second
        assert count(book, "sessions") == 1
    assert not fallback.exists()


def test_where_no_file_can_be_made_passes_are_kept_here_too(tmp_path):
    with Logbook(tmp_path / "gone" / "practice.sqlite", tmp_path / "spare.sqlite") as book:
        assert book.is_away
        book.record(make_pass())
        assert count(book) == 1


def test_a_file_that_breaks_while_it_is_open_costs_no_pass(tmp_path):
    path = tmp_path / "practice.sqlite"
    passes = [make_pass(MONDAY + timedelta(minutes=i)) for i in range(300)]
    with Logbook(path) as book:
        book.record_all(passes)
    book = Logbook(path)
    with path.open("r+b") as stream:
        stream.seek(4096)
        stream.write(b"\xa5" * (path.stat().st_size - 4096))
    book.db.execute("PRAGMA shrink_memory")
    late = make_pass(MONDAY + timedelta(days=1))
    book.record(late)
    assert "damaged" in book.notice
    assert late in book.history()
    book.close()
    assert list(tmp_path.glob("* damaged *"))
