"""The sound device. The only file that knows the library behind it.

How the way to the device was chosen. A window that holds the interpreter lock for 0.5–0.9 s again
and again was played through a recorded sound server on 2 cores, two other processes keeping them
busy: tests/bench/stall.py. Counted are breaks in a steady tone; `change` is the time from asking
for a change to hearing it, median and largest.

| way, latency of the device | seconds | breaks | change, ms |
| --- | --- | --- | --- |
| Python callback in the window's process, 60 ms, load 5–8 | 20 | 32, most lost | – |
| C callback over a ring, 30 ms, load 5–8 | 150 | 61 | a ring's length |
| Python callback in a process of its own, 60 ms, load 5–8 | 600 | 37 | 74 / 239 |
| the same with real-time scheduling granted, load 5–8 | 600 | 0 | 74 / 111 |
| the same, short turns instead, beside another rehearsal | 600 | 1 | 74 / 86 |
| the same at 75 ms | 600 | 0 | 90 / 102 |
| the same at 75 ms, real time from the desktop's service | 600 | 0 | 90 / 102 |
| short turns at 75 ms, beside another rehearsal and test runs, load 4–6 | 600 | 8 | 91 / 105 |
| the same in a session of its own, not granted, load 5–8 | 20 | 54–117 | 125 / 284 |

A process of its own is the simplest: changes, cross-fades and the clock's reports stay in one
place, with the shortest response. The stop key decides between the last two latencies. No way is
safe from processors that are busy beyond measure unless real-time scheduling is granted, which the
playback process asks for by itself and through the desktop's service, and else for short turns
(`work.urgency`). It stays in the window's session: Linux shares the processors between sessions,
and gives one that is mostly idle next to nothing when it wakes.
"""

from __future__ import annotations

import contextlib
import itertools
import time
import traceback
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from rehearse.files.user_error import UserError
from rehearse.playback.resample import Resampler
from rehearse.words import _

Pull = Callable[[int], npt.NDArray[np.float32]]
Report = Callable[[float, float], None]

#: Seconds of sound the device is asked to hold ready: as much as keeps the stop key within 100 ms
#: (tests/bench/monkey.py, busy processors: 93–114 ms at 75 ms, 70–100 ms at 60 ms).
LATENCY = 0.060
#: Rates nearly every device takes, should it refuse its own too.
_USUAL = (48_000, 44_100)
#: The library's error for a device that someone else uses alone (`paDeviceUnavailable`).
_TAKEN = -9985


class DeviceOutput:
    """Plays what `pull` gives on the default sound device.

    The device is opened at the track's rate with two channels, so that the samples reach it
    untouched. One that refuses is opened at its own rate or with its own channels: what it gets
    is then resampled, and mixed to the one channel or put on the first two.

    Args:
        rate: frames a second.
        pull: called on the device's thread for the next frames, float32 (frames, 2).
        report: called there with a block's first frame (counted at `rate`) and when it will be
            heard (`time.perf_counter` seconds).

    Attributes:
        underruns: gaps the device told of. called: when it last asked for sound
        (`time.perf_counter` seconds). failure: the trace of a mistake in `pull`, else empty.

    Raises:
        UserError: there is no device, or it cannot be opened.
    """

    def __init__(self, rate: int, pull: Pull, report: Report) -> None:
        sounddevice = library()
        self._pull, self._report = pull, report
        self._frame, self._pace = 0, 1.0
        self.underruns, self.failure = 0, ""
        self.called = time.perf_counter()
        try:
            info = sounddevice.query_devices(kind="output")
            host = sounddevice.query_hostapis(info["hostapi"])
            self._stream, own_rate = self._open(info, rate)
            if own_rate != rate:
                self._pace, self._pull = rate / own_rate, Resampler(pull, rate, own_rate).pull
            self._stream.start()
        except (sounddevice.PortAudioError, ValueError) as error:
            raise _error(error) from error
        self.name = f"{info['name']} ({host['name']})"

    def _open(self, info: Any, rate: int) -> tuple[Any, int]:
        """A stream in the first form the device accepts, and its rate."""
        sounddevice = library()
        refusals: list[Exception] = []
        for own_rate, channels in _forms(info, rate):
            try:
                stream = sounddevice.OutputStream(
                    samplerate=own_rate,
                    channels=channels,
                    dtype="float32",
                    latency=LATENCY,
                    device=info["index"],
                    callback=self._callback,
                )
                return stream, own_rate
            except (sounddevice.PortAudioError, ValueError) as error:
                refusals.append(error)
        raise refusals[0]

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
        try:
            _lay(self._pull(frames), out)
        except Exception:  # the library would only stop, and it would look as if the device had
            self.failure = traceback.format_exc()
            out.fill(0)
            return
        self._report(self._frame * self._pace, now + ahead)
        self._frame += frames
        self.called = now


def _forms(info: Any, rate: int) -> Iterator[tuple[int, int]]:
    """Rates and numbers of channels to try, the best first."""
    channels = info["max_output_channels"]
    rates = dict.fromkeys((rate, round(info["default_samplerate"]), *_USUAL))
    return itertools.product(rates, dict.fromkeys((min(2, channels), channels)))


def _lay(sound: npt.NDArray[np.float32], out: npt.NDArray[np.float32]) -> None:
    """Put two channels on as many as the device has."""
    if out.shape[1] == 1:
        np.mean(sound, axis=1, keepdims=True, out=out)
    else:
        out[:, :2], out[:, 2:] = sound, 0


def library() -> Any:
    """The sound library, loaded when it is first needed.

    Raises:
        UserError: it, or what it leans on in the system, is not installed.
    """
    try:
        import sounddevice
    except OSError as error:
        advice = _("install the system's ALSA library, or rehearse silently")
        raise UserError(_("the sound library cannot be loaded"), do=advice) from error
    return sounddevice


def _error(error: Exception) -> UserError:
    if _TAKEN in error.args:
        advice = _("close that program, or rehearse silently")
        return UserError(_("another program keeps the sound device to itself"), do=advice)
    advice = _("connect a speaker or headphones, or rehearse silently")
    return UserError(_("no sound device can be opened"), do=advice)
