"""The sound of a rehearsal as a file would hold it, made with the mixing code that plays it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rehearse.music.track import Track
from rehearse.playback.loop_pass import Audio, AudioBuffer, LoopPass
from rehearse.playback.mix import Mixer, Start
from rehearse.playback.segment import Now, Segment
from rehearse.playback.stretch_chunks import render_buffer
from rehearse.playback.timeline import PlayheadMark, Span

_BLOCK = 2048


@dataclass(frozen=True, eq=False)
class Rendered:
    """Segments played one after another.

    Args:
        samples: float32 (frames, 2) at the track's rate.
        marks: where each pass lies in them; read them through `now`.
    """

    samples: Audio
    sample_rate: int
    marks: tuple[PlayheadMark, ...]

    def now(self, time: float) -> Now:
        """What is heard at second `time` of the samples."""
        current = None
        for mark in self.marks:
            if mark.frame <= time * self.sample_rate:
                current = mark
        return current.now(time * self.sample_rate) if current is not None else Now()

    @property
    def starts(self) -> tuple[float, ...]:
        """For each pass the second of the samples at which its music starts."""
        marks = [mark for mark in self.marks if mark.began]
        return tuple((mark.frame - mark.j) / self.sample_rate for mark in marks)


def render(track: Track, segments: Sequence[Segment]) -> Rendered:
    """Play segments one after another into memory, each once.

    The result begins with the first segment's lead (without one, with the 8 ms in which the
    first pass is faded in) and ends when the last clip has rung out.
    """
    mixer = Mixer(track.sample_rate)
    # Dropping the limiter's margin of silence makes frame 0 the first frame of the first pass.
    margin, mixer.frame = mixer.frame, 0
    if not segments:
        return Rendered(np.zeros((0, 2), np.float32), track.sample_rate, ())
    first = _chain(track, segments)
    mixer.commands.append(Start(first, first.buffer))
    blocks = [mixer.pull(_BLOCK)]
    while not mixer.idle:
        blocks.append(mixer.pull(_BLOCK))
    blocks.append(mixer.pull(margin))
    samples = np.concatenate(blocks)[margin:]
    marks = tuple(mixer.marks)
    return Rendered(samples[: _end(samples, marks)], track.sample_rate, marks)


def _chain(track: Track, segments: Sequence[Segment]) -> LoopPass:
    first = last = None
    buffers: dict[Span, AudioBuffer] = {}
    for segment in segments:
        loop_pass = LoopPass.of(segment, track.sample_rate, again=False)
        if loop_pass.span not in buffers:
            buffers[loop_pass.span] = render_buffer(track.samples, loop_pass)
        loop_pass.buffer = buffers[loop_pass.span]
        if last is not None:
            last.then = loop_pass
        first, last = first or loop_pass, loop_pass
    assert first is not None
    return first


def _end(samples: Audio, marks: tuple[PlayheadMark, ...]) -> int:
    """Frames up to the end of the last pass and of everything that rings after it."""
    sounding = np.flatnonzero((samples[:, 0] != 0) | (samples[:, 1] != 0))
    last = int(sounding[-1]) + 1 if len(sounding) else 0
    return max(last, marks[-1].frame)
