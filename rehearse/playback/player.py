"""Plays segments of a track on the sound device, and knows what is audible.

    player = Player()
    player.load(track)
    player.play(Segment("groove", 12.0, 20.0, tempo=0.7, lead=2.0, clips=clicks))
    ... player.now().source, at each paint; player.poll(), some times a second ...
    player.close()

All sound is made in a process of its own (see `engine`); nothing here ever waits for it. Use it
from one thread.
"""

from __future__ import annotations

import contextlib
import logging
import threading
import time
import traceback
from collections import deque
from dataclasses import replace
from typing import Any

from rehearse.music.track import Track
from rehearse.playback.calibrate import Delays
from rehearse.playback.messages import UNEXPECTED, DeviceOpened, Heard, Load, Lost, Play, Then
from rehearse.playback.mix import Order, Volume
from rehearse.playback.output_watch import Gaps
from rehearse.playback.segment import Event, Gap, Kind, Now, OutputBack, OutputLost, Segment
from rehearse.playback.timeline import LineFit, Timeline
from rehearse.words import _
from rehearse.work.child import Child
from rehearse.work.shared import Shared, dumps

_log = logging.getLogger(__name__)
#: Seconds between two tries to find a sound device again.
_RETRY = 3.0
#: Seconds after which a playback process that says nothing counts as stuck, and the most that
#: one look at it counts: when this process stood still too, the other was not silent. A device
#: may take its time to open.
_PATIENCE, _LOOK, _OPENING = 3.0, 0.1, 20.0
#: Seconds the window waits at most for the end of what reads from the process.
_DYING = 0.5
_NOT_STARTED = _("The sound could not be started – close other programs, then press play to go on.")
_FULL = _("There is no room for the sound – free some space on the disk, then press play to go on.")
_MUTE = _("The sound device does not answer – connect it again, or rehearse silently.")


