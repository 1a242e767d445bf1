"""Noticing that the speaker waited for sound, from what the playback process tells.

When a device gets nothing in time it plays silence and everything after it is heard that much
later: the clock's line moves on in time by exactly what was not heard (measured on a real sound
server, a process held up for 120, 250 and 1000 ms: silences of 30, 160 and 910 ms, the line moved
by 33, 167 and 908 ms). While a stream starts, and when it moves to another speaker, the line jumps
without anything being lost; there only what the device itself tells of counts.
"""

from __future__ import annotations

from rehearse.playback.messages import Heard

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
