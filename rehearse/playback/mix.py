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

from rehearse.playback.lap import FADE, SEAM, STOP_FADE, Audio, Lap, Reel
from rehearse.playback.limiter import Limiter
from rehearse.playback.passage import KINDS
from rehearse.playback.timeline import Mark
from rehearse.playback.voice import Gains, Ramp, Voice


@dataclass(frozen=True, eq=False)
class Start:
    """Play `lap` with the music on `reel`.

    Args:
        j: frame to start from; None: its beginning, count-in included.
        keep: rather go on from where the music is now, if that lies in the passage.
    """

    lap: Lap
    reel: Reel
    j: int | None = None
    keep: bool = False


@dataclass(frozen=True, eq=False)
class Follow:
    """What comes after the present pass; None: nothing."""

    lap: Lap | None


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
        self.marks: deque[Mark] = deque()
        self.missing = 0
        self._limiter = Limiter(rate)
        self.frame = self._limiter.margin
        self._tail = np.zeros((self._limiter.margin, 2), np.float32)
        self._volumes: dict[str, Ramp] = {kind: Ramp(1.0, 1.0, rate) for kind in KINDS}
        self._voice: Voice | None = None
        self._leaving: list[Voice] = []

    @property
    def place(self) -> tuple[Lap, Reel, int, bool] | None:
        """What is being mixed: lap, its music, frame, and whether it stands still. Any thread."""
        voice = self._voice
        return (voice.lap, voice.reel, voice.j, voice.frozen) if voice is not None else None

    @property
    def idle(self) -> bool:
        """True when nothing is being played or held."""
        return self._voice is None and not self._leaving

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
            if self._voice is not None:
                self._voice.follow = command.lap
        elif self._voice is not None:
            getattr(self, f"_{command.word}")(self._voice)

    def _start(self, command: Start) -> None:
        old = self._voice
        voice = self._kept(command) or self._fresh(command)
        if old is not None:
            self._leave(old)
        self._voice = voice
        ended = None if old is None else False
        voice.mark(self.frame, "paused" if voice.frozen else "running", began=True, ended=ended)

    def _fresh(self, command: Start) -> Voice:
        """A voice that begins ahead of the wanted frame by what is faded in."""
        lap, rate = command.lap, self.rate
        if command.j is not None:
            return Voice(lap, command.reel, command.j - int(FADE * rate), Ramp(0.0, 1.0, rate))
        j = -max(lap.lead, int(SEAM * rate))
        return Voice(lap, command.reel, j, Ramp(1.0, 1.0, rate))

    def _kept(self, command: Start) -> Voice | None:
        """A voice that goes on where the music is; None when that is not possible."""
        lap, old = command.lap, self._voice
        if not command.keep or old is None:
            return None
        j = lap.frame_in(old.lap, old.j)
        if j is None or max(0, j) < command.reel.first:
            return None
        fade = Ramp(0.0, 0.0 if old.frozen else 1.0, self.rate)
        return Voice(lap, command.reel, j, fade, old.number, old.frozen, joins=True)

    def _leave(self, voice: Voice, seconds: float = FADE) -> None:
        if not voice.frozen:
            voice.fade.aim(0.0, seconds)
            self._leaving.append(voice)

    def _pause(self, voice: Voice) -> None:
        voice.fade.aim(0.0)

    def _resume(self, voice: Voice) -> None:
        voice.fade.aim(1.0)
        if voice.frozen:
            voice.frozen = False
            voice.mark(self.frame, "running")

    def _stop(self, voice: Voice) -> None:
        voice.mark(self.frame, "stopped", ended=False)
        self.marks.extend(voice.marks)
        self._leave(voice, STOP_FADE)
        self._voice = None

    # Sound

    def _mix(self, frames: int) -> Audio:
        out = np.zeros((frames, 2), np.float32)
        gains: Gains = {kind: ramp.over(frames) for kind, ramp in self._volumes.items()}
        for voice in self._leaving:
            out += voice.play(frames, gains, self.frame)
        self._leaving = [voice for voice in self._leaving if not voice.silent]
        if self._voice is not None:
            self._play(self._voice, out, gains)
        self.frame += frames
        return out

    def _play(self, voice: Voice, out: Audio, gains: Gains) -> None:
        if not voice.frozen:
            out += voice.play(len(out), gains, self.frame)
        self.missing += voice.missing
        self.marks.extend(voice.marks)
        voice.marks, voice.missing = [], 0
        if voice.ended:
            self._voice = None
            self._leaving.append(voice)  # its clips ring out
