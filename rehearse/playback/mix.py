"""The mixer: music and clips at exact frames, cross-fades, ducking, volumes, limiter.

The same code runs in the sound device's callback and when rendering to a file. In the callback
it must not wait for anything: commands come in through a queue without locks, what happened goes
out through another.

How passes meet: in the last 8 ms of a pass its music is faded out while the music that lies just
before the start of the next is faded in, so that the next pass begins with its first attack
untouched. The same happens at the end of a count-in. Every other change is a cross-fade of 20 ms.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from rehearse.playback.lap import DUCK_DOWN, DUCK_UP, DUCKED, FADE, SEAM, Audio, Lap, Reel
from rehearse.playback.limiter import Limiter
from rehearse.playback.passage import KINDS
from rehearse.playback.timeline import Mark, Motion

Gains = dict[str, Audio | float]


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


def _smooth(x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return x * x * (3 - 2 * x)


class _Ramp:
    """A gain on its smooth way to its target."""

    def __init__(self, gain: float, target: float, frames: int) -> None:
        self.gain = gain
        self._frames = frames
        self.aim(target)

    def aim(self, target: float) -> None:
        """Be at `target` after the ramp's length from now."""
        self.target, self._from, self._done = target, self.gain, 0

    def over(self, frames: int) -> Audio | float:
        """The gain of the next frames, (frames, 1) or one number for all."""
        if self.gain == self.target:
            return self.gain
        way = np.minimum(np.arange(self._done + 1, self._done + frames + 1) / self._frames, 1.0)
        curve = self._from + (self.target - self._from) * _smooth(way)
        self._done += frames
        self.gain = float(curve[-1]) if self._done < self._frames else self.target
        return curve.astype(np.float32)[:, None]


