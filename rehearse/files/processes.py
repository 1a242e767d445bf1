"""Whether another process of this machine is still there, on every system."""

from __future__ import annotations

import os
import sys

#: What Windows calls the right to ask, and the exit status of a process that has none yet.
_MAY_ASK, _STILL_ACTIVE = 0x1000, 259


def is_running(process: int) -> bool:
    """Whether a process has this number; True where that cannot be known."""
    if sys.platform == "win32":  # `os.kill` would end it there
        return _is_running_on_windows(process)
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:  # another user's
        return True
    return True


def _is_running_on_windows(process: int) -> bool:
    import ctypes

    kernel = ctypes.windll.kernel32  # type: ignore[attr-defined,unused-ignore]
    handle = kernel.OpenProcess(_MAY_ASK, False, process)
    if not handle:
        return False
    try:
        status = ctypes.c_ulong()
        known = kernel.GetExitCodeProcess(handle, ctypes.byref(status))
        return not known or status.value == _STILL_ACTIVE
    finally:
        kernel.CloseHandle(handle)
