"""Getting a processor at once: what a process that must not be late may ask of the system.

Three ways, the best that is granted for each thread of the calling process:

- real-time scheduling, which some systems grant to users who work with sound;
- real-time scheduling given by the desktop's own service for it (RealtimeKit, an interface on
  the system's message bus that sound servers use too), to whoever bounds how long a thread may
  run at a stretch; it gives it to few threads, so only the vital ones ask;
- else short turns: since version 6.12 Linux lets a thread ask for turns as short as 0.1 ms
  (`sched_setattr` with a run time for ordinary scheduling, see its manual page) and in return
  runs it before those with longer turns as soon as it wakes. This needs no rights.

Elsewhere, and on older systems, nothing happens.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import platform
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Collection
from pathlib import Path

#: Microseconds of processor time at a stretch that real-time work may take, and the most the
#: desktop's service lets pass: the system ends the process should it ever run away.
_LONGEST, _LONGEST_ASKED = 500_000, 200_000
#: A low real-time priority: above all ordinary work, below the sound server's own.
_PRIORITY = 5
#: Nanoseconds of a turn: the shortest there is.
_TURN = 100_000
#: Number of the system call `sched_setattr` by machine; the C library has no function for it.
_CALL = {"x86_64": 314, "aarch64": 274}
_TASKS = Path("/proc/self/task")
_KIT = "org.freedesktop.RealtimeKit1"
#: Seconds the desktop's service has for an answer.
_PATIENCE = 1.0


def threads() -> tuple[int, ...]:
    """The system's numbers of the threads of this process; none where they are not known."""
    if not sys.platform.startswith("linux") or not _TASKS.is_dir():
        return ()
    return tuple(sorted(int(each.name) for each in _TASKS.iterdir()))


def raise_priority(*, behind: int = 0, vital: Collection[int] = ()) -> str:
    """Ask for quick scheduling of all threads of this process; call it on its main thread.

    Args:
        behind: steps of real-time priority behind those who ask with 0.
        vital: threads for which the desktop's service is asked as well.

    Returns:
        What the vital threads (none named: all) were granted: `real time`, `short turns`, or
        nothing.
    """
    everyone = threads()
    _bound(_LONGEST_ASKED if vital else _LONGEST)
    granted = {t: "real time" for t in everyone if _real_time(t, _PRIORITY - behind)}
    for thread in everyone:
        if thread in vital and thread not in granted:
            if not _ask_desktop(thread, _PRIORITY - behind):
                break
            granted[thread] = "real time"
    for thread in everyone:
        if thread not in granted and _short_turns(thread):
            granted[thread] = "short turns"
    found = {granted.get(thread, "") for thread in vital or everyone}
    return next((way for way in ("", "short turns", "real time") if way in found), "")


def _bound(longest: int) -> None:
    """Let no real-time thread run longer at a stretch (microseconds); warn this process halfway.

    A warned process pauses, which begins a new stretch.
    """
    if not sys.platform.startswith("linux"):
        return
    import resource

    signal.signal(signal.SIGXCPU, lambda *_: time.sleep(0.001))
    _, hard = resource.getrlimit(resource.RLIMIT_RTTIME)
    if hard != resource.RLIM_INFINITY:
        longest = min(longest, hard)
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_RTTIME, (longest // 2, longest))


def _real_time(thread: int, priority: int) -> bool:
    with contextlib.suppress(OSError, ValueError):
        os.sched_setscheduler(thread, os.SCHED_RR, os.sched_param(priority))
        return True
    return False


def _ask_desktop(thread: int, priority: int) -> bool:
    path = f"/{_KIT.replace('.', '/')}"
    call = ["busctl", "--system", "call", _KIT, path, _KIT, "MakeThreadRealtimeWithPID", "ttu"]
    numbers = [str(os.getpid()), str(thread), str(priority)]
    with contextlib.suppress(OSError, subprocess.TimeoutExpired):
        done = subprocess.run([*call, *numbers], capture_output=True, timeout=_PATIENCE)
        return done.returncode == 0
    return False


def _short_turns(thread: int) -> bool:
    number = _CALL.get(platform.machine())
    if number is None:
        return False
    # size, policy (0: ordinary), flags, nice, priority, run time, deadline, period
    nice = os.getpriority(os.PRIO_PROCESS, thread)
    wish = struct.pack("=IIQiIQQQ", 48, 0, 0, nice, 0, _TURN, 0, 0)
    return bool(ctypes.CDLL(None).syscall(number, thread, wish, 0) == 0)
