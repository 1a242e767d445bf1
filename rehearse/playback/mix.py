"""The mixer: music and clips at exact frames, cross-fades, ducking, volumes, limiter.

The same code runs in the sound device's callback and when rendering to a file. In the callback
it must not wait for anything: commands come in through a queue without locks, what happened goes
out through another.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rehearse.playback.limiter import Limiter
from rehearse.playback.loop_pass import FADE, SEAM, STOP_FADE, Audio, AudioBuffer, LoopPass
from rehearse.playback.mix_stream import Gains, MixStream, Ramp
from rehearse.playback.segment import KINDS
from rehearse.playback.timeline import PlayheadMark


@dataclass(frozen=True, eq=False)
class Start:
    """Play `loop_pass` with the music on `buffer`.

    Args:
        j: frame to start from; None: its beginning, count-in included.
        keep: rather go on from where the music is now, if that lies in the segment.
    """

    loop_pass: LoopPass
    buffer: AudioBuffer
    j: int | None = None
    keep: bool = False


@dataclass(frozen=True, eq=False)
class Follow:
    """What comes after the present pass; None: nothing."""

    loop_pass: LoopPass | None


@dataclass(frozen=True)
class Volume:
    """Gain of one kind of sound, 0..1."""

    kind: str
    gain: float


@dataclass(frozen=True)
class Order:
    """`pause`, `resume` or `stop`."""

    word: Literal["pause", "resume", "stop"]


Command = Start | Follow | Volume | Order


class Mixer:
    """Mixes whatever it is told to, block by block.

    Attributes:
        commands: append commands here, from any thread; they take effect with the next block.
        marks: what happened, to be taken out by anyone.
        missing: frames that should have had music but had none ready.
        frame: output frames mixed up to now (with the limiter's margin).
    """

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.commands: deque[Command] = deque()
        self.marks: deque[PlayheadMark] = deque()
        self.missing = 0
        self._limiter = Limiter(rate)
        self.frame = self._limiter.margin
        self._tail = np.zeros((self._limiter.margin, 2), np.float32)
        self._volumes: dict[str, Ramp] = {kind: Ramp(1.0, 1.0, rate) for kind in KINDS}
        self._stream: MixStream | None = None
        self._leaving: list[MixStream] = []

    @property
    def place(self) -> tuple[LoopPass, AudioBuffer, int, bool] | None:
        """What is mixed: loop pass, its music, frame, and whether it stands still. Any thread."""
        stream = self._stream
        return (
            (stream.loop_pass, stream.buffer, stream.j, stream.frozen)
            if stream is not None
            else None
        )

    @property
    def idle(self) -> bool:
        """True when nothing is being played or held."""
        return self._stream is None and not self._leaving

    def pull(self, frames: int) -> Audio:
        """The next `frames` frames, float32 (frames, 2), true peak ≤ -1 dBFS."""
        while self.commands:
            self._obey(self.commands.popleft())
        mixed = np.concatenate([self._tail, self._mix(frames)])
        self._tail = mixed[frames:]
        return self._limiter.process(mixed)

    # Commands

    def _obey(self, command: Command) -> None:
        if isinstance(command, Start):
            self._start(command)
        elif isinstance(command, Volume):
            self._volumes[command.kind].aim(command.gain)
        elif isinstance(command, Follow):
            if self._stream is not None:
                self._stream.follow = command.loop_pass
        elif self._stream is not None:
            getattr(self, f"_{command.word}")(self._stream)

    def _start(self, command: Start) -> None:
        old = self._stream
        stream = self._kept(command) or self._fresh(command)
        if old is not None:
            self._leave(old)
        self._stream = stream
        ended = None if old is None else False
        stream.mark(self.frame, "paused" if stream.frozen else "running", began=True, ended=ended)

    def _fresh(self, command: Start) -> MixStream:
        """A voice that begins ahead of the wanted frame by what is faded in."""
        loop_pass, rate = command.loop_pass, self.rate
        if command.j is not None:
            return MixStream(
                loop_pass, command.buffer, command.j - int(FADE * rate), Ramp(0.0, 1.0, rate)
            )
        j = -max(loop_pass.lead, int(SEAM * rate))
        return MixStream(loop_pass, command.buffer, j, Ramp(1.0, 1.0, rate))

    def _kept(self, command: Start) -> MixStream | None:
        """A voice that goes on where the music is; None when that is not possible."""
        loop_pass, old = command.loop_pass, self._stream
        if not command.keep or old is None:
            return None
        j = loop_pass.frame_in(old.loop_pass, old.j)
        if j is None or max(0, j) < command.buffer.first:
            return None
        fade = Ramp(0.0, 0.0 if old.frozen else 1.0, self.rate)
        return MixStream(loop_pass, command.buffer, j, fade, old.number, old.frozen, joins=True)

    def _leave(self, stream: MixStream, seconds: float = FADE) -> None:
        if not stream.frozen:
            stream.fade.aim(0.0, seconds)
            self._leaving.append(stream)

    def _pause(self, stream: MixStream) -> None:
        stream.fade.aim(0.0)

    def _resume(self, stream: MixStream) -> None:
        stream.fade.aim(1.0)
        if stream.frozen:
            stream.frozen = False
            stream.mark(self.frame, "running")

    def _stop(self, stream: MixStream) -> None:
        stream.mark(self.frame, "stopped", ended=False)
        self.marks.extend(stream.marks)
        self._leave(stream, STOP_FADE)
        self._stream = None

    # Sound

    def _mix(self, frames: int) -> Audio:
        out = np.zeros((frames, 2), np.float32)
        gains: Gains = {kind: ramp.over(frames) for kind, ramp in self._volumes.items()}
        for stream in self._leaving:
            out += stream.play(frames, gains, self.frame)
        self._leaving = [stream for stream in self._leaving if not stream.silent]
        if self._stream is not None:
            self._play(self._stream, out, gains)
        self.frame += frames
        return out

    def _play(self, stream: MixStream, out: Audio, gains: Gains) -> None:
        if not stream.frozen:
            out += stream.play(len(out), gains, self.frame)
        self.missing += stream.missing
        self.marks.extend(stream.marks)
        stream.marks, stream.missing = [], 0
        if stream.ended:
            self._stream = None
            self._leaving.append(stream)  # its clips ring out
