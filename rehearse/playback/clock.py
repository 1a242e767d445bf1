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
WINDOW, AGREEING, JUMP = 2.0, 6, 0.012


@dataclass(frozen=True)
class Line:
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
        self._reports: deque[tuple[float, float]] = deque()  # (time heard, start of frame 0)

    def report(self, frame: int, time: float) -> None:
        """The device says: `frame` will be heard at `time` seconds."""
        zero = time - frame / self.rate
        reports = self._reports
        reports.append((time, zero))
        while reports[0][0] < time - WINDOW:
            reports.popleft()
        if len(reports) > AGREEING:
            self._forget_before_a_jump()

    def _forget_before_a_jump(self) -> None:
        latest = [zero for _, zero in list(self._reports)[-AGREEING:]]
        off = [zero - self.zero for zero in latest]
        if (min(off) > JUMP or max(off) < -JUMP) and max(latest) - min(latest) < JUMP:
            while len(self._reports) > AGREEING:
                self._reports.popleft()

    @property
    def zero(self) -> float:
        """When frame 0 would have been heard, seconds."""
        return statistics.median(zero for _, zero in self._reports)

    def line(self, last: float) -> Line | None:
        """The line now, for a device that has been given frames up to `last`; None: no report."""
        return Line(self.zero, 0.0, self.rate, last) if self._reports else None
