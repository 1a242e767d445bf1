"""Who opens, reads or changes the files of a folder, native libraries included.

The kernel tells (inotify(7), Linux 2.6.13 and later); looking at a file's name alone is no event.
"""

from __future__ import annotations

import ctypes
import os
import struct
import sys
from pathlib import Path

#: sys/inotify.h
_WATCHED = {
    0x1: "read", 0x2: "written", 0x4: "changed", 0x20: "opened", 0x40: "moved away",
    0x80: "moved in", 0x100: "made", 0x200: "deleted", 0x400: "deleted", 0x800: "moved",
}  # fmt: skip
_NONBLOCK, _IS_FOLDER = 0o4000, 0x40000000


def available() -> bool:
    """Whether this machine tells."""
    return sys.platform == "linux"


class Watch:
    """Events of one folder and the files in it, not of folders within.

    Raises:
        OSError: the kernel refuses.
    """

    def __init__(self, folder: Path) -> None:
        libc = ctypes.CDLL(None, use_errno=True)
        self._handle = libc.inotify_init1(_NONBLOCK)
        place = os.fsencode(folder)
        if self._handle < 0 or libc.inotify_add_watch(self._handle, place, sum(_WATCHED)) < 0:
            raise OSError(ctypes.get_errno(), "inotify")

    def events(self) -> list[str]:
        """What happened since the last call: "opened secret" and the like; the folder itself ""."""
        try:
            data = os.read(self._handle, 1 << 16)
        except BlockingIOError:
            return []
        found, at = [], 0
        while at < len(data):
            _, mask, _, length = struct.unpack_from("iIII", data, at)
            name = data[at + 16 : at + 16 + length].rstrip(b"\0").decode("utf-8", "replace")
            words = [word for bit, word in _WATCHED.items() if mask & bit]
            if not mask & _IS_FOLDER or name:
                found.append(f"{' and '.join(words)} {name}")
            at += 16 + length
        return found

    def close(self) -> None:
        """Watch no more."""
        os.close(self._handle)
