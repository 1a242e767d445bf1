"""What is heard at each output frame, and which frame is audible at a given moment.

Conventions: an output frame counts what the sound device is given, from 0. `j` is a frame of a
pass, 0 at its music's start. The mixer leaves a record (`Timeline`); the device's reports of when
a frame will be heard go to the `Clock`.

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
from typing import Literal

from rehearse.playback.segment import Event, Now, PassEnded, PassStarted, State

Motion = Literal["running", "paused", "stopped"]


@dataclass(frozen=True)
class Span:
    """Where a pass lies in the track.

    Args:
        key, tempo: of the segment.
        rate: frames a second.
        first, last: frames of the track.
        frames: frames heard of its music.
    """

    key: str
    tempo: float
    rate: int
    first: int
    last: int
    frames: int

    def source_of(self, j: float) -> float:
        """Second of the track heard at frame `j`, bounded to the segment."""
        return min(max(self.first + j * self.tempo, self.first), self.last) / self.rate

    def frame_of(self, source: float) -> int:
        """The frame at which second `source` of the track is heard, not bounded."""
        return round((source * self.rate - self.first) / self.tempo)


@dataclass(frozen=True)
class PlayheadMark:
    """From output frame `frame` on, frame `j` of a pass is heard (standing still unless running).

    Args:
        number: of the pass.
        began: the pass begins here.
        ended: the pass before this mark ended here: True complete, False broken off.
    """

    frame: int
    span: Span
    number: int
    j: int
    motion: Motion
    began: bool = False
    ended: bool | None = None

    def now(self, frame: float) -> Now:
        """What is heard at output frame `frame`, not before this mark's."""
        j = self.j + max(0.0, frame - self.frame) if self.motion == "running" else float(self.j)
        state: State = "music"
        if self.motion != "running":
            state = self.motion
        elif j < 0:
            state = "lead"
        elif j >= self.span.frames:
            state = "rest"
        span = self.span
        return Now(span.source_of(j), j / span.rate, span.tempo, span.key, self.number, state)


class Timeline:
    """Marks in the order of their frames; the heard ones are turned into events and forgotten."""

    def __init__(self) -> None:
        self._marks: deque[PlayheadMark] = deque()
        self._heard: PlayheadMark | None = None
        self._began: Now | None = None

    def add(self, mark: PlayheadMark) -> None:
        """Append a mark; from any one thread."""
        self._marks.append(mark)

    def now(self, frame: float) -> Now | None:
        """What is heard at output frame `frame`; None before the first mark."""
        current = self._heard
        for mark in tuple(self._marks):
            if mark.frame > frame:
                break
            current = mark
        return current.now(frame) if current is not None else None

    def events(self, frame: float) -> tuple[Event, ...]:
        """What has been heard up to `frame` and was not told before."""
        events: list[Event] = []
        while self._marks and self._marks[0].frame <= frame:
            mark = self._marks.popleft()
            if mark.ended is not None:
                events += self._end(mark.frame, mark.ended)
            if mark.began:
                self._began = mark.now(mark.frame)
                events.append(PassStarted(mark.span.key, mark.number, self._began.source))
            self._heard = mark
        return tuple(events)

    def break_off(self, frame: float) -> tuple[Event, ...]:
        """The sound stopped at `frame` for good: end the pass heard there, forget what follows."""
        events = self.events(frame)
        self._marks.clear()
        events += tuple(self._end(frame, False))
        self._heard = None
        return events

    def _end(self, frame: float, complete: bool) -> list[Event]:
        if self._heard is None or self._began is None:
            return []
        now, began, self._began = self._heard.now(frame), self._began, None
        reached = now.source
        if complete:
            reached = self._heard.span.last / self._heard.span.rate
        return [PassEnded(now.key, now.pass_number, complete, reached, began.source)]


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
