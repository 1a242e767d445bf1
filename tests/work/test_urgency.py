"""Quick scheduling: what the system says it granted is what the threads have.

Source: the manual page sched(7) and sched_setattr(2) of Linux; a turn's length for ordinary
scheduling is honoured since 6.12; the interface RealtimeKit1 describes on the message bus itself.
"""

import os
import shutil
import subprocess
import sys

import pytest

SCENE = """
import ctypes, os, struct, threading
from rehearse.work.urgency import raise_priority
stay = threading.Event()
threading.Thread(target=stay.wait, daemon=True).start()
print(raise_priority())
for thread in sorted(map(int, os.listdir("/proc/self/task"))):
    got = ctypes.create_string_buffer(48)
    number = {"x86_64": 315, "aarch64": 275}[os.uname().machine]
    ctypes.CDLL(None).syscall(number, thread, got, 48, 0)
    print(os.sched_getscheduler(thread), struct.unpack("=IIQiIQQQ", got.raw)[5])
"""
GIVEN_UP = ("setpriv", "--bounding-set", "-sys_nice")


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
        "import os; from rehearse.work.urgency import raise_priority\n"
        "print(raise_priority(), os.sched_getparam(0).sched_priority, end=' ')\n"
        "print(raise_priority(behind=1), os.sched_getparam(0).sched_priority)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    if not done.stdout.startswith("real time"):
        pytest.skip("this system does not grant real time")
    first, second = (int(word) for word in done.stdout.split() if word.isdigit())
    assert second == first - 1


@pytest.mark.skipif(not shutil.which("setpriv"), reason="needs a way to give up rights")
def test_without_rights_the_turns_become_short():
    granted, threads = scene(*GIVEN_UP)
    if not granted:
        pytest.skip("this system knows no turns of one's own length")
    if granted == "real time":
        pytest.skip("this system grants real time to everyone")
    assert granted == "short turns"
    assert all(policy == 0 for policy, _ in threads)
    version = tuple(int(n) for n in os.uname().release.split(".")[:2])
    if version >= (6, 12):
        assert all(turn == 100_000 for _, turn in threads)


ASKING = """
from rehearse.work.urgency import raise_priority, threads
import threading
vital = threads()
threading.Thread(target=threading.Event().wait, daemon=True).start()
print(*vital, raise_priority(vital=vital))
"""


@pytest.mark.skipif(not shutil.which("setpriv"), reason="needs a way to give up rights")
@pytest.mark.parametrize("answer", [0, 1])
def test_the_desktops_service_is_asked_for_the_vital_threads_alone(tmp_path, answer):
    asked = tmp_path / "asked"
    stand_in = tmp_path / "busctl"
    stand_in.write_text(f'#!/bin/sh\necho "$@" >> {asked}\nexit {answer}\n')
    stand_in.chmod(0o755)
    path = {**os.environ, "PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}"}
    command = [*GIVEN_UP, sys.executable, "-c", ASKING]
    done = subprocess.run(command, env=path, capture_output=True, text=True, check=True)
    thread, granted = done.stdout.strip().split(" ", 1)
    if not asked.exists():
        pytest.skip("this system grants real time to everyone")
    kit = "org.freedesktop.RealtimeKit1"
    words = f"--system call {kit} /org/freedesktop/RealtimeKit1 {kit} MakeThreadRealtimeWithPID ttu"
    assert asked.read_text() == f"{words} {thread} {thread} 5\n"
    assert granted == "real time" if answer == 0 else granted != "real time"


def kit_is_there():
    call = ["busctl", "--system", "status", "org.freedesktop.RealtimeKit1"]
    return bool(shutil.which("busctl")) and not subprocess.run(call, capture_output=True).returncode


@pytest.mark.skipif(not shutil.which("setpriv"), reason="needs a way to give up rights")
@pytest.mark.skipif(not kit_is_there(), reason="RealtimeKit is not running here")
def test_the_desktops_service_grants_real_time():
    code = ASKING + "import os; print(os.sched_getscheduler(vital[0]) & 0xff)"
    command = [*GIVEN_UP, sys.executable, "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.split()[-3:] == ["real", "time", "2"]  # SCHED_RR


def test_who_runs_too_long_is_held_up_rather_than_ended():
    code = """if True:
        import time; from rehearse.work.urgency import raise_priority
        granted, began = raise_priority(), time.process_time()
        while time.process_time() < began + 0.7: pass
        print(granted, 'alive')
    """
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    if "real time" not in done.stdout:
        pytest.skip("this system does not grant real time")
    assert done.stdout.endswith("alive\n")
