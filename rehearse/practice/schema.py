"""The tables of practice.sqlite and the steps that lead to them.

A new file goes through every step, an old one through those it lacks, so that the way up from an
older version is the way every logbook is made. `passes`, `taken`, `plans`, `rounds`, `calls`,
`takes` and `offsets` are the record; `tally` is derived from them day by day, kept in the same
transaction, and can be rebuilt at any time.
"""

from __future__ import annotations

import sqlite3

#: "Rhsl" in the header's application id names the file as a logbook (SQLite file format, 1.3.15).
APPLICATION_ID = 0x5268736C

_PASSES = """
CREATE TABLE sessions (
  n INTEGER PRIMARY KEY,
  started REAL NOT NULL, ended REAL NOT NULL,  -- seconds since 1970, UTC
  zone INTEGER NOT NULL,                       -- minutes east of UTC on that day
  day TEXT NOT NULL,                           -- local date, ISO 8601
  dry_run INTEGER NOT NULL,
  stopped TEXT NOT NULL DEFAULT ''             -- 'unwell' when stopped for that
) STRICT;
CREATE TABLE passes (
  n INTEGER PRIMARY KEY,
  id TEXT NOT NULL UNIQUE,
  session INTEGER NOT NULL REFERENCES sessions (n),
  kind TEXT NOT NULL CHECK (kind IN ('drill', 'run')),
  section TEXT, section_name TEXT NOT NULL,
  transition TEXT, transition_name TEXT NOT NULL,
  "start" REAL NOT NULL, "end" REAL NOT NULL,  -- seconds of the track
  tempo REAL NOT NULL, cueing TEXT NOT NULL, effort TEXT NOT NULL,
  started REAL NOT NULL, ended REAL NOT NULL, zone INTEGER NOT NULL, day TEXT NOT NULL,
  complete INTEGER NOT NULL, reached REAL,
  verdict TEXT CHECK (verdict IN ('clean', 'missed')), broke_at REAL,
  dry_run INTEGER NOT NULL
) STRICT;
CREATE INDEX passes_by_time ON passes (started);
CREATE INDEX passes_by_section ON passes (section, day) WHERE section IS NOT NULL;
CREATE INDEX passes_by_day ON passes (day, kind);
CREATE TABLE taken (
  pose TEXT NOT NULL, day TEXT NOT NULL, pass INTEGER NOT NULL REFERENCES passes (n),
  place INTEGER NOT NULL, name TEXT NOT NULL,
  origin TEXT, origin_name TEXT NOT NULL,
  "start" REAL NOT NULL, "end" REAL NOT NULL,
  tempo REAL NOT NULL, at REAL NOT NULL, drilled INTEGER NOT NULL, counted INTEGER NOT NULL,
  judged REAL NOT NULL, clean REAL NOT NULL,
  PRIMARY KEY (pose, day, pass)
) STRICT, WITHOUT ROWID;
CREATE INDEX taken_by_pass ON taken (pass);
"""

_TALLY = """
CREATE TABLE tally (
  kind TEXT NOT NULL, item TEXT NOT NULL, day TEXT NOT NULL, name TEXT NOT NULL,
  passes INTEGER NOT NULL, drilled INTEGER NOT NULL, last REAL NOT NULL,
  judged REAL NOT NULL, clean REAL NOT NULL,
  judged_full REAL NOT NULL, clean_full REAL NOT NULL,
  quality REAL NOT NULL,                       -- sum of tempo over what was clean
  best REAL,                                   -- highest clean tempo
  PRIMARY KEY (kind, item, day)
) STRICT, WITHOUT ROWID;
CREATE INDEX tally_by_day ON tally (day);
"""

_PLANS = """
CREATE TABLE plans (
  n INTEGER PRIMARY KEY,
  key TEXT NOT NULL UNIQUE, day TEXT NOT NULL, minutes REAL NOT NULL,
  lines TEXT NOT NULL                          -- JSON, in their order
) STRICT;
CREATE INDEX plans_by_day ON plans (day);
ALTER TABLE passes ADD COLUMN plan TEXT NOT NULL DEFAULT '';
ALTER TABLE passes ADD COLUMN line TEXT NOT NULL DEFAULT '';
CREATE INDEX passes_by_plan ON passes (plan) WHERE plan != '';
"""

_ROUNDS = """
CREATE TABLE rounds (
  n INTEGER PRIMARY KEY,
  id TEXT NOT NULL UNIQUE,
  session INTEGER NOT NULL REFERENCES sessions (n),
  kind TEXT NOT NULL CHECK (kind IN ('turns', 'mandatories', 'both', 'random')),
  rules TEXT NOT NULL, seed INTEGER NOT NULL,
  hold REAL NOT NULL, longest REAL NOT NULL,   -- seconds wished for, from and to
  callouts INTEGER NOT NULL,
  started REAL NOT NULL, ended REAL NOT NULL, zone INTEGER NOT NULL, day TEXT NOT NULL,
  complete INTEGER NOT NULL, dry_run INTEGER NOT NULL
) STRICT;
CREATE INDEX rounds_by_day ON rounds (day);
CREATE TABLE calls (
  round INTEGER NOT NULL REFERENCES rounds (n), place INTEGER NOT NULL,
  pose TEXT NOT NULL, said TEXT NOT NULL, callout INTEGER NOT NULL,
  called REAL NOT NULL,                        -- seconds since 1970, UTC
  spoken REAL NOT NULL, hold REAL NOT NULL, planned REAL NOT NULL,
  verdict TEXT CHECK (verdict IN ('clean', 'missed')), lost_at REAL,
  PRIMARY KEY (round, place)
) STRICT, WITHOUT ROWID;
"""

