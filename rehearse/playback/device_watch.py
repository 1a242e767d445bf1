"""Which speaker the sound comes from, where the sound server tells.

The sound library knows only the server's "default". Which speaker that is, the server decides,
and it may move the sound to another while it plays: headphones plugged in, a wireless speaker
chosen. The delay that was calibrated belongs to the speaker, so its name is watched. Where the
last speaker goes away, servers play on to none at all; that is told too.
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
#: What the servers call the sink they make up where there is no other.
_NOWHERE = "auto_null"


def watch(tell: Callable[[str | None], object], no_device: bool = False) -> None:
    """Call `tell` with the name of the speaker of this process, and again whenever it changes.

    None is told when the sound had a speaker and has none any more. Who begins without one is
    let be, unless `no_device`: nobody says that it went away, and the sound may be taken from there
    on purpose.

    Never returns where there is a server to be asked: run it on a thread of its own.
    """
    if not sys.platform.startswith("linux"):
        return
    try:
        import pulsectl
    except (ImportError, OSError):  # it or the library it leans on is not installed
        return
    told = "a speaker" if no_device else ""
    while True:
        # A server that is gone or does not answer tells no name; the device's own watch says so.
        with contextlib.suppress(Exception), pulsectl.Pulse("rehearse", connect=False) as server:
            server.connect(autospawn=False)
            while True:
                name, real = _speaker(server)
                if name not in ("", told):
                    tell(None if told and not real else name)
                    told = name
                time.sleep(_PAUSE)
        time.sleep(_PAUSE)


def _speaker(server: Any) -> tuple[str, bool]:
    """What the speaker of this process's sound is called, and whether there is one behind the
    name; an empty name while nothing is told."""
    mine = str(os.getpid())
    clients = {each.index: each.proplist for each in server.client_list()}
    for stream in server.sink_input_list():
        # Some servers name the process at the stream, others only at the client it belongs to.
        for told in (stream.proplist, clients.get(stream.client, {})):
            if told.get("application.process.id") == mine:
                sink = server.sink_info(stream.sink)
                return str(sink.description), sink.name != _NOWHERE
    return "", False
