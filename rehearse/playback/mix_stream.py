"""One run of passes being played: its music with seams, its clips, its ducking, its fade.

How passes meet: in the last 8 ms of a pass (all of one that is even shorter) its music is faded
out while the music that lies just before the start of the next is faded in, so that the next pass
begins with its first attack untouched. The same happens at the end of a count-in. Every other
change is a cross-fade of 20 ms.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from rehearse.playback.loop_pass import (
    DUCK_DOWN,
    DUCK_UP,
    DUCKED,
    FADE,
    SEAM,
    Audio,
    AudioBuffer,
    LoopPass,
)
from rehearse.playback.timeline import Motion, PlayheadMark

Gains = dict[str, Audio | float]


def _smooth(x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return x * x * (3 - 2 * x)


@functools.lru_cache
def _rise(frames: int) -> Audio:
    """The fade-in of a seam, (frames, 1)."""
    return _smooth((np.arange(frames) + 0.5) / frames).astype(np.float32)[:, None]


class Ramp:
    """A gain on its smooth way to its target."""

    def __init__(self, gain: float, target: float, rate: int) -> None:
        self.gain = gain
        self._rate = rate
        self.aim(target)

    def aim(self, target: float, seconds: float = FADE) -> None:
        """Be at `target` after the length of a fade."""
        self.target, self._from, self._done = target, self.gain, 0
        self._frames = int(seconds * self._rate)

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
class MixStream:
    """A run of passes being played.

    Args:
        loop_pass, buffer: the pass in progress and the music it is played from.
        j: the frame of it to be played next.
        fade: gain of the whole voice.
        number: of the pass.
        frozen: standing still after a pause.
        joins: a clip that is under way at `j` is heard from there on: a count is not cut short.

    Attributes:
        follow: what comes after the pass. ended: nothing more comes, clips may still ring.
        marks: what happened, to be taken out. missing: frames whose music was not ready.
    """

    loop_pass: LoopPass
    buffer: AudioBuffer
    j: int
    fade: Ramp
    number: int = 1
    frozen: bool = False
    joins: bool = False
    follow: LoopPass | None = None
    ended: bool = False
    missing: int = 0
    marks: list[PlayheadMark] = field(default_factory=list)
    _clock: int = 0  # frames this voice has played: the time of ringing clips and ducking
    _pointer: int = 0
    _coming: tuple[LoopPass, AudioBuffer] | None = None
    _ringing: list[tuple[int, Audio, str]] = field(default_factory=list)
    _ducks: list[tuple[int, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.follow = self.loop_pass.follower
        self._seam = int(
            SEAM * self.loop_pass.span.rate
        )  # frames in which the loop pass is faded in
        self._enter()
        if self.joins:
            self._join()

    @property
    def silent(self) -> bool:
        """True when nothing of it can be heard any more."""
        return self.fade.gain == 0 or (self.ended and not self._ringing)

    def mark(
        self, frame: int, motion: Motion, *, began: bool = False, ended: bool | None = None
    ) -> None:
        """Note what is heard from output frame `frame` on."""
        self.marks.append(
            PlayheadMark(frame, self.loop_pass.span, self.number, self.j, motion, began, ended)
        )

    def play(self, frames: int, gains: Gains, frame: int) -> Audio:
        """The next frames, float32 (frames, 2); `frame` is the output frame of the first."""
        music, clips = np.zeros((2, frames, 2), np.float32)
        done = 0
        while done < frames:
            step = frames - done if self.ended else min(frames - done, self._left)
            part = slice(done, done + step)
            if not self.ended:
                self._add_music(music[part])
            self._add_clips(clips[part], gains, done)
            self.j, self._clock, done = self.j + step, self._clock + step, done + step
            if self._left == 0 and not self.ended:
                self._turn(frame + done)
        music *= gains["music"]
        duck = self._duck(frames)
        if duck is not None:
            music *= duck
        music += clips
        music *= self.fade.over(frames)
        if self.fade.gain == 0 == self.fade.target and not self.ended:
            self._freeze(frame + frames)
        return music

    @property
    def _left(self) -> int:
        """Frames until the pass is over."""
        return self.loop_pass.frames + self.loop_pass.rest - self.j

    @property
    def _step_back(self) -> int:
        """Frames faded out in a pause, which are heard again when it goes on."""
        return int(FADE * self.loop_pass.span.rate)

    def _enter(self) -> None:
        """Take up clips and ducking of the loop pass from `j` on."""
        shift = self._clock - self.j
        self._pointer = int(np.searchsorted(self.loop_pass.starts, self.j))
        down = int(DUCK_DOWN * self.loop_pass.span.rate)
        for a, b in self.loop_pass.ducks:
            if b > self.j:
                self._ducks.append((max(a, self.j + down) + shift, b + shift))

    def _join(self) -> None:
        """Take up the clips that began before `j` and are not over."""
        shift = self._clock - self.j
        under_way = zip(self.loop_pass.starts, self.loop_pass.clips, strict=True)
        for start, (samples, kind) in itertools.islice(under_way, self._pointer):
            if start + len(samples) > self.j:
                self._ringing.append((start + shift, samples, kind))

    def _turn(self, frame: int) -> None:
        """The pass is over: on to the next, if there is one."""
        upcoming = self._coming or (self.follow and (self.follow, self.follow.buffer))
        if not upcoming:
            self.ended = True
            self.mark(frame, "stopped", ended=True)
            return
        loop_pass, buffer = upcoming
        self._seam = self._seam_to(loop_pass)
        self.number = self.number + 1 if loop_pass.span.key == self.loop_pass.span.key else 1
        self.loop_pass, self.buffer, self._coming = loop_pass, buffer, None
        if self.follow is loop_pass:
            self.follow = loop_pass.follower
        self.j = -loop_pass.lead
        self._enter()
        self.mark(frame, "running", began=True, ended=True)

    def _freeze(self, frame: int) -> None:
        back = max(0, min(self._step_back, self.j + self.loop_pass.lead))
        self.j, self._clock, self.frozen = self.j - back, self._clock - back, True
        self.mark(frame, "paused")

    def _add_music(self, out: Audio) -> None:
        seam = int(SEAM * self.loop_pass.span.rate)
        self._add(
            self.loop_pass, self.buffer, self.j, out, (self._seam, min(seam, self.loop_pass.frames))
        )
        if self._left <= len(out) + seam and self._coming is None and self.follow:
            # From here on it is heard, so it must not be exchanged any more.
            self._coming = (self.follow, self.follow.buffer)
        if self._coming is not None:
            loop_pass, buffer = self._coming
            self._add(
                loop_pass,
                buffer,
                -(self._left + loop_pass.lead),
                out,
                (self._seam_to(loop_pass), 0),
            )

    def _seam_to(self, following: LoopPass) -> int:
        """Frames in which the next loop pass is faded in: not before the present one has begun."""
        frames = self.loop_pass.frames + self.loop_pass.rest + following.lead
        return min(int(SEAM * self.loop_pass.span.rate), frames)

    def _add(
        self, loop_pass: LoopPass, buffer: AudioBuffer, j: int, out: Audio, seams: tuple[int, int]
    ) -> None:
        """Add frames j .. of a loop pass, faded over `seams` frames at its start and end."""
        first, last = seams
        a, b = max(j, -first), min(j + len(out), loop_pass.frames)
        if a >= b:
            return
        music, missing = buffer.read(a, b - a)
        if a >= 0:  # before the track's first frame there is nothing to miss
            self.missing += missing
        tail = loop_pass.frames - last
        if a < 0 or b > tail:
            music = music.copy()
            if a < 0:
                n = min(b, 0) - a
                music[:n] *= _rise(first)[a + first : a + first + n]
            if b > tail:
                n = max(a, tail)
                music[n - a :] *= _rise(last)[::-1][n - tail : b - tail]
        out[a - j : b - j] += music

    def _add_clips(self, out: Audio, gains: Gains, offset: int) -> None:
        frames, loop_pass = len(out), self.loop_pass
        while (
            self._pointer < len(loop_pass.starts)
            and loop_pass.starts[self._pointer] < self.j + frames
        ):
            samples, kind = loop_pass.clips[self._pointer]
            start = self._clock + loop_pass.starts[self._pointer] - self.j
            self._ringing.append((start, samples, kind))
            self._pointer += 1
        for start, samples, kind in self._ringing:
            a = max(0, start - self._clock)
            b = min(frames, start + len(samples) - self._clock)
            if a < b:
                gain = gains[kind]
                if not isinstance(gain, float):
                    gain = gain[offset + a : offset + b]
                first = self._clock + a - start
                out[a:b] += samples[first : first + b - a] * gain
        end = self._clock + frames - self._step_back
        self._ringing = [r for r in self._ringing if r[0] + len(r[1]) > end]

    def _duck(self, frames: int) -> Audio | None:
        """The music's gain under speech over the frames just played; None: 1."""
        if not self._ducks:
            return None
        rate, first = self.loop_pass.span.rate, self._clock - frames
        down, up = int(DUCK_DOWN * rate), int(DUCK_UP * rate)
        time = np.arange(first, self._clock, dtype=np.float64)
        depth = np.zeros(frames)
        for a, b in self._ducks:
            if a - down < self._clock and b + up > first:
                near = np.minimum((time - (a - down)) / down, (b + up - time) / up)
                np.maximum(depth, np.clip(near, 0, 1), out=depth)
        self._ducks = [d for d in self._ducks if d[1] + up + self._step_back > first]
        if not depth.any():
            return None
        return (1 - (1 - DUCKED) * _smooth(depth)).astype(np.float32)[:, None]
