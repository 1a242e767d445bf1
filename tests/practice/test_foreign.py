"""A logbook of a stranger's making is never run, and nothing is written outside its folder."""

import os
import shutil
import sqlite3
import stat
import time
from contextlib import closing
from datetime import timedelta

import pytest

from rehearse.files.user_error import UserError
from rehearse.practice import checking, schema
from rehearse.practice.database import Unwritable, open_database
from rehearse.practice.history import calendar
from rehearse.practice.logbook import FILE_NAME, Logbook

from . import corrupt
from .made import MONDAY, make_pass
from .through import look_through, make_folder


@pytest.fixture
def folder(tmp_path):
    return make_folder(tmp_path / "routine", days=2)


@pytest.fixture
def path(folder):
    return folder / FILE_NAME


def change(path, script):
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.executescript(script)


ENDLESS = "WITH RECURSIVE r(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM r) SELECT"


def test_what_the_program_writes_is_its_own(path, tmp_path):
    with closing(sqlite3.connect(path)) as db:
        assert checking.is_ours(db)
        assert checking.bad_table(db) == ""
        tables = {r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert tables == set(checking.COLUMNS)
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        schema.migrate(db)
        for table, columns in checking.COLUMNS.items():
            there = [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
            assert sorted(there) == sorted(columns)


@pytest.mark.parametrize(
    "script",
    [
        "CREATE TRIGGER t AFTER INSERT ON passes BEGIN DELETE FROM passes; END",
        f"CREATE TRIGGER t AFTER INSERT ON plans BEGIN INSERT INTO taken (pose) {ENDLESS} x FROM r;"
        " END",
        f"DROP TABLE tally; CREATE VIEW tally AS {ENDLESS} 'pose' AS kind, x AS item FROM r",
        f"CREATE VIEW more AS {ENDLESS} x FROM r",
        "CREATE INDEX slow ON passes (hex(zeroblob(length(id))))",
        "ALTER TABLE passes ADD COLUMN more TEXT AS (hex(zeroblob(100000000)))",
    ],
)
def test_triggers_views_and_columns_of_a_stranger_are_not_taken_over(path, script):
    change(path, script)
    began = time.monotonic()
    with Logbook(path) as book:
        assert "not made by this program" in book.notice
        assert "80 passes could be read" in book.notice
        book.record(make_pass(MONDAY))
        assert len(book.history()) == 81
        assert checking.is_ours(book.db)
    assert time.monotonic() - began < 5
    with Logbook(path) as book:
        assert book.notice == ""


@pytest.mark.parametrize(
    "table", ["passes", "taken", "plans", "sessions", "rounds", "calls", "takes"]
)
def test_a_view_in_place_of_a_table_is_not_read(path, table):
    change(path, f"DROP TABLE {table}; CREATE VIEW {table} AS {ENDLESS} x AS n, x AS id FROM r")
    began = time.monotonic()
    with Logbook(path) as book:
        assert len(book.history()) == (0 if table == "passes" else 80)
    assert time.monotonic() - began < 5


def test_rows_are_put_right_where_that_is_certain_and_left_out_where_not(path):
    change(
        path,
        "PRAGMA ignore_check_constraints = ON;"
        "UPDATE passes SET cueing = 'everything' WHERE n = 1;"
        "UPDATE passes SET section_name = printf('%.9000c', 'x') WHERE n = 2;"
        "UPDATE passes SET day = '2026-13-45' WHERE n = 3;"
        "UPDATE passes SET tempo = 1e300 WHERE n = 4;"
        "UPDATE passes SET zone = 99999 WHERE n = 5;",
    )
    with Logbook(path) as book:
        assert "78 passes could be read" in book.notice
        history = {p.id: p for p in book.history()}
    assert "00000002" not in history
    assert "00000003" not in history
    assert history["00000000"].cueing == "all"
    assert len(history["00000001"].section_name) == checking.NAME
    assert history["00000004"].started.utcoffset().total_seconds() == 0


def test_a_day_that_no_month_has_is_found_when_the_file_is_opened(path):
    """By itself SQLite takes the 31st of any month for a date; the calendar cannot show it."""
    change(path, "UPDATE passes SET day = '2026-11-31' WHERE n = 3")
    with Logbook(path) as book:
        assert "79 passes could be read" in book.notice
        assert calendar(book, MONDAY.date() - timedelta(days=9), MONDAY.date())


@pytest.mark.parametrize("ending", ["-wal", "-shm", "-journal"])
@pytest.mark.parametrize("kind", ["link", "fifo", "folder"])
def test_nothing_beside_it_is_written_through(tmp_path, path, ending, kind):
    outside, beside = tmp_path / "outside", path.with_name(FILE_NAME + ending)
    outside.write_text("untouched")
    beside.unlink(missing_ok=True)
    if kind == "link":
        beside.symlink_to(outside)
    elif kind == "fifo":
        os.mkfifo(beside)
    else:
        beside.mkdir()
    with Logbook(path) as book:
        book.record(make_pass())
        assert len(book.history()) == 81
    assert outside.read_text() == "untouched"
    assert stat.S_ISREG(beside.lstat().st_mode) if beside.exists() else True


def test_a_journal_that_names_another_file_does_not_delete_it(tmp_path, path):
    # SQLite, "Database File Format", 3: a journal may end in the name of a super-journal, which is
    # read and deleted when the journal is played back.
    victim = tmp_path / "victim"
    victim.write_bytes(b"mine")
    name = str(victim).encode()
    magic = bytes.fromhex("d9d505f920a163d7")
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = DELETE")
    header = magic + (0).to_bytes(4) + (0).to_bytes(4) + (1).to_bytes(4)
    header += (512).to_bytes(4) + (4096).to_bytes(4)
    tail = (len(name)).to_bytes(4) + sum(name).to_bytes(4) + magic
    page = (4096 // 4096 + 2**18).to_bytes(4)
    raw = header.ljust(512, b"\0") + page + name + tail
    path.with_name(f"{FILE_NAME}-journal").write_bytes(raw)
    with Logbook(path) as book:
        assert len(book.history()) == 80
    assert victim.read_bytes() == b"mine"
    assert list(path.parent.glob("* damaged *-journal"))


def test_a_link_out_of_the_folder_is_refused_and_nothing_written(tmp_path, path):
    elsewhere = tmp_path / "elsewhere.sqlite"
    shutil.move(path, elsewhere)
    before = elsewhere.read_bytes()
    path.symlink_to(elsewhere)
    with pytest.raises(UserError, match="leads out of the routine's folder"):
        open_database(path)
    with Logbook(path, tmp_path / "spare.sqlite", insist=True) as book:
        book.record(make_pass())
        assert book.is_away
    assert elsewhere.read_bytes() == before
    assert path.is_symlink()


def test_a_log_that_is_too_large_is_set_aside_unread(path, monkeypatch):
    monkeypatch.setattr("rehearse.practice.database.LARGEST", 1000)
    with Logbook(path) as book:
        assert "too large" in book.notice
        assert book.history() == ()


@pytest.mark.parametrize(("version", "newer"), [(1, True), (994, True), (995, False)])
def test_a_version_far_above_all_that_will_be_is_damage(tmp_path, version, newer):
    """Counted from the version of now; 1000 and more are taken for noise in the header."""
    path = tmp_path / FILE_NAME
    Logbook(path).close()
    change(path, f"PRAGMA user_version = {schema.VERSION + version}")
    if newer:
        with pytest.raises(UserError, match="newer version"):
            open_database(path)
        return
    opened = open_database(path)
    opened.db.close()
    assert "not made by this program" in opened.notice


@pytest.mark.parametrize("cut", [99, 100])
def test_a_file_shorter_than_its_header_is_damaged(path, cut):
    """SQLite's header has 100 bytes (file format, 1.3); alone it holds nothing."""
    path.write_bytes(path.read_bytes()[:cut])
    with Logbook(path) as book:
        assert "damaged" in book.notice
        assert book.history() == ()
        book.record(make_pass())
    assert len(list(path.parent.glob("* damaged *.sqlite"))) == 1


def test_an_empty_file_is_a_new_logbook(tmp_path):
    (tmp_path / FILE_NAME).touch()
    with Logbook(tmp_path / FILE_NAME) as book:
        assert book.notice == ""
        book.record(make_pass())


@pytest.mark.parametrize("size", [512, 65536])
def test_a_file_cut_off_is_read_to_where_it_ends_whatever_its_pages(tmp_path, size):
    """Its header tells the pages' size in two bytes, where 1 stands for 65536 (file format, 1.3.2).

    SQLite reads nothing from a file that is shorter than its header says.
    """
    path, passes = tmp_path / FILE_NAME, [make_pass(id=f"{k:04}") for k in range(40)]
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute(f"PRAGMA page_size = {size}")
        schema.migrate(db)
    with Logbook(path, tmp_path / "spare.sqlite") as book:
        book.record_all(passes)
        assert book.db.execute("PRAGMA page_size").fetchone() == (size,)
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) - size * 3 // 2])
    with Logbook(path, tmp_path / "spare.sqlite") as book:
        assert "damaged" in book.notice
        assert {p.id for p in book.history()} <= {p.id for p in passes}
        assert len(book.history()) > 30


def test_a_journal_without_such_a_name_stays_where_it_is(path):
    """A journal beside the file that names no other one is SQLite's own to play back."""
    journal = path.with_name(f"{FILE_NAME}-journal")
    for content in (b"", b"12345678", bytes(600)):
        journal.write_bytes(content)
        with Logbook(path) as book:
            assert (book.notice, len(book.history())) == ("", 80)
        assert not list(path.parent.glob("* damaged *"))


def test_no_words_of_the_database_reach_anyone(path, tmp_path, monkeypatch):
    def refuse(*_args, **_more):
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorcode = sqlite3.SQLITE_IOERR
        raise error

    with monkeypatch.context() as broken:
        broken.setattr("rehearse.practice.database._connect", refuse)
        with pytest.raises(Unwritable) as caught:
            open_database(path)
    assert "I/O" not in caught.value.sentence
    with Logbook(path, tmp_path / "spare.sqlite") as book:
        assert len(book.history()) == 80


def test_random_corruption_gives_a_logbook_that_works():
    """A fast sample; `python -m tests.practice.corrupt 2000 1` runs as many as wished."""
    counts = corrupt.run(60, 5)
    assert sum(counts.values()) == 60
    assert {came for _, came in counts} <= {"clean", "mended", "fault"}
    assert sum(n for (_, came), n in counts.items() if came == "mended") > 20


def test_looking_through_a_whole_one_finds_all_of_it(folder):
    notice, passes = look_through(folder)
    assert notice == ""
    assert len(passes) == 80
