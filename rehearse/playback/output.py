"""The sound device. The only file that knows the library behind it.

How the way to the device was chosen. A window that holds the interpreter lock for 0.5–0.9 s again
and again, all processors busy, was played through a recorded sound server (tests/bench/stall.py;
2 cores, a load of 6–10): breaks in a steady tone, and the time from asking for a change to
hearing it.

| way, latency of the device | breaks in 20–30 s | change |
| --- | --- | --- |
| Python callback in the window's process, 60 ms | 32, most of the sound lost | – |
| C callback over a ring in the window's process, 30 ms | 0 | a ring's length |
| Python callback in a process of its own, 60 ms | 0, 0, 5 | median 76, largest 87 ms |
| the same with real-time scheduling granted | 0 | median 71, largest 77 ms |
| the same in a session of its own, not granted | 54–117 | median 74, largest 292 ms |

A process of its own is the simpler one: changes, cross-fades and the clock's reports stay in one
place, with the shortest response. In a session of its own it fares badly because Linux shares
the processors between sessions and gives one that is mostly idle next to nothing.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.files.fault import Fault

Pull = Callable[[int], npt.NDArray[np.float32]]
Report = Callable[[int, float], None]

#: Seconds of sound the device is asked to hold ready: the shortest that survived the stall test.
LATENCY = 0.06


class DeviceOutput:
    """Plays what `pull` gives on the default sound device.

    Args:
        rate: frames a second.
        pull: called on the device's thread for the next frames, float32 (frames, 2).
        report: called there with a block's first frame and when it will be heard
            (`time.perf_counter` seconds).

    Raises:
        Fault: there is no device, or it cannot be opened.
    """

    def __init__(self, rate: int, pull: Pull, report: Report) -> None:
        import sounddevice

        self._pull, self._report = pull, report
        self._frame = 0
        self.underruns = 0
        self.called = time.perf_counter()
        try:
            info = sounddevice.query_devices(kind="output")
            host = sounddevice.query_hostapis(info["hostapi"])
            self._stream = sounddevice.OutputStream(
                samplerate=rate,
                channels=2,
                dtype="float32",
                latency=LATENCY,
                device=info["index"],
                callback=self._callback,
            )
            self._stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            raise Fault("no sound device can be opened", do=_ADVICE) from error
        self.name = f"{info['name']} ({host['name']})"

    @property
    def alive(self) -> bool:
        """False once the device has stopped by itself."""
        return bool(self._stream.active)

    def close(self) -> None:
        """Stop and close; may hang with a broken device, so only a process about to end calls."""
        with contextlib.suppress(Exception):
            self._stream.abort()
            self._stream.close()

    def _callback(self, out: npt.NDArray[np.float32], frames: int, info: Any, status: Any) -> None:
        now = time.perf_counter()
        # The library's clock need not be ours: bridge them by reading both here.
        ahead = info.outputBufferDacTime - self._stream.time
        if not 0 < ahead < 10:
            ahead = self._stream.latency
        if status.output_underflow:
            self.underruns += 1
        out[:] = self._pull(frames)
        self._report(self._frame, now + ahead)
        self._frame += frames
        self.called = now


_ADVICE = "connect a speaker or headphones, or rehearse silently"
