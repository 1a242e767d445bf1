"""Which speaker the sound comes from, where the sound server tells.

The sound library knows only the server's "default". Which speaker that is, the server decides,
and it may move the sound to another while it plays: headphones plugged in, a wireless speaker
chosen. The delay that was calibrated belongs to the speaker, so its name is watched.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Callable
from typing import Any

#: Seconds between two looks.
_PAUSE = 0.5


def watch(tell: Callable[[str], object]) -> None:
    """Call `tell` with the name of the speaker of this process, and again whenever it changes.

    Never returns where there is a server to be asked: run it on a thread of its own.
    """
    if not sys.platform.startswith("linux"):
        return
    try:
        import pulsectl
    except (ImportError, OSError):  # it or the library it leans on is not installed
        return
    told = ""
    while True:
        # A server that is gone or does not answer tells no name; the device's own watch says so.
        with contextlib.suppress(Exception), pulsectl.Pulse("rehearse", connect=False) as server:
            server.connect(autospawn=False)
            while True:
                name = _speaker(server)
                if name not in ("", told):
                    tell(name)
                    told = name
                time.sleep(_PAUSE)
        time.sleep(_PAUSE)


def _speaker(server: Any) -> str:
    """What the speaker of this process's sound is called; empty while there is none."""
    mine = str(os.getpid())
    for stream in server.sink_input_list():
        if stream.proplist.get("application.process.id") == mine:
            return str(server.sink_info(stream.sink).description)
    return ""
