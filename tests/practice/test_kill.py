"""A real process killed with SIGKILL at random moments loses no pass that was kept."""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from rehearse.practice.logbook import Logbook

from .recount import tally_as_recounted

ROOT = Path(__file__).parents[2]
KILLS = 50


def killed_after(path, number, delay):
    """Record for `delay` seconds, kill, and return the lines the process got out."""
    command = [sys.executable, str(ROOT / "tests/practice/recorder.py"), str(path), str(number)]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, env={"PYTHONPATH": str(ROOT)}
    )
    first = process.stdout.readline()
    assert first == "open\n"
    time.sleep(delay)
    process.send_signal(signal.SIGKILL)
    lines = process.stdout.read().splitlines()
    assert process.wait() == -signal.SIGKILL
    process.stdout.close()
    return lines


def test_fifty_kills_lose_nothing_and_double_nothing(tmp_path):
    path = tmp_path / "practice.sqlite"
    draw = random.Random(20261125)
    kept, began = {}, set()
    for number in range(KILLS):
        for line in killed_after(path, number, draw.uniform(0.0, 0.05)):
            word, *rest = line.split()
            if word == "kept":
                kept[rest[0]] = rest[1]
            elif word == "began" and len(rest) == 1:
                began.add(rest[0])
    with Logbook(path) as book:
        assert book.notice == ""
        history = book.history()
        ids = [done.id for done in history]
        assert len(ids) == len(set(ids))
        assert set(kept) <= set(ids) <= began
        # Each kill can catch at most one commit between the disk and the message.
        assert len(ids) - len(kept) <= KILLS
        assert len(kept) > KILLS
        for done in history:
            if kept.get(done.id) == "missed":
                assert done.verdict == "missed"
            assert len(done.taken) == 2
        assert book.db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        stored = sorted(book.db.execute("SELECT kind, item, day, passes FROM tally"))
        assert stored == tally_as_recounted(history)
