"""Stretched music in pieces, and how pieces become the music of a pass.

A short segment is stretched as one piece with a second of music on either side. Long ones, and
whatever must be heard at once, are made of pieces: an opening of 0.4 s that is ready
within some tens of milliseconds, then stretches of three seconds on a fixed grid of the track, so
that any segment at that tempo can use them again. Pieces are joined by a plain cross-fade; lining
them up by correlation would move the beats.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from rehearse.playback.attacks import Attacks, attacks_of, find_attacks
from rehearse.playback.loop_pass import AHEAD, Audio, AudioBuffer, LoopPass
from rehearse.playback.stretch import stretch, stretch_with
from rehearse.playback.timeline import Span
from rehearse.work.shared import Shared
from rehearse.work.urgency import raise_priority

#: Seconds of the track in a piece of the grid, in an opening, and in what leads from there to
#: the grid when the present piece of it is nearly over.
CHUNK, OPENING, BRIDGE = 3.0, 0.4, 1.0
#: Seconds of music given to the stretch on either side of a piece.
CONTEXT = {"whole": 1.0, "chunk": 0.35, "opening": 0.12}
#: Seconds heard in a cross-fade between pieces; a piece has `AHEAD` seconds beyond its ends.
JOIN = 0.03
#: Frames a piece holds more than must be, because places in the track are rounded to frames.
_SLACK = 16
#: Segments up to this many seconds of the track are stretched as one piece.
WHOLE = 40.0


@dataclass(frozen=True)
class StretchChunk:
    """A stretch of the track at a tempo: frames [first, last) of the track.

    `kind`: `whole` for a segment, `chunk` for the grid, `opening` for what must be quick.
    """

    kind: Literal["whole", "chunk", "opening"]
    first: int
    last: int
    tempo: float

    def margin(self, rate: int) -> int:
        """Frames heard that its rendering has before and after its own stretch."""
        return round(AHEAD * rate) + (0 if self.kind == "whole" else _SLACK)

    def heard(self, rate: int, frames: int) -> tuple[int, int]:
        """The part [first, last) of a track of so many frames that is stretched for it."""
        context = round(CONTEXT[self.kind] * rate)
        return max(0, self.first - context), min(frames, self.last + context)


def whole_of(span: Span) -> StretchChunk | None:
    """The piece that holds a segment's music; None when the segment is too long for one."""
    if span.last - span.first > WHOLE * span.rate:
        return None
    return StretchChunk("whole", span.first, span.last, span.tempo)


