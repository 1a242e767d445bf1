"""Any interleaving of passes, verdicts, renamings and restarts keeps each finished pass once."""

import shutil
import tempfile
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from rehearse.practice.logbook import Logbook
from rehearse.practice.passes import PoseTaken, shares

from .made import MONDAY, make_pass
from .recount import tally_as_recounted

POSES = ("a", "b", "c")
VERDICTS = st.sampled_from([None, "clean", "missed"])

# Written apart from the program's own: straight from the record, one row a pass and pose.
PLAIN_POSES = """
SELECT t.pose, p.day, count(*), sum(t.judged), sum(t.clean)
FROM passes p JOIN taken t ON t.pass = p.n WHERE p.dry_run = 0 GROUP BY t.pose, p.day
"""
PLAIN_SECTIONS = """
SELECT section, day, count(*), sum(verdict IS NOT NULL), coalesce(sum(verdict = 'clean'), 0),
  max(CASE WHEN verdict = 'clean' THEN tempo END)
FROM passes WHERE dry_run = 0 AND complete = 1 AND section IS NOT NULL GROUP BY section, day
"""


class Interleaving(RuleBasedStateMachine):
    @initialize()
    def start(self):
        self.folder = Path(tempfile.mkdtemp())
        self.book = Logbook(self.folder / "practice.sqlite")
        self.kept = {}
        self.name = "Opening"
        self.at = MONDAY

    @rule(
        poses=st.lists(st.sampled_from(POSES), unique=True, max_size=3),
        section=st.sampled_from([None, "s", "t"]),
        kind=st.sampled_from(["drill", "run"]),
        tempo=st.sampled_from([0.6, 0.85, 1.0]),
        minutes=st.sampled_from([1, 45, 60 * 20]),
        complete=st.booleans(),
        dry_run=st.booleans(),
        verdict=VERDICTS,
    )
    def pass_ends(self, poses, section, kind, minutes, **values):
        self.at += timedelta(minutes=minutes)
        taken = tuple(
            PoseTaken(p, f"pose {p}", k * 4.0, k * 4.0 + 4.0, poses[k - 1] if k else "")
            for k, p in enumerate(poses)
        )
        done = make_pass(
            self.at, kind=kind, section=section, section_name=self.name if section else "",
            taken=taken, **values,
        )  # fmt: skip
        self.book.record(done)
        self.kept[done.id] = done

    @precondition(lambda self: self.kept)
    @rule(which=st.integers(0), verdict=VERDICTS, broke=st.sampled_from([None, 1.0, 6.0, 99.0]))
    def verdict_is_pressed(self, which, verdict, broke):
        done = list(self.kept.values())[which % len(self.kept)]
        broke = broke if verdict == "missed" else None
        self.book.judge(done.id, verdict, broke_at=broke)
        self.kept[done.id] = replace(done, verdict=verdict, broke_at=broke)

    @precondition(lambda self: self.kept)
    @rule(which=st.integers(0))
    def the_same_pass_is_written_again(self, which):
        self.book.record(list(self.kept.values())[which % len(self.kept)])

    @rule(name=st.sampled_from(["Opening", "Entrance", "Ärger"]))
    def section_is_renamed(self, name):
        self.name = name

    @rule()
    def program_is_started_again(self):
        self.book.close()
        self.book = Logbook(self.folder / "practice.sqlite")

    @rule()
    def power_fails(self):
        """What lies on the disk at this moment is all there is afterwards."""
        after = Path(tempfile.mkdtemp())
        for path in self.folder.glob("practice.sqlite*"):
            if not path.name.endswith("-shm"):
                shutil.copyfile(path, after / path.name)
        self.book.close()
        shutil.rmtree(self.folder)
        self.folder = after
        self.book = Logbook(after / "practice.sqlite")

    @rule()
    def a_session_begins(self):
        self.book.begin_session(self.at)

    @invariant()
    def exactly_the_finished_passes_each_once(self):
        assert sorted(self.book.history(), key=lambda p: p.id) == sorted(
            self.kept.values(), key=lambda p: p.id
        )

    @invariant()
    def counts_are_those_of_a_plain_recount(self):
        db = self.book.db
        stored = sorted(db.execute("SELECT kind, item, day, passes FROM tally"))
        assert stored == tally_as_recounted(self.kept.values())
        poses = db.execute("SELECT item, day, passes, judged, clean FROM tally WHERE kind = 'pose'")
        assert sorted(poses) == sorted(db.execute(PLAIN_POSES))
        sections = db.execute(
            "SELECT item, day, passes, judged, clean, best FROM tally WHERE kind = 'section'"
        )
        assert sorted(sections, key=str) == sorted(
            ((*a, float(b), float(c), d) for *a, b, c, d in db.execute(PLAIN_SECTIONS)),
            key=str,
        )

    @invariant()
    def what_is_said_of_each_pose_follows_from_the_verdict(self):
        for number, ident in self.book.db.execute("SELECT n, id FROM passes"):
            done = self.kept[ident]
            rows = self.book.db.execute(
                "SELECT judged, clean FROM taken WHERE pass = ? ORDER BY place", (number,)
            ).fetchall()
            said = shares(done.taken, done.verdict, done.broke_at)
            assert rows == [(s.judged, s.clean) for s in said]

    def teardown(self):
        if hasattr(self, "book"):
            self.book.close()
            shutil.rmtree(self.folder)


TestInterleaving = Interleaving.TestCase
TestInterleaving.settings = settings(
    max_examples=60,
    stateful_step_count=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
