"""A sound device that is not there: keeps time for a silent rehearsal."""

from __future__ import annotations

import threading
import time

from rehearse.playback.output import LATENCY, Pull, Report

_BLOCK = 0.02


class SilentOutput:
    """Asks for sound at its proper pace and drops it; same use as `DeviceOutput`."""

    name = "silent"
    underruns = 0
    failure = ""  # what goes wrong in its thread is told as that of any thread

    def __init__(self, rate: int, pull: Pull, report: Report) -> None:
        self._rate, self._pull, self._report = rate, pull, report
        self.called = time.perf_counter()
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name="silent output", daemon=True)
        self._thread.start()

    @property
    def alive(self) -> bool:
        """A timer does not go away."""
        return not self._end.is_set()

    def close(self) -> None:
        """Stop."""
        self._end.set()
        self._thread.join()

    def _run(self) -> None:
        block = int(_BLOCK * self._rate)
        start, frame = time.perf_counter(), 0
        while not self._end.wait(max(0.0, start + frame / self._rate - time.perf_counter())):
            self.called = time.perf_counter()
            if self.called - start - frame / self._rate > 1.0:
                start = self.called - frame / self._rate  # slept with the machine: go on from here
            self._pull(block)
            # Heard as late as with a device, so that a block's marks are told before their time.
            self._report(frame, start + frame / self._rate + LATENCY)
            frame += block
