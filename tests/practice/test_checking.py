"""What may stand in a logbook, and what each refusal of the database means; no file is opened."""

import sqlite3
from contextlib import closing, suppress
from datetime import datetime

import pytest

from rehearse.practice import checking, schema
from rehearse.practice.database import Unwritable, is_damage, user_error_of

from . import corrupt


@pytest.mark.parametrize(
    ("script", "ours"),
    [
        ("SELECT 1", True), ("CREATE TRIGGER t AFTER INSERT ON passes BEGIN SELECT 1; END", False),
        ("CREATE VIEW more AS SELECT 1", False), ("DROP INDEX passes_by_time", False),
        ("DROP TABLE tally", False), ("CREATE TABLE more (x)", False),
        ("PRAGMA user_version = 99", False), ("PRAGMA user_version = -1", False),
        ("PRAGMA user_version = 1", False),
    ],
)  # fmt: skip
def test_a_file_is_ours_with_exactly_the_tables_of_its_version(script, ours):
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        schema.migrate(db)
        db.executescript(script)
        assert checking.is_ours(db) is ours


INFINITE = float("inf")
#: Table, column, a value, and what may stand there instead; LOST: the row is left out.
VALUES = [
    ("passes", "id", "", checking.LOST), ("passes", "id", "x", "x"),
    ("passes", "id", 7, checking.LOST),
    ("passes", "id", "x" * 101, "x" * 100), ("passes", "section_name", "x" * 2001, "x" * 2000),
    ("passes", "section", None, None), ("passes", "section_name", None, checking.LOST),
    ("passes", "kind", "run", "run"), ("passes", "kind", "dance", "drill"),
    ("passes", "verdict", None, None), ("passes", "verdict", "perfect", None),
    ("passes", "day", "2028-02-29", "2028-02-29"), ("passes", "day", "2027-02-29", checking.LOST),
    ("passes", "day", "2027-2-3", checking.LOST), ("passes", "day", "20270203", checking.LOST),
    ("passes", "day", 20270203, checking.LOST), ("passes", "day", None, checking.LOST),
    # Python's zones lie less than a day from UTC; the widest in use is 14 hours east.
    ("passes", "zone", 840, 840), ("passes", "zone", 1439, 1439), ("passes", "zone", -1439, -1439),
    ("passes", "zone", 1440, 0), ("passes", "zone", -1440, 0),
    ("passes", "tempo", 0.4, 0.4), ("passes", "tempo", 0.0, checking.LOST),
    ("passes", "tempo", 11.0, checking.LOST), ("passes", "tempo", float("nan"), checking.LOST),
    ("passes", "tempo", INFINITE, checking.LOST), ("passes", "tempo", "fast", checking.LOST),
    ("passes", "complete", 1, 1), ("passes", "complete", 2, 0), ("passes", "complete", -1, 0),
    ("passes", "reached", None, None), ("passes", "reached", -0.5, -0.5),
    ("passes", "reached", 1e300, None), ("passes", "start", 1e300, checking.LOST),
    ("passes", "n", 0, checking.LOST), ("passes", "n", 1, 1),
    ("taken", "place", 0, 0), ("taken", "judged", 0.25, 0.25), ("taken", "judged", 1.5, 0.0),
    ("plans", "minutes", 0, 0), ("plans", "minutes", -1, checking.LOST),
    ("rounds", "hold", -1.0, 0.0), ("rounds", "seed", 0, 0), ("rounds", "callouts", -1, 1),
    ("calls", "place", 0, checking.LOST), ("calls", "place", 1, 1),
    ("calls", "callout", INFINITE, 1), ("calls", "lost_at", -1.0, None),
    ("calls", "lost_at", 0.0, 0.0), ("offsets", "place", 0, checking.LOST),
    ("offsets", "said", "odd", "unread"), ("takes", "id", "x", "x"),
    ("takes", "id", "", checking.LOST),
    ("sessions", "stopped", "unwell", "unwell"), ("sessions", "stopped", "bored", ""),
]  # fmt: skip


@pytest.mark.parametrize(("table", "column", "value", "stands"), VALUES)
def test_a_value_stands_where_it_can_be_and_is_put_right_or_its_row_left_out(
    table, column, value, stands
):
    row = checking.mended(table, {column: value})
    assert row == (None if stands is checking.LOST else {column: stands})


@pytest.mark.parametrize("table", checking.COLUMNS)
def test_the_look_at_a_file_and_the_mending_of_its_rows_agree(table):
    """Of the odd values that a column of its type can hold, those that SQLite finds good stay."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        schema.migrate(db)
        types = {row[1]: row[2] for row in db.execute(f"PRAGMA table_info({table})")}
        for name, column in checking.COLUMNS[table].items():
            db.execute(f"CREATE TABLE one (c {types[name]}) STRICT")
            for value in [*corrupt.ODD, *(value for _t, _c, value, _s in VALUES)]:
                with suppress(sqlite3.IntegrityError):  # of another type
                    db.execute("INSERT INTO one VALUES (?)", (value,))
            good = f"({checking._condition('c', column)}) IS TRUE"
            for value, is_good in db.execute(f"SELECT c, {good} FROM one").fetchall():
                row = checking.mended(table, {name: value})
                assert (row == {name: value}) == is_good, (name, value)
                if row is not None:
                    db.execute("DELETE FROM one")
                    db.execute("INSERT INTO one VALUES (?)", (row[name],))
                    assert db.execute(f"SELECT {good} FROM one").fetchone() == (1,), (name, value)
            db.execute("DROP TABLE one")


def test_the_moments_of_a_pass_can_be_dates_wherever_the_program_runs():
    """Seconds since 1970; the year 3000 is the last that every system can show."""
    for value, stands in ((0.0, False), (86_400.0, True), (32_503_593_600.0, True), (4e10, False)):
        assert (checking.mended("passes", {"started": value}) is not None) is stands
        if stands:
            assert datetime.fromtimestamp(value).astimezone().year in (1970, 2999, 3000)


@pytest.mark.parametrize(
    ("name", "damage", "told"),
    [
        ("FULL", False, "the disk is full"), ("READONLY", False, "cannot be written here"),
        ("CANTOPEN", False, "cannot be written here"), ("PERM", False, "cannot be written here"),
        ("BUSY", False, "another program holds"), ("LOCKED", False, "another program holds"),
        ("IOERR", False, "cannot be used now"), ("NOMEM", False, "cannot be used now"),
        ("CORRUPT", True, "is damaged"), ("NOTADB", True, "is damaged"),
        ("SCHEMA", True, "is damaged"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("extended", [0, 5 << 8])
def test_each_refusal_has_its_sentence_and_only_a_broken_file_is_called_damaged(
    tmp_path, name, damage, told, extended
):
    """The low byte of a code tells its kind, the others which of it (SQLite, "Result Codes")."""
    error = sqlite3.OperationalError("words of the library")
    error.sqlite_errorcode = getattr(sqlite3, f"SQLITE_{name}") | extended
    assert is_damage(error) is damage
    said = user_error_of(error, tmp_path / "practice.sqlite")
    assert told in said.sentence
    assert isinstance(said, Unwritable) is not damage


@pytest.mark.parametrize(
    ("error", "damage"),
    [
        (UnicodeDecodeError("utf-8", b"\xff", 0, 1, ""), True), (ValueError(), True),
        (OverflowError(), True), (TypeError(), False), (sqlite3.ProgrammingError(), False),
        (sqlite3.OperationalError(), True),
    ],
)  # fmt: skip
def test_what_python_refuses_to_read_is_damage_and_a_fault_of_ours_is_none(error, damage):
    assert is_damage(error) is damage
