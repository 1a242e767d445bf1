"""What the sound server and the playback process tell of trouble: another speaker, a gap."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Callable
from typing import Any

from rehearse.playback.messages import Heard
from rehearse.words import _

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
    told = _("a speaker") if no_device else ""
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


#: Seconds from which on a gap is told: shorter ones are a click, not a place lost.
LEAST = 0.1
#: Seconds a stream needs until its line stands still, and in which the line follows a gap that
#: the device has told of.
_SETTLING, _FOLLOWS = 5.0, 3.0
#: The line moves by at least so much where something is lost (s), and in steps: what is lost is
#: known when it has stood still for so long (s).
_STEP, _STEADY = 0.02, 0.3


class Gaps:
    """Compares each message with those before it."""

    def __init__(self) -> None:
        self._zero: float | None = None
        self._settled = 0.0
        self._told = -_FOLLOWS
        self._lost, self._moved = 0.0, 0.0  # seconds not told of yet; when they last became more
        self._underruns = self._missing = 0

    def settle(self, now: float) -> None:
        """The sound has come to a speaker; `now` in `time.monotonic` seconds."""
        self._settled = now + _SETTLING

    def since(self, heard: Heard, rate: int, now: float) -> float:
        """Seconds of music not heard since they were last told of; 0.0 for none worth a word.

        Args:
            heard: the newest message. rate: frames a second of its line.
            now: when it came, in `time.monotonic` seconds.
        """
        if heard.underruns > self._underruns:
            self._underruns, self._told = heard.underruns, now
        self._add((heard.missing - self._missing) / rate, now)
        self._missing = heard.missing
        if heard.line is not None:
            self._follow(heard.line.time, now)
        if self._lost > LEAST and now - self._moved > _STEADY:
            lost, self._lost = self._lost, 0.0
            return lost
        return 0.0

    def _follow(self, zero: float, now: float) -> None:
        if self._zero is None or zero < self._zero:
            self._zero = zero
        moved = zero - self._zero
        if now < self._settled and now - self._told > _FOLLOWS:
            self._zero = zero
        elif moved > _STEP:
            self._zero = zero
            self._add(moved, now)
        else:
            # A crystal's drift, up to 100 parts in a million, must not add up to a gap.
            self._zero += 0.01 * moved

    def _add(self, seconds: float, now: float) -> None:
        if seconds > 0:
            self._lost, self._moved = self._lost + seconds, now