_TAKES = """
CREATE TABLE takes (
  n INTEGER PRIMARY KEY,
  id TEXT NOT NULL UNIQUE,
  film TEXT NOT NULL, folder TEXT NOT NULL,
  filmed REAL NOT NULL, zone INTEGER NOT NULL, day TEXT NOT NULL,
  tempo REAL NOT NULL,
  "offset" REAL NOT NULL, rate REAL NOT NULL,  -- track second = offset + film second * rate
  refused TEXT NOT NULL
) STRICT;
CREATE TABLE offsets (
  take INTEGER NOT NULL REFERENCES takes (n), place INTEGER NOT NULL,
  pose TEXT NOT NULL, name TEXT NOT NULL,
  hit REAL NOT NULL, film REAL NOT NULL,
  said TEXT NOT NULL CHECK (said IN ('on', 'early', 'late', 'slow', 'unread')),
  late REAL, doubt REAL, took REAL,            -- seconds
  counted REAL NOT NULL, why TEXT NOT NULL, arrived REAL,
  PRIMARY KEY (take, place)
) STRICT, WITHOUT ROWID;
"""

STEPS = (_PASSES, _TALLY, _PLANS, _ROUNDS, _TAKES)
#: The version written by this program; a higher one is refused.
VERSION = len(STEPS)

_SUMS = """
  count(*), sum(drilled), max(at), sum(judged), sum(clean),
  sum(CASE WHEN tempo >= 0.995 THEN judged ELSE 0.0 END),
  sum(CASE WHEN tempo >= 0.995 THEN clean ELSE 0.0 END),
  sum(clean * tempo), max(CASE WHEN clean = 1.0 THEN tempo END)
"""
# The newest name of the day: packed behind its time, so that max() picks it, and cut off again.
_NAME = "substr(max(printf('%020.6f', at) || {name}), 21)"

_OF_PASS = """
  SELECT section, section_name, cueing, day, started AS at, tempo, kind = 'drill' AS drilled,
    CAST(verdict IS NOT NULL AS REAL) AS judged, CAST(verdict IS 'clean' AS REAL) AS clean
  FROM passes WHERE complete AND NOT dry_run
"""
RECOUNT = {
    "pose": (
        f"SELECT 'pose', pose, day, {_NAME.format(name='name')}, {_SUMS} FROM taken"
        " WHERE counted {where} GROUP BY pose, day",
        "AND pose = :item AND day = :day",
    ),
    "transition": (
        "SELECT 'transition', origin || '>' || pose, day,"
        f" {_NAME.format(name='origin_name || char(31) || name')}, {_SUMS} FROM taken"
        " WHERE counted AND origin IS NOT NULL {where} GROUP BY origin, pose, day",
        "AND pose = :item AND day = :day",
    ),
    "section": (
        f"SELECT 'section', section, day, {_NAME.format(name='section_name')}, {_SUMS}"
        f" FROM ({_OF_PASS} AND section IS NOT NULL {{where}}) GROUP BY section, day",
        "AND section = :item AND day = :day",
    ),
    "run": (
        f"SELECT 'run', cueing, day, 'whole routine', {_SUMS}"
        f" FROM ({_OF_PASS} AND kind = 'run' {{where}}) GROUP BY cueing, day",
        "AND cueing = :item AND day = :day",
    ),
}


def migrate(db: sqlite3.Connection) -> bool:
    """Bring an empty or older file to `VERSION`, whole or not at all; whether it was needed."""
    db.execute("BEGIN IMMEDIATE")
    try:
        (version,) = db.execute("PRAGMA user_version").fetchone()
        for step in STEPS[version:]:
            for statement in step.split(";\n"):
                if statement.strip():
                    db.execute(statement)
        if version < VERSION:
            rebuild(db)
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            db.execute(f"PRAGMA user_version = {VERSION}")
        db.execute("COMMIT")
        return bool(version < VERSION)
    except BaseException:
        db.execute("ROLLBACK")
        raise


def rebuild(db: sqlite3.Connection) -> None:
    """Count everything anew from the record."""
    db.execute("DELETE FROM tally")
    for select, _ in RECOUNT.values():
        db.execute(f"INSERT INTO tally {select.format(where='')}")


def recount(db: sqlite3.Connection, kind: str, item: str, day: str) -> None:
    """Count one item's day anew; a transition is named by the pose arrived at."""
    select, where = RECOUNT[kind]
    db.execute(
        f"INSERT OR REPLACE INTO tally {select.format(where=where)}", {"item": item, "day": day}
    )
