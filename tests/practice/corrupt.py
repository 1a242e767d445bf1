"""Random corruption of a real logbook: `python -m tests.practice.corrupt CASES SEED`.

Every case damages one copy by bytes, pages, lengths or values, sometimes in the log beside it, and
looks through it (`through`). Counts what came of it; exit status 1 when anything but a `UserError`
was raised or a case took more than two seconds of work.
"""

import random
import shutil
import sqlite3
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from rehearse.practice.logbook import FILE_NAME
from tests.practice.through import UserError, look_through, make_folder

TOO_LONG = 2.0
ODD = (1e300, -1e300, float("inf"), -(2**63), 2**63 - 1, 0, -1, "", "x", "\ud83d"[:0], "2026-13-45",
       "9999-12-31", b"\xff\xfe", b"\x00" * 9, "ä" * 5000, None, 1e17, "all", 3.5)  # fmt: skip


def by_bytes(path, draw):
    raw = bytearray(path.read_bytes())
    for _ in range(draw.choice((1, 3, 20, 200))):
        raw[draw.randrange(len(raw))] = draw.randrange(256)
    path.write_bytes(raw)


def by_text(path, draw):
    """Bytes that are no UTF-8, or another word, inside of texts."""
    raw = path.read_bytes()
    old = draw.choice((b"drill", b"all", b"full out", b"2026-11", b"Opening", b"front", b"clean",
                       b"CREATE", b"tally", b"passes", b"REAL", b"sessions"))  # fmt: skip
    new = bytes(draw.randrange(256) for _ in old)
    path.write_bytes(raw.replace(old, new, draw.choice((1, 5, -1))))


def by_header(path, draw):
    raw = bytearray(path.read_bytes())
    for _ in range(draw.choice((1, 2, 4))):
        raw[draw.randrange(100)] = draw.randrange(256)
    path.write_bytes(raw)


