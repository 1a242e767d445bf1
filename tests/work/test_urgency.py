"""Quick scheduling: what the system says it granted is what the threads have.

Source: the manual page sched(7) and sched_setattr(2) of Linux; a turn's length for ordinary
scheduling is honoured since 6.12.
"""

import os
import shutil
import subprocess
import sys

import pytest

SCENE = """
import ctypes, os, struct, threading
from rehearse.work.urgency import hurry
stay = threading.Event()
threading.Thread(target=stay.wait, daemon=True).start()
print(hurry())
for thread in sorted(map(int, os.listdir("/proc/self/task"))):
    got = ctypes.create_string_buffer(48)
    number = {"x86_64": 315, "aarch64": 275}[os.uname().machine]
    ctypes.CDLL(None).syscall(number, thread, got, 48, 0)
    print(os.sched_getscheduler(thread), struct.unpack("=IIQiIQQQ", got.raw)[5])
"""


def scene(*before):
    done = subprocess.run(
        [*before, sys.executable, "-c", SCENE], capture_output=True, text=True, check=True
    )
    granted, *threads = done.stdout.splitlines()
    return granted, [tuple(map(int, line.split())) for line in threads]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="Linux only")
def test_every_thread_has_what_was_granted():
    granted, threads = scene()
    assert len(threads) >= 2
    if granted == "real time":
        assert all(policy == 2 for policy, _ in threads)  # SCHED_RR
    elif granted == "short turns":
        assert all(policy == 0 for policy, _ in threads)
    else:
        assert all(policy == 0 for policy, _ in threads), "not granted, so nothing changed"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="Linux only")
def test_who_stands_behind_another_has_the_lower_priority():
    code = (
        "import os; from rehearse.work.urgency import hurry\n"
        "print(hurry(), os.sched_getparam(0).sched_priority, end=' ')\n"
        "print(hurry(behind=1), os.sched_getparam(0).sched_priority)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    if not done.stdout.startswith("real time"):
        pytest.skip("this system does not grant real time")
    first, second = (int(word) for word in done.stdout.split() if word.isdigit())
    assert second == first - 1


@pytest.mark.skipif(not shutil.which("setpriv"), reason="needs a way to give up rights")
def test_without_rights_the_turns_become_short():
    granted, threads = scene("setpriv", "--bounding-set", "-sys_nice")
    if not granted:
        pytest.skip("this system knows no turns of one's own length")
    if granted == "real time":
        pytest.skip("this system grants real time to everyone")
    assert granted == "short turns"
    assert all(policy == 0 for policy, _ in threads)
    version = tuple(int(n) for n in os.uname().release.split(".")[:2])
    if version >= (6, 12):
        assert all(turn == 100_000 for _, turn in threads)
