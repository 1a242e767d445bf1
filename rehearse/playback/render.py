"""The sound of a rehearsal as a file would hold it, made with the mixing code that plays it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rehearse.music.track import Track
from rehearse.playback.lap import Audio, Lap, Reel
from rehearse.playback.mix import Mixer, Start
from rehearse.playback.passage import Now, Passage
from rehearse.playback.pieces import render_reel
from rehearse.playback.timeline import Mark, Span

_BLOCK = 2048


@dataclass(frozen=True, eq=False)
class Rendered:
    """Passages played one after another.

    Args:
        samples: float32 (frames, 2) at the track's rate.
        marks: where each pass lies in them; read them through `now`.
    """

    samples: Audio
    sample_rate: int
    marks: tuple[Mark, ...]

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


def render(track: Track, passages: Sequence[Passage]) -> Rendered:
    """Play passages one after another into memory, each once.

    The result begins with the first passage's lead (without one, with the 8 ms in which the
    first pass is faded in) and ends when the last clip has rung out.
    """
    mixer = Mixer(track.sample_rate)
    # Dropping the limiter's margin of silence makes frame 0 the first frame of the first pass.
    margin, mixer.frame = mixer.frame, 0
    if not passages:
        return Rendered(np.zeros((0, 2), np.float32), track.sample_rate, ())
    first = _chain(track, passages)
    mixer.commands.append(Start(first, first.reel))
    blocks = [mixer.pull(_BLOCK)]
    while not mixer.idle:
        blocks.append(mixer.pull(_BLOCK))
    blocks.append(mixer.pull(margin))
    samples = np.concatenate(blocks)[margin:]
    marks = tuple(mixer.marks)
    return Rendered(samples[: _end(samples, marks)], track.sample_rate, marks)


def _chain(track: Track, passages: Sequence[Passage]) -> Lap:
    first = last = None
    reels: dict[Span, Reel] = {}
    for passage in passages:
        lap = Lap.of(passage, track.sample_rate, again=False)
        if lap.span not in reels:
            reels[lap.span] = render_reel(track.samples, lap)
        lap.reel = reels[lap.span]
        if last is not None:
            last.then = lap
        first, last = first or lap, lap
    assert first is not None
    return first


def _end(samples: Audio, marks: tuple[Mark, ...]) -> int:
    """Frames up to the end of the last pass and of everything that rings after it."""
    sounding = np.flatnonzero((samples[:, 0] != 0) | (samples[:, 1] != 0))
    last = int(sounding[-1]) + 1 if len(sounding) else 0
    return max(last, marks[-1].frame)