def by_pages(path, draw):
    raw = bytearray(path.read_bytes())
    pages = max(1, len(raw) // 4096)
    for _ in range(draw.choice((1, 2, 5))):
        one, other = draw.randrange(pages) * 4096, draw.randrange(pages) * 4096
        page = draw.choice((bytes(4096), b"\xff" * 4096, bytes(raw[other : other + 4096])))
        raw[one : one + 4096] = page
    path.write_bytes(raw)


def by_length(path, draw):
    raw = path.read_bytes()
    cut = raw[: draw.randrange(len(raw))]
    path.write_bytes(draw.choice((cut, cut, raw + raw[:5000], raw[100:])))


def by_values(path, draw):
    """Values of any kind in any column, as SQLite itself would write them."""
    db = sqlite3.connect(path, isolation_level=None)
    try:
        db.execute("PRAGMA ignore_check_constraints = ON")
        db.execute("PRAGMA foreign_keys = OFF")
        for _ in range(draw.choice((1, 3, 8))):
            table = draw.choice(
                (
                    "sessions",
                    "passes",
                    "taken",
                    "tally",
                    "plans",
                    "rounds",
                    "calls",
                    "takes",
                    "offsets",
                )
            )
            columns = [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
            where = draw.choice(("", f" WHERE random() % {draw.randrange(1, 50)} = 0"))
            try:
                db.execute(
                    f'UPDATE {table} SET "{draw.choice(columns)}" = ?{where}', (draw.choice(ODD),)
                )
            except (sqlite3.Error, UnicodeError):
                continue
    finally:
        db.close()


def by_structure(path, draw):
    """Tables, views, triggers and columns of a stranger's making."""
    endless = "WITH RECURSIVE r(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM r) SELECT"
    changes = (
        "CREATE TRIGGER t AFTER INSERT ON passes BEGIN"
        " INSERT INTO plans (key, day, minutes, lines)"
        f" SELECT 'a', 'b', count(*), 'c' FROM ({endless} x FROM r); END",
        "CREATE TRIGGER u AFTER INSERT ON passes BEGIN DELETE FROM passes; END",
        f"DROP TABLE tally; CREATE VIEW tally AS {endless} 'pose' AS kind, x AS item FROM r",
        f"DROP TABLE plans; CREATE VIEW plans AS {endless} x AS n, 'k' AS key, x AS day FROM r",
        "DROP TABLE taken; DROP TABLE passes;"
        f" CREATE VIEW passes AS {endless} x AS n, x AS id FROM r",
        "ALTER TABLE passes ADD COLUMN more TEXT",
        "DROP TABLE taken",
        "DROP TABLE passes",
        "DROP INDEX passes_by_time",
        "CREATE TABLE other (x); INSERT INTO other VALUES (1)",
        "DROP TABLE plans; CREATE TABLE plans (n INTEGER PRIMARY KEY, key TEXT, day TEXT,"
        " minutes REAL, lines TEXT AS (hex(zeroblob(100000000))))",
        "PRAGMA user_version = 1",
        "PRAGMA user_version = 77",
        "PRAGMA user_version = -3",
        "PRAGMA journal_mode = DELETE",
        "UPDATE plans SET lines = '[{}]'",
        "UPDATE plans SET lines = '" + "[" * 5000 + "'",
        "UPDATE plans SET lines = replace(lines, '\"title\": \"', '\"title\": [1], \"x\": \"')",
        "UPDATE plans SET lines = replace(lines, 'percent\": 100', 'percent\": 1e308')",
        "UPDATE plans SET lines = replace(lines, '100', '\"a\"')",
        "UPDATE plans SET lines = replace(lines, 'value\": 6.0', 'value\": NaN')",
    )  # fmt: skip
    db = sqlite3.connect(path, isolation_level=None)
    try:
        db.executescript(draw.choice(changes))
    except sqlite3.Error:
        pass
    finally:
        db.close()


KINDS = (by_bytes, by_text, by_header, by_pages, by_length, by_values, by_structure)


def log_beside(folder, path, draw):
    """A log and an index of pages beside the file that do not belong to it."""
    ending = draw.choice(("-wal", "-shm", "-journal"))
    beside = path.with_name(path.name + ending)
    kept = folder.parent / "killed"
    what = draw.choice(("noise", "other", "folder", "link"))
    if what == "folder":
        beside.mkdir()
    elif what == "link":
        beside.symlink_to(folder.parent / "outside")
    elif what == "other" and (kept / beside.name).exists():
        raw = bytearray((kept / beside.name).read_bytes())
        for _ in range(draw.choice((0, 5, 100))):
            raw[draw.randrange(len(raw))] = draw.randrange(256)
        beside.write_bytes(raw)
    else:
        beside.write_bytes(draw.randbytes(draw.choice((0, 31, 40_000))))


def as_a_kill_leaves_it(room):
    """Copies of a logbook and its log taken while it is open."""
    from rehearse.practice.logbook import Logbook
    from tests.practice.made import make_pass

    (room / "killed").mkdir()
    with Logbook(room / "whole" / FILE_NAME, room / "none.sqlite") as book:
        book.record_all([make_pass(id=f"late {k}") for k in range(30)])
        for ending in ("", "-wal", "-shm"):
            name = FILE_NAME + ending
            shutil.copyfile(room / "whole" / name, room / "killed" / name)


def one_case(room, number, seed):
    """Damage one copy and look through it; returns (kind, what came of it)."""
    draw = random.Random(f"{seed} {number}")
    folder = room / f"case {number}"
    shutil.copytree(room / draw.choice(("whole", "killed")), folder)
    path, kind = folder / FILE_NAME, draw.choice(KINDS)
    kind(path, draw)
    if draw.random() < 0.15:
        shutil.rmtree(path.with_name(path.name + "-wal"), ignore_errors=True)
        for ending in ("-wal", "-shm"):
            path.with_name(path.name + ending).unlink(missing_ok=True)
        log_beside(folder, path, draw)
    began = time.process_time()  # another program may have the machine
    try:
        notice, _ = look_through(folder)
        came = "mended" if notice else "clean"
    except UserError:
        came = "fault"
    except Exception:
        came = "raised"
        print(f"case {number} {kind.__name__}", file=sys.stderr)
        traceback.print_exc()
    spent = time.process_time() - began
    if spent > TOO_LONG:
        print(f"case {number} {kind.__name__}: {spent:.1f} s", file=sys.stderr)
        came = f"{came}, slow"
    if (room / "outside").exists():
        came = f"{came}, outside"
        (room / "outside").unlink()
    shutil.rmtree(folder, ignore_errors=True)
    for left in room.glob(f"case {number} spare*"):
        left.unlink()
    return kind.__name__, came


def run(cases, seed, first=0):
    """Counts of what came of `cases` cases, by kind."""
    counts = Counter()
    with tempfile.TemporaryDirectory(prefix="corrupt-") as name:
        room = Path(name)
        make_folder(room / "whole")
        as_a_kill_leaves_it(room)
        for number in range(first, first + cases):
            counts[one_case(room, number, seed)] += 1
    return counts


def main(cases, seed):
    counts = run(cases, seed)
    for (kind, came), number in sorted(counts.items()):
        print(f"{kind:14} {came:18} {number:6}")
    bad = sum(n for (_, came), n in counts.items() if came not in ("clean", "mended", "fault"))
    print(f"{sum(counts.values())} cases, seed {seed}: {bad} bad")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))
