"""A segment made ready to be mixed: its music as frames, its clips and its ducking in frames.

Conventions: `j` is a frame of what is heard, 0 at the music's start of the pass. Music is kept
from a little before that start (`AHEAD` seconds), so that a pass can be faded into without
touching its first attack.
"""

from __future__ import annotations

import bisect
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from rehearse.playback.segment import Segment
from rehearse.playback.timeline import Span

Audio = npt.NDArray[np.float32]

#: Seconds over which one pass runs into the next, and any other change is cross-faded.
SEAM, FADE = 0.008, 0.02
#: Seconds in which a stop fades out: no click, and sooner silent than any other change.
STOP_FADE = 0.006
#: Seconds of music kept before the start of a rendering.
AHEAD = 0.03
#: The music's gain under speech (-8 dB), and seconds to get there and back.
DUCKED, DUCK_DOWN, DUCK_UP = 0.4, 0.06, 0.3


class AudioBuffer:
    """Music of a pass: blocks one after another, filled from the front while it is being read.

    Appending on one thread while another reads is safe: a block is complete before it is listed.
    """

    def __init__(self, first: int) -> None:
        self.first = self.end = first
        self._starts: list[int] = []
        self._blocks: list[Audio] = []
        self._kept = 0  # the first block not forgotten

    def append(self, block: Audio) -> None:
        """Add the next frames, float32 (n, 2)."""
        self._blocks.append(block)
        self._starts.append(self.end)
        self.end += len(block)

    def forget(self, j: int) -> None:
        """Let go of the blocks that end before frame `j`; nobody reads there any more."""
        while self._kept < len(self._blocks):
            start, block = self._starts[self._kept], self._blocks[self._kept]
            if start + len(block) > j:
                return
            self._blocks[self._kept] = block[:0].copy()
            self._kept += 1

    def read(self, j: int, frames: int) -> tuple[Audio, int]:
        """Music of frames j .. j+frames, and how many of them there is no music for (silent)."""
        index = bisect.bisect_right(self._starts, j) - 1
        if index >= 0:
            block, offset = self._blocks[index], j - self._starts[index]
            if offset + frames <= len(block):
                return block[offset : offset + frames], 0
        return self._gather(j, frames, max(index, 0))

    def _gather(self, j: int, frames: int, index: int) -> tuple[Audio, int]:
        out = np.zeros((frames, 2), np.float32)
        filled = 0
        while index < len(self._starts) and self._starts[index] < j + frames:
            block, start = self._blocks[index], self._starts[index]
            a, b = max(j, start), min(j + frames, start + len(block))
            if a < b:
                out[a - j : b - j] = block[a - start : b - start]
                filled += b - a
            index += 1
        return out, frames - filled


@dataclass(eq=False)
class LoopPass:
    """One segment at one sample rate. `buffer` may be replaced by a better rendering.

    Args:
        span: where its music lies in the track and how many frames are heard of it.
        lead, rest: frames heard before and after.
        starts, clips: clips in the order of their start frames.
        ducks: stretches [a, b) with speech.
        again: whether it repeats when nothing else follows; then: what follows.
    """

    span: Span
    lead: int
    rest: int
    starts: list[int]
    clips: list[tuple[Audio, str]]
    ducks: list[tuple[int, int]]
    again: bool = True
    then: LoopPass | None = None
    buffer: AudioBuffer = field(default_factory=lambda: AudioBuffer(0))

    @classmethod
    def of(cls, segment: Segment, rate: int, *, again: bool = True) -> LoopPass:
        """Lay a segment out in frames."""
        first, last = round(segment.start * rate), round(segment.end * rate)
        clips = sorted(segment.clips, key=lambda clip: clip.at)
        starts = [round(clip.at * rate) for clip in clips]
        sounds = [(_stereo(clip.samples), str(clip.kind)) for clip in clips]
        speech = [
            (start, start + len(samples))
            for start, (samples, kind) in zip(starts, sounds, strict=True)
            if kind == "speech"
        ]
        frames = max(1, round((last - first) / segment.tempo))
        return cls(
            span=Span(segment.key, segment.tempo, rate, first, last, frames),
            lead=round(segment.lead * rate),
            rest=round(segment.rest * rate),
            starts=starts,
            clips=sounds,
            ducks=_merge(speech, int((DUCK_DOWN + DUCK_UP) * rate)),
            again=again,
        )

    def frame_in(self, other: LoopPass, j: int) -> int | None:
        """The frame of this loop pass where the music of `other` is at its frame `j`.

        In a count-in to the same music as many counts are left as there; None where the music is
        not inside this loop pass.
        """
        if j < 0 and other.span.first == self.span.first:
            return max(-self.lead, round(j * other.span.tempo / self.span.tempo))
        if not 0 <= j < other.frames:
            return None
        here = self.span.frame_of(other.span.source_of(j))
        return here if 0 <= here < self.frames else None

    @property
    def follower(self) -> LoopPass | None:
        """What is played after it."""
        return self.then or (self if self.again else None)

    @property
    def frames(self) -> int:
        """Frames heard of the music."""
        return self.span.frames


def _stereo(samples: Audio) -> Audio:
    data = np.asarray(samples, np.float32)
    return np.repeat(data[:, None], 2, axis=1) if data.ndim == 1 else data


def _merge(stretches: list[tuple[int, int]], gap: int) -> list[tuple[int, int]]:
    merged: list[tuple[int, int]] = []
    for a, b in sorted(stretches):
        if merged and a - merged[-1][1] <= gap:
            merged[-1] = (merged[-1][0], max(b, merged[-1][1]))
        else:
            merged.append((a, b))
    return merged
