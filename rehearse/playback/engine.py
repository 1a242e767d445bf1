"""The playback process: sound device, mixer and the preparation of slow music.

It is a process of its own so that nothing the window does can make the sound stumble: it has its
own interpreter lock, in which next to nothing runs but the device's callback. The window sends
requests and gets back marks (what is heard at which frame) and the clock's line. Slow music is
stretched in further processes, which answer here and not to the window.
"""

from __future__ import annotations

import gc
import os
import queue
import sys
import threading
import time
import traceback
from collections import deque
from dataclasses import dataclass
from typing import Any

from rehearse.files.user_error import UserError
from rehearse.playback.messages import UNEXPECTED, DeviceOpened, Heard, Load, Lost, Play, Then
from rehearse.playback.mix import Mixer, Order, Volume
from rehearse.playback.mix_scheduler import MixScheduler
from rehearse.playback.output import DeviceOutput
from rehearse.playback.output_watch import watch
from rehearse.playback.silent import SilentOutput
from rehearse.playback.stretch_cache import StretchCache
from rehearse.playback.timeline import Clock
from rehearse.words import _
from rehearse.work.child import Channel
from rehearse.work.shared import loads
from rehearse.work.urgency import raise_priority, threads

#: Put among the requests by whoever watches the speaker.
_NO_SPEAKER = object()


@dataclass(frozen=True)
class _Ended:
    """Put there when a thread of this process ended of a mistake: nothing may go deaf unnoticed."""

    trace: str


#: Seconds between two looks at everything.
_TICK = 0.03
#: Seconds without a callback after which a device counts as gone: while it starts, and later.
_STARTING, _GONE = 6.0, 3.0
#: The machine counts as having been asleep after so much (s).
_SLEPT = 2.0


class _Broken(Exception):
    """A mistake elsewhere in this process, with its trace."""


class Engine:
    """Everything in the playback process, driven by `run`."""

    def __init__(self, channel: Channel) -> None:
        self._channel = channel
        self._inbox: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._mixer: Mixer | None = None
        self._scheduler: MixScheduler | None = None
        self._stretch_cache: StretchCache | None = None
        self._output: DeviceOutput | SilentOutput | None = None
        self._reports: deque[tuple[float, float]] = deque()
        self._clock = Clock(1)
        self._opened = self._ticked = 0.0
        self._asleep = _sleep()
        self._no_device = False

    def run(self) -> None:
        """Serve until the device is lost, a thread has failed or the parent is gone."""
        threading.excepthook = self._thread_failed
        threading.Thread(target=self._listen, name="listener", daemon=True).start()
        try:
            while True:
                try:
                    self._take(self._inbox.get(timeout=_TICK))
                    while not self._inbox.empty():
                        self._take(self._inbox.get())
                except queue.Empty:
                    pass
                self._tick()
        except UserError as error:
            self._send_heard()
            self._channel.send(Lost(error.sentence, no_device=self._no_device))
        except Exception:
            self._channel.send(Lost(UNEXPECTED, traceback.format_exc()))

    def _thread_failed(self, failure: threading.ExceptHookArgs) -> None:
        """As `threading.excepthook`."""
        lines = traceback.format_exception(
            failure.exc_type, failure.exc_value, failure.exc_traceback
        )
        thread = failure.thread.name if failure.thread else _("a thread")
        self._inbox.put(_Ended(f"{thread} ended:\n{''.join(lines)}"))

    def _listen(self) -> None:
        while True:
            self._inbox.put(loads(*self._channel.receive()))

    def _take(self, request: Any) -> None:
        if request is _NO_SPEAKER:
            self._no_device = True
            raise _gone()
        if isinstance(request, _Ended):
            raise _Broken(request.trace)
        if isinstance(request, Load):
            self._load(request)
        if self._mixer is None or self._scheduler is None:
            return
        if isinstance(request, Play):
            self._scheduler.play(request.segment, request.at, request.repeat, request.keep)
        elif isinstance(request, Then):
            self._scheduler.then(request.segment, request.repeat)
        elif isinstance(request, Order | Volume):
            if request == Order("stop"):
                self._scheduler.stop()
            self._mixer.commands.append(request)

    def _load(self, load: Load) -> None:
        self._mixer, self._clock = Mixer(load.rate), Clock(load.rate)
        self._opened = time.perf_counter()
        # The device first: it needs a while to settle, in which the rest gets ready.
        output = SilentOutput if load.silent else DeviceOutput
        self._output = output(load.rate, self._mixer.pull, self._report)
        if load.silent or not load.no_device:
            self._tell(self._output.name)
        if not load.silent:
            about = (self._speaker, load.no_device)
            threading.Thread(target=watch, args=about, name="speaker", daemon=True).start()
        vital = threads()
        self._stretch_cache = StretchCache(load.track, load.rate, lambda: self._inbox.put(None))
        self._scheduler = MixScheduler(self._mixer, self._stretch_cache, load.track.array)
        gc.collect()
        gc.freeze()
        raise_priority(vital=vital)
        self._ticked = time.perf_counter()

    def _speaker(self, name: str | None) -> None:
        if name is None:
            self._inbox.put(_NO_SPEAKER)
        else:
            self._tell(name)

    def _tell(self, device: str) -> None:
        self._channel.send(DeviceOpened(device))

    def _report(self, frame: float, heard: float) -> None:
        self._reports.append((frame, heard))

    def _tick(self) -> None:
        if self._scheduler is None or self._output is None:
            return
        self._scheduler.step()
        self._send_heard()
        now = time.perf_counter()
        before, self._ticked = self._ticked, now
        if now - before > _GONE:  # not the device, this process stood still
            raise UserError(_("the sound was held up"), do=_("press play to go on"))
        patience = _GONE if now - self._opened > _STARTING else _STARTING
        if self._output.failure:
            raise _Broken(self._output.failure)
        if not self._output.alive or now - self._output.called > patience:
            raise _gone()
        if _sleep() - self._asleep > _SLEPT:
            raise UserError(_("the machine was asleep"), do=_("press play to go on"))

    def _send_heard(self) -> None:
        mixer, output = self._mixer, self._output
        if mixer is None or output is None:
            return
        while self._reports:
            frame, heard = self._reports.popleft()
            self._clock.report(frame, heard)
        marks = []
        while mixer.marks:
            marks.append(mixer.marks.popleft())
        line = self._clock.line(mixer.frame)
        self._channel.send(Heard(tuple(marks), line, output.underruns, mixer.missing))


def _gone() -> UserError:
    return UserError(_("the sound device is gone"), do=_("connect it again and press play"))


def _sleep() -> float:
    """Seconds the machine has slept since some moment, as far as its clocks can tell."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME) - time.clock_gettime(time.CLOCK_MONOTONIC)
    return 0.0


def serve(channel: Channel) -> None:
    """Main function of the playback process."""
    # The sound libraries write their inner failures there; ours go to the window as messages.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    # The callback must get the interpreter lock quickly, and no collection may interrupt it.
    sys.setswitchinterval(0.0005)
    gc.disable()
    Engine(channel).run()
