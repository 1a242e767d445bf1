"""Which frame is audible at a given moment, from the sound device's unsteady reports.

With each block the device says when that block will be heard. Settled, these reports agree with
what leaves the speaker within a millisecond; but single ones are tens of milliseconds off, and
while a stream starts they jump by a second or more. A line is therefore laid through the reports
of the last seconds: its slope is the nominal rate (a crystal is within 100 parts in a million, so
over the window it errs by a tenth of a millisecond), its height the median, which no minority of
wrong reports can move. When all of the latest reports agree on another height, the device has
truly jumped, and the older ones are forgotten.
"""

from __future__ import annotations

import statistics
from collections import deque
from dataclasses import dataclass

#: Seconds of reports that count; how many of the latest must agree on a jump, and its size (s).
WINDOW, AGREEING, JUMP = 2.0, 8, 0.015


@dataclass(frozen=True)
class LineFit:
    """Frame `frame` is heard at `time` (s), the others `rate` a second; none after `last`."""

    time: float
    frame: float
    rate: int
    last: float

    def frame_at(self, time: float) -> float:
        """The frame heard at `time`; may be negative before the first."""
        return min(self.frame + (time - self.time) * self.rate, self.last)


class Clock:
    """Collects reports and lays the line."""

    def __init__(self, rate: int) -> None:
        self.rate = rate
        # For each report when it says that frame 0 was heard; the time it is about.
        self._zeros: deque[float] = deque()
        self._times: deque[float] = deque()

    def report(self, frame: float, time: float) -> None:
        """The device says: `frame` will be heard at `time` seconds."""
        self._times.append(time)
        self._zeros.append(time - frame / self.rate)

    def line(self, last: float) -> LineFit | None:
        """The line now, for a device that has been given frames up to `last`; None: no report."""
        if not self._times:
            return None
        while self._times[0] < self._times[-1] - WINDOW:
            self._forget()
        zero = statistics.median(self._zeros)
        latest = list(self._zeros)[-AGREEING:]
        off = [each - zero for each in latest]
        if (min(off) > JUMP or max(off) < -JUMP) and max(latest) - min(latest) < JUMP:
            while len(self._times) > AGREEING:
                self._forget()
            zero = statistics.median(latest)
        return LineFit(zero, 0.0, self.rate, last)

    def _forget(self) -> None:
        self._times.popleft()
        self._zeros.popleft()