@dataclass(eq=False)
class _Voice:
    """A run of passes being played."""

    lap: Lap
    reel: Reel
    j: int
    follow: Lap | None
    fade: _Ramp
    number: int = 1
    clock: int = 0  # frames this voice has played: the time of ringing clips and ducking
    frozen: bool = False
    ended: bool = False
    pointer: int = 0
    coming: tuple[Lap, Reel] | None = None
    ringing: list[tuple[int, Audio, str]] = field(default_factory=list)
    ducks: list[tuple[int, int]] = field(default_factory=list)

    def enter(self) -> None:
        """Take up clips and ducking of the lap from `j` on."""
        shift = self.clock - self.j
        self.pointer = int(np.searchsorted(self.lap.starts, self.j))
        down = int(DUCK_DOWN * self.lap.span.rate)
        for a, b in self.lap.ducks:
            if b > self.j:
                self.ducks.append((max(a, self.j + down) + shift, b + shift))

    @property
    def left(self) -> int:
        """Frames until the pass is over."""
        return self.lap.frames + self.lap.rest - self.j


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
        self._volumes: dict[str, _Ramp] = {
            kind: _Ramp(1.0, 1.0, int(FADE * rate)) for kind in KINDS
        }
        self._voice: _Voice | None = None
        self._leaving: list[_Voice] = []
        self._seam, self._fade = int(SEAM * rate), int(FADE * rate)
        curve = _smooth((np.arange(self._seam) + 0.5) / self._seam)
        self._rise = curve.astype(np.float32)[:, None]

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
        voice.enter()
        motion: Motion = "paused" if voice.frozen else "running"
        ended = None if old is None else False
        self._mark(voice, self.frame, motion, began=True, ended=ended)

    def _fresh(self, command: Start) -> _Voice:
        """A voice that begins ahead of the wanted frame by what is faded in."""
        lap, fade = command.lap, _Ramp(1.0, 1.0, self._fade)
        if command.j is not None:
            j, fade = command.j - self._fade, _Ramp(0.0, 1.0, self._fade)
        else:
            j = -lap.lead if lap.lead else -self._seam
        return _Voice(lap, command.reel, j, lap.follower, fade)

    def _kept(self, command: Start) -> _Voice | None:
        lap, old = command.lap, self._voice
        if not command.keep or old is None:
            return None
        j = lap.span.frame_of(old.lap.span.source_of(old.j))
        if not max(0, command.reel.first) <= j < lap.frames or not 0 <= old.j < old.lap.frames:
            return None
        frozen = old.frozen
        fade = _Ramp(0.0, 0.0 if frozen else 1.0, self._fade)
        return _Voice(lap, command.reel, j, lap.follower, fade, old.number, frozen=frozen)

    def _leave(self, voice: _Voice) -> None:
        if not voice.frozen:
            voice.fade.aim(0.0)
            self._leaving.append(voice)

    def _pause(self, voice: _Voice) -> None:
        voice.fade.aim(0.0)

    def _resume(self, voice: _Voice) -> None:
        voice.fade.aim(1.0)
        if voice.frozen:
            voice.frozen = False
            self._mark(voice, self.frame, "running")

    def _stop(self, voice: _Voice) -> None:
        self._leave(voice)
        self._voice = None
        self._mark(voice, self.frame, "stopped", ended=False)

    def _mark(
        self,
        voice: _Voice,
        frame: int,
        motion: Motion,
        *,
        began: bool = False,
        ended: bool | None = None,
    ) -> None:
        mark = Mark(frame, voice.lap.span, voice.number, voice.j, motion, began, ended)
        self.marks.append(mark)

    # Sound

    def _mix(self, frames: int) -> Audio:
        out = np.zeros((frames, 2), np.float32)
        gains = {kind: ramp.over(frames) for kind, ramp in self._volumes.items()}
        for voice in [*self._leaving, self._voice]:
            if voice is not None and not voice.frozen:
                self._play(voice, out, gains, voice is self._voice)
        self._leaving = [v for v in self._leaving if v.fade.gain > 0 and (v.ringing or not v.ended)]
        self.frame += frames
        return out

    def _play(self, voice: _Voice, out: Audio, gains: Gains, main: bool) -> None:
        frames = len(out)
        music, clips = np.zeros((2, frames, 2), np.float32)
        done = 0
        base = self.frame
        while done < frames:
            step = frames - done
            if not voice.ended:
                step = min(step, voice.left)
                self._music(voice, music[done : done + step])
            self._clips(voice, clips[done : done + step], gains, done)
            voice.j += step
            voice.clock += step
            done += step
            if voice.left == 0 and not voice.ended:
                self._turn(voice, base + done, main)
        duck = self._duck(voice, frames)
        fade = voice.fade.over(frames)
        music *= gains["music"]
        if duck is not None:
            music *= duck
        music += clips
        if not isinstance(fade, float) or fade != 1.0:
            music *= fade
        out += music
        if main and voice.fade.gain == 0.0 == voice.fade.target and not voice.ended:
            self._freeze(voice, base + frames)

    def _freeze(self, voice: _Voice, frame: int) -> None:
        # What was faded out is heard again when it goes on.
        back = min(self._fade, voice.j + voice.lap.lead)
        voice.j -= max(0, back)
        voice.clock -= max(0, back)
        voice.frozen = True
        self._mark(voice, frame, "paused")

    def _turn(self, voice: _Voice, frame: int, main: bool) -> None:
        """The pass is over: on to the next, if there is one."""
        upcoming = voice.coming or (voice.follow and (voice.follow, voice.follow.reel))
        if not upcoming:
            voice.ended = True
            if main:
                self._voice = None
                self._leaving.append(voice)  # its clips ring out
                self._mark(voice, frame, "stopped", ended=True)
            return
        lap, reel = upcoming
        voice.number = voice.number + 1 if lap.span.key == voice.lap.span.key else 1
        voice.lap, voice.reel, voice.coming = lap, reel, None
        if voice.follow is lap:
            voice.follow = lap.follower
        voice.j = -lap.lead
        voice.enter()
        if main:
            self._mark(voice, frame, "running", began=True, ended=True)

    def _music(self, voice: _Voice, out: Audio) -> None:
        lap, j = voice.lap, voice.j
        self._add(lap, voice.reel, j, out)
        if voice.left <= len(out) + self._seam and voice.coming is None and voice.follow:
            voice.coming = (voice.follow, voice.follow.reel)
        if voice.coming is not None:
            following, reel = voice.coming
            self._add(following, reel, -(voice.left + following.lead), out)

    def _add(self, lap: Lap, reel: Reel, j: int, out: Audio) -> None:
        """Add frames j .. of a lap's music with its fades in and out."""
        a, b = max(j, -self._seam), min(j + len(out), lap.frames)
        if a >= b:
            return
        music, missing = reel.read(a, b - a)
        self.missing += missing if a >= 0 else 0  # before the track's first frame there is nothing
        tail = lap.frames - self._seam
        if a < 0 or b > tail:
            music = music.copy()
            if a < 0:
                n = min(b, 0) - a
                music[:n] *= self._rise[a + self._seam : a + self._seam + n]
            if b > tail:
                n = max(a, tail)
                music[n - a :] *= self._rise[::-1][n - tail : b - tail]
        out[a - j : b - j] += music

    def _clips(self, voice: _Voice, out: Audio, gains: Gains, offset: int) -> None:
        frames, lap = len(out), voice.lap
        while voice.pointer < len(lap.starts) and lap.starts[voice.pointer] < voice.j + frames:
            samples, kind = lap.clips[voice.pointer]
            start = voice.clock + lap.starts[voice.pointer] - voice.j
            voice.ringing.append((start, samples, kind))
            voice.pointer += 1
        for start, samples, kind in voice.ringing:
            a = max(0, start - voice.clock)
            b = min(frames, start + len(samples) - voice.clock)
            if a < b:
                gain = gains[kind]
                if not isinstance(gain, float):
                    gain = gain[offset + a : offset + b]
                first = voice.clock + a - start
                out[a:b] += samples[first : first + b - a] * gain
        if voice.ringing:
            end = voice.clock + frames - self._fade  # kept for a pause's step back
            voice.ringing = [r for r in voice.ringing if r[0] + len(r[1]) > end]

    def _duck(self, voice: _Voice, frames: int) -> Audio | None:
        if not voice.ducks:
            return None
        down, up = int(DUCK_DOWN * self.rate), int(DUCK_UP * self.rate)
        first = voice.clock - frames
        time = np.arange(first, voice.clock, dtype=np.float64)
        depth = np.zeros(frames)
        for a, b in voice.ducks:
            if a - down < voice.clock and b + up > first:
                near = np.minimum((time - (a - down)) / down, (b + up - time) / up)
                np.maximum(depth, np.clip(near, 0, 1), out=depth)
        voice.ducks = [d for d in voice.ducks if d[1] + up + self._fade > first]
        if not depth.any():
            return None
        return (1 - (1 - DUCKED) * _smooth(depth)).astype(np.float32)[:, None]
