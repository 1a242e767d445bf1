"""A process that may open no socket: the kernel ends it with SIGSYS when it tries.

A filter of system calls (seccomp, Linux 3.5 and later) sees what native libraries do as well, and
cannot be taken off again. Sources: seccomp(2), linux/filter.h, linux/audit.h.
"""

from __future__ import annotations

import ctypes
import platform
import struct
import sys

_NO_NEW_PRIVILEGES, _SET_SECCOMP, _MODE_FILTER = 38, 22, 2
_KILL, _ALLOW = 0x80000000, 0x7FFF0000
#: Of the machine: its audit number and the number of `socket`.
_CALLS = {"x86_64": (0xC000003E, 41), "aarch64": (0xC00000B7, 198)}
_UNIX = 1


def available() -> bool:
    """Whether this machine can be told to refuse sockets."""
    return sys.platform == "linux" and platform.machine() in _CALLS


def forbid_sockets(*, local: bool = False) -> None:
    """End this process, from now on, when it opens a socket.

    Args:
        local: allow those of this machine (AF_UNIX), which a display or sound server needs.

    Raises:
        OSError: the kernel refuses.
    """
    audit, call = _CALLS[platform.machine()]
    steps = [
        (0x20, 0, 0, 4), (0x15, 1, 0, audit), (0x06, 0, 0, _KILL),  # the machine's own calls only
        (0x20, 0, 0, 0), (0x15, 1, 0, call), (0x06, 0, 0, _ALLOW),  # anything but `socket`
        (0x20, 0, 0, 16), (0x15, 0, 1, _UNIX if local else 0xFFFF), (0x06, 0, 0, _ALLOW),
        (0x06, 0, 0, _KILL),
    ]  # fmt: skip
    code = ctypes.create_string_buffer(b"".join(struct.pack("<HBBI", *step) for step in steps))
    program = struct.pack("@HP", len(steps), ctypes.addressof(code))
    libc = ctypes.CDLL(None, use_errno=True)
    libc.prctl.argtypes = (ctypes.c_int, *(ctypes.c_ulong,) * 4)
    held = ctypes.create_string_buffer(program)
    for arguments in (
        (_NO_NEW_PRIVILEGES, 1, 0, 0, 0),
        (_SET_SECCOMP, _MODE_FILTER, ctypes.addressof(held), 0, 0),
    ):
        if libc.prctl(*arguments) != 0:
            raise OSError(ctypes.get_errno(), "prctl")
