"""Getting a processor at once: what a process that must not be late may ask of the system.

Two ways, both asked for each thread of the calling process:

- real-time scheduling, which many systems grant to users who work with sound;
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
import struct
import sys
from pathlib import Path

#: Microseconds of processor time at a stretch that real-time work may take: the system ends the
#: process should it ever run away.
_LONGEST = 500_000
#: A low real-time priority: above all ordinary work, below the sound server's own.
_PRIORITY = 5
#: Nanoseconds of a turn: the shortest there is.
_TURN = 100_000
#: Number of the system call `sched_setattr` by machine; the C library has no function for it.
_CALL = {"x86_64": 314, "aarch64": 274}
_TASKS = Path("/proc/self/task")


def hurry(*, behind: int = 0) -> str:
    """Ask for quick scheduling of all threads of this process.

    Args:
        behind: steps of real-time priority behind those who ask with 0.

    Returns:
        `real time`, `short turns`, or nothing where neither was granted.
    """
    if not sys.platform.startswith("linux") or not _TASKS.is_dir():
        return ""
    threads = [int(each.name) for each in _TASKS.iterdir()]
    if all(_real_time(thread, _PRIORITY - behind) for thread in threads):
        return "real time"
    return "short turns" if all(_short_turns(thread) for thread in threads) else ""


def _real_time(thread: int, priority: int) -> bool:
    import resource

    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_RTTIME, (_LONGEST, _LONGEST))
        os.sched_setscheduler(thread, os.SCHED_RR, os.sched_param(priority))
        return True
    return False


def _short_turns(thread: int) -> bool:
    number = _CALL.get(platform.machine())
    if number is None:
        return False
    # size, policy (0: ordinary), flags, nice, priority, run time, deadline, period
    nice = os.getpriority(os.PRIO_PROCESS, thread)
    wish = struct.pack("=IIQiIQQQ", 48, 0, 0, nice, 0, _TURN, 0, 0)
    return bool(ctypes.CDLL(None).syscall(number, thread, wish, 0) == 0)