def chunk_at(source: float, rate: int, tempo: float) -> StretchChunk:
    """The piece of the grid that holds frame `source` of the track."""
    length = round(CHUNK * rate)
    first = max(0, int(source // length)) * length
    return StretchChunk("chunk", first, first + length, tempo)


def opening_at(source: float, rate: int, tempo: float, seconds: float = OPENING) -> StretchChunk:
    """A short piece from frame `source` of the track on."""
    first = max(0, int(source))
    return StretchChunk("opening", first, first + round(seconds * rate), tempo)


def render_chunk(
    samples: Audio, rate: int, chunk: StretchChunk, attacks: Attacks | None = None
) -> Audio:
    """Stretch a piece.

    Args:
        samples: the whole track, float32 (frames, 2).
        attacks: of the whole track, or as many as lie in what the piece hears; without them
            those of the track are found, once.

    Returns:
        float32 (frames, 2): `chunk.margin` frames, those of the piece, `chunk.margin` frames.
    """
    a, b = chunk.heard(rate, len(samples))
    attacks = attacks or attacks_of(samples, rate)
    margin = chunk.margin(rate)
    frames = round((chunk.last - chunk.first) / chunk.tempo)
    result = np.zeros((margin + frames + margin, 2), np.float32)
    if a < b:
        stretched = stretch_with(attacks.within(a, b), samples[a:b], rate, chunk.tempo)
        start = round((chunk.first - a) / chunk.tempo) - margin
        cut = stretched[max(0, start) : start + len(result)]
        result[max(0, -start) : max(0, -start) + len(cut)] = cut
    return result


def render_shared(
    track: Shared,
    rate: int,
    chunk: StretchChunk,
    peak: float,
    attacks: Attacks | None = None,
    report: object = None,
) -> Audio:
    """`render_chunk` for a worker process; attacks not known yet are found for this piece."""
    if attacks is None:
        attacks = find_attacks(track.array, rate, *chunk.heard(rate, len(track.array)), peak)
    return render_chunk(track.array, rate, chunk, attacks)


def find_shared(track: Shared, rate: int, report: object = None) -> Attacks:
    """`find_attacks` for a worker process."""
    return find_attacks(track.array, rate)


def warm_up(report: object = None) -> None:
    """Load what stretching needs in a worker process."""
    click = np.zeros((4_096, 2), np.float32)
    click[2_048] = 1
    stretch(click, 8_000, 0.9)


def warm_up_quickly(report: object = None) -> None:
    """The same where the music is waited for: next in turn after the sound device itself."""
    warm_up()
    raise_priority(behind=1)


def plain_buffer(samples: Audio, loop_pass: LoopPass) -> AudioBuffer:
    """The music of a pass at its own tempo: the track's samples, uncopied and unchanged.

    Beyond the end of the track there is silence.
    """
    span = loop_pass.span
    ahead = min(span.first, round(AHEAD * span.rate))
    buffer = AudioBuffer(-ahead)
    buffer.append(samples[span.first - ahead : span.last])
    buffer.append(np.broadcast_to(np.float32(0), (max(0, span.frames - buffer.end), 2)))
    return buffer


class Feed:
    """Fills the buffer of a pass with pieces, beginning before frame `j`."""

    def __init__(self, span: Span, j: int) -> None:
        self.span = span
        self.buffer = AudioBuffer(j - round(AHEAD * span.rate))
        self._join = round(JOIN * span.rate)
        self._tail: Audio | None = None
        rise = (np.arange(self._join) + 0.5) / self._join
        self._rise = rise.astype(np.float32)[:, None]

    @property
    def complete(self) -> bool:
        """True when the music reaches the end of the pass."""
        return self.buffer.end >= self.span.frames

    @property
    def next_source(self) -> float:
        """Frame of the track from which more is needed."""
        if self._tail is None:
            return self.span.first + (self.buffer.first + round(AHEAD * self.span.rate)) * (
                self.span.tempo
            )
        return self.span.first + (self.buffer.end + self._join) * self.span.tempo

    def add(self, chunk: StretchChunk, audio: Audio) -> bool:
        """Join a rendered piece on; False when it does not hold what comes next."""
        tempo, rate = self.span.tempo, self.span.rate
        start = round((chunk.first - self.span.first) / tempo) - chunk.margin(rate)
        offset = self.buffer.end - start
        if offset < 0 or offset + 2 * self._join > len(audio):
            return False
        if self._tail is not None:
            head = audio[offset : offset + self._join]
            self.buffer.append(self._tail * (1 - self._rise) + head * self._rise)
            offset += self._join
        cut = len(audio) - self._join
        self.buffer.append(audio[offset:cut])
        self._tail = audio[cut:]
        return True


def whole_buffer(span: Span, audio: Audio) -> AudioBuffer:
    """The buffer of a pass rendered as one piece."""
    margin = round(AHEAD * span.rate)
    buffer = AudioBuffer(-margin)
    buffer.append(audio[: margin + span.frames])
    return buffer


def render_buffer(samples: Audio, loop_pass: LoopPass) -> AudioBuffer:
    """The music of a pass, made here and now (for rendering without a device)."""
    span = loop_pass.span
    if span.tempo == 1.0:
        return plain_buffer(samples, loop_pass)
    chunk = whole_of(span)
    if chunk is not None:
        return whole_buffer(span, render_chunk(samples, span.rate, chunk))
    feed = Feed(span, 0)
    while not feed.complete:
        chunk = chunk_at(feed.next_source, span.rate, span.tempo)
        feed.add(chunk, render_chunk(samples, span.rate, chunk))
    return feed.buffer