class Player:
    """The rehearsal's player.

    Args:
        silent: keep time without any sound device.
        delays: where the calibrated delay of each device is kept; None: not kept.
    """

    def __init__(self, *, silent: bool = False, delays: Delays | None = None) -> None:
        self._silent, self._delays = silent, delays
        self._latency = 0.0
        self._rate = 44_100
        self._track: Shared | None = None
        self._volumes: dict[Kind, float] = {}
        self._wish: Play | None = None  # what was last asked for, to go on with after a loss
        self._then: Then | None = None
        self.device = ""
        self._reset()

    def _reset(self) -> None:
        self._child: Child | None = None
        self._reader: threading.Thread | None = None
        self._inbox: deque[Any] = deque()
        self._timeline = Timeline()
        self._gaps = Gaps()
        self._line: LineFit | None = None
        self._heard = 0.0
        self._events: list[Event] = []
        self._lost: Now | None = None
        self._before = Now()  # until something is heard
        self._tried = self._polled = self._quiet = 0.0
        self.underruns = self.missing = 0

    # What to play

    def load(self, track: Track) -> None:
        """Make a track ready; whatever played before ends."""
        self._wish = self._then = None
        self._end()
        events = self._events
        self._reset()
        self._events = events
        try:
            self._track, self._rate = Shared(track.samples), track.sample_rate
        except OSError:
            _log.warning("no room for the decoded song", exc_info=True)
            self._track = None
            self._lose(_FULL)
            return
        self._launch()

    def play(self, segment: Segment, *, at: float | None = None, repeat: bool = True) -> None:
        """Play a segment, again and again when `repeat`; at any moment, with a cross-fade.

        Args:
            at: second of the track to start from, without the lead; None: from the beginning.
        """
        self._ask(Play(segment, at, repeat, keep=False))

    def change(self, segment: Segment, *, repeat: bool = True) -> None:
        """Play a segment from where the music is now: another tempo, other clips.

        Where the music is not inside it (or nothing plays) it starts from its beginning. When
        paused it stays paused.
        """
        self._ask(Play(segment, None, repeat, keep=True))

    def then(self, segment: Segment | None, *, repeat: bool = True) -> None:
        """Set what follows when the pass in progress ends; None: it stops there."""
        self._then = Then(segment, repeat)
        self._send(self._then)

    def pause(self) -> None:
        """Hold the music where it is."""
        self._send(Order("pause"))

    def resume(self) -> None:
        """Go on after `pause`, or after a loss of the sound device."""
        if self._lost is not None and self._wish is not None:
            self._ask(self._wish)
        else:
            self._send(Order("resume"))

    def stop(self) -> None:
        """End the pass in progress."""
        self._wish = self._then = None
        self._send(Order("stop"))

    def volume(self, kind: Kind, gain: float) -> None:
        """Set the volume of `music`, `click` or `speech`, 0..1."""
        self._volumes[kind] = gain
        self._send(Volume(kind, gain))

    # What is heard

    def now(self) -> Now:
        """What is audible at this moment; takes some microseconds."""
        self._read()
        if self._lost is not None:
            return self._lost
        return self._timeline.now(self._frame()) or self._before

    def poll(self) -> tuple[Event, ...]:
        """What has happened, as far as it has been heard, since the last call."""
        self._read()
        self._watch()
        if self._lost is None:
            self._events += self._timeline.events(self._frame())
        elif not self._child and time.monotonic() - self._tried > _RETRY:
            self._launch()
        events, self._events = tuple(self._events), []
        return events

    @property
    def latency(self) -> float:
        """Seconds the speaker is later than its device reports (see `calibrate`)."""
        return self._latency

    @latency.setter
    def latency(self, seconds: float) -> None:
        self._latency = seconds
        if self._delays is not None and self.device:
            self._delays.set(self.device, seconds)

    @property
    def silent(self) -> bool:
        """Whether time is kept without a sound device; may be changed at any moment."""
        return self._silent

    @silent.setter
    def silent(self, silent: bool) -> None:
        if silent != self._silent:
            self._silent = silent
            self._break_off()
            self._launch()

    def close(self) -> None:
        """End the playback process."""
        self._end()

    def _frame(self) -> float:
        """The output frame that is audible now; never goes back."""
        if self._line is not None:
            frame = self._line.frame_at(time.perf_counter() - self._latency)
            self._heard = max(self._heard, frame)
        return self._heard

    # The process

    def _ask(self, play: Play) -> None:
        self._wish, self._then = replace(play, keep=False), None
        self._told = False  # whoever asks for something hears again why it cannot be
        if self._lost is not None and self._child is None:
            self._launch()
            if self._child is None:  # it cannot even be tried
                self._tell_loss()
                return
        if self._lost is not None:
            self._before, self._lost = replace(self._lost, state="paused"), None
        self._send(play)

    def _send(self, request: Any) -> None:
        # Long clips go through shared memory: a small message is in the pipe at once.
        if self._child is None:
            return
        try:
            message = dumps(request)
        except OSError:
            _log.warning("no room for what is to be played", exc_info=True)
            self._lose(_FULL)
            return
        self._child.send(message)

    def _launch(self) -> None:
        """Start a playback process; what it says is read by a thread of its own."""
        self._tried = time.monotonic()
        if self._track is None:
            return
        try:
            self._child = child = Child("rehearse.playback.engine:serve")
        except (OSError, RuntimeError):
            _log.warning("the playback process could not be started", exc_info=True)
            self._lose(_NOT_STARTED)
            return
        self._quiet = 0.0  # what the one before did not say is no fault of this one
        self._inbox = inbox = deque[Any]()
        self._timeline, self._line, self._heard = Timeline(), None, 0.0
        self._gaps = Gaps()
        self._reader = threading.Thread(target=_listen, args=(child, inbox), name="player")
        self._reader.daemon = True
        self._reader.start()
        self._send(Load(self._track, self._rate, self._silent, self._no_device))
        for kind, gain in self._volumes.items():
            self._send(Volume(kind, gain))

    def _end(self) -> None:
        """End the process; one that does not die at once is left to itself."""
        if self._child is not None:
            self._child.end()
        if self._reader is not None:
            self._reader.join(_DYING)
        # What it said last, that it has ended, is known.
        self._child, self._reader, self._inbox = None, None, deque()

    def _watch(self) -> None:
        """Give a playback process up that has said nothing for long."""
        now = time.monotonic()
        self._quiet += min(now - self._polled, _LOOK)
        self._polled = now
        opening = self._line is None
        if self._child is not None and self._quiet > (_OPENING if opening else _PATIENCE):
            self._lose(_MUTE if opening else UNEXPECTED)

    def _read(self) -> None:
        if self._inbox:
            self._quiet = 0.0
        while self._inbox:
            with contextlib.suppress(IndexError):
                self._take(self._inbox.popleft())

    def _take(self, message: Any) -> None:
        if isinstance(message, Heard):
            for mark in message.marks:
                self._timeline.add(mark)
            self._line = message.line or self._line
            self.underruns, self.missing = message.underruns, message.missing
            seconds = self._gaps.since(message, self._rate, time.monotonic())
            now = self._timeline.now(self._frame())
            if seconds and now is not None and now.playing:
                self._events.append(Gap(seconds))
        elif isinstance(message, DeviceOpened):
            self._opened(message.device)
        elif isinstance(message, Lost):
            if message.trace:
                _log.error("the playback process failed\n%s", message.trace)
            self._no_device |= message.no_device
            self._lose(message.sentence)

    def _opened(self, device: str) -> None:
        self.device, self._no_device = device, False
        self._gaps.settle(time.monotonic())
        if self._delays is not None:
            self._latency = self._delays.of(device)
        if self._away:
            self._events.append(OutputBack(device))
            self._away = self._told = False

    _told = _away = _no_device = False
    _why = ""

    def _lose(self, sentence: str) -> None:
        self._break_off()
        self._away, self._why = True, sentence
        self._tell_loss()

    def _tell_loss(self) -> None:
        if not self._told:
            self._events.append(OutputLost(self._why))
            self._told = True

    def _break_off(self) -> None:
        """The process is gone, or goes: end the pass where it was heard last."""
        now = self._lost or self._timeline.now(self._frame()) or self._before
        self._events += self._timeline.break_off(self._frame())
        if self._wish is not None and now.key:
            at = now.source if now.state != "lead" else None
            self._wish = replace(self._wish, at=at)
        self._end()
        self._lost = replace(now, state="lost")


def _listen(child: Child, inbox: deque[Any]) -> None:
    """Pass on what the process says until it ends."""
    try:
        while True:
            message = child.receive()
            inbox.append(message)
    except EOFError:
        inbox.append(Lost(UNEXPECTED))
    except Exception:  # it says what nobody here understands
        inbox.append(Lost(UNEXPECTED, traceback.format_exc()))
    child.close_output()
