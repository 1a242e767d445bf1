"""Decides when the mixer starts what, and has the music ready for it by then.

It never blocks: every call looks at what is ready, asks the stretch cache for what is missing, and
is called again when something has arrived.
"""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.playback.loop_pass import Audio, AudioBuffer, LoopPass
from rehearse.playback.mix import Follow, Mixer, Start
from rehearse.playback.segment import Segment
from rehearse.playback.stretch import FASTEST, SLOWEST
from rehearse.playback.stretch_cache import StretchCache
from rehearse.playback.stretch_chunks import (
    BRIDGE,
    Feed,
    chunk_at,
    opening_at,
    plain_buffer,
    whole_buffer,
    whole_of,
)

#: Seconds of music kept ready ahead of what is played, of a start that may come, and needed to
#: start.
_AHEAD, _PREPARED, _NEEDED = 10.0, 3.0, 0.15
#: With more seconds of count-in left than this, a change is heard at once: the first music gets
#: ready in them.
_COUNTED_IN = 0.4
#: Seconds of heard music kept: a pause goes back by a moment.
_BEHIND = 1.0
#: The tempo steps next to the present one are prepared.
_STEP = 0.05


@dataclass(eq=False)
class _Filling:
    """A buffer being filled for a loop pass."""

    loop_pass: LoopPass
    feed: Feed


@dataclass(eq=False)
class _Starting:
    loop_pass: LoopPass
    buffer: AudioBuffer
    j: int | None
    keep: bool


class MixScheduler:
    """Plays segments through a mixer with music from a stretch cache."""

    def __init__(self, mixer: Mixer, stretch_cache: StretchCache, samples: Audio) -> None:
        self._mixer, self._stretch_cache, self._samples = mixer, stretch_cache, samples
        self._fillings: list[_Filling] = []
        self._loop_passes: list[
            LoopPass
        ] = []  # those that may begin again and want their whole music
        self._starting: _Starting | None = None
        self._sent: _Starting | None = None  # started, but perhaps not yet taken up by the mixer
        # What follows, and what was to follow before that: it may be coming in already.
        self._following: tuple[LoopPass, ...] = ()

    def play(self, segment: Segment, at: float | None, repeat: bool, keep: bool) -> None:
        """Start a segment as soon as its first music is ready; see `Player` for the arguments."""
        self._stretch_cache.forget()
        loop_pass = LoopPass.of(segment, self._mixer.rate, again=repeat)
        j = None if at is None else min(max(0, loop_pass.span.frame_of(at)), loop_pass.frames - 1)
        if keep:
            j = self._place_in(loop_pass)
        self._loop_passes, self._following = [loop_pass], ()
        whole = self._prepare(loop_pass)
        buffer = self._feed(loop_pass, j) if j and j > 0 and not whole else loop_pass.buffer
        self._starting = _Starting(loop_pass, buffer, j, keep and j is not None)
        self.step()

    def _place_in(self, loop_pass: LoopPass) -> int | None:
        """The frame of a loop pass at which the music is now; None when it is not inside."""
        place = self._mixer.place
        return loop_pass.frame_in(place[0], place[2]) if place is not None else None

    def _feed(self, loop_pass: LoopPass, j: int) -> AudioBuffer:
        """A buffer that is being filled from frame `j` on, before all others."""
        feed = Feed(loop_pass.span, j)
        self._fillings.insert(0, _Filling(loop_pass, feed))
        return feed.buffer

    def then(self, segment: Segment | None, repeat: bool) -> None:
        """Set what follows the pass in progress."""
        loop_pass = None
        if segment is not None:
            loop_pass = LoopPass.of(segment, self._mixer.rate, again=repeat)
            self._loop_passes.append(loop_pass)
            self._prepare(loop_pass)
        self._following = (
            (*self._following, loop_pass)[-2:] if loop_pass is not None else self._following
        )
        if self._starting is not None:
            self._starting.loop_pass.then, self._starting.loop_pass.again = loop_pass, False
        else:
            self._mixer.commands.append(Follow(loop_pass))
        self.step()

    def stop(self) -> None:
        """Forget what was about to start."""
        self._starting = self._sent = None
        self._loop_passes, self._fillings, self._following = [], [], ()

    def step(self) -> None:
        """Do what can be done now."""
        self._let_go()
        for filling in self._fillings:
            self._fill(filling)
        self._start_if_ready()
        self._improve()
        self._look_around()

    def _let_go(self) -> None:
        """Forget what will not be heard any more, or not until it is rendered anew."""
        place, loop_passes, buffers = self._mixer.place, [], []
        if place is not None:
            if self._sent is not None and place[0] is self._sent.loop_pass:
                self._sent = None
            self._renew(place[0], place[1])
            loop_passes.append(place[0])
            buffers.append(place[1])
            if place[1] is not place[0].buffer or not place[0].again:
                place[1].forget(place[2] - round(_BEHIND * self._mixer.rate))
        for each in (self._sent, self._starting):
            if each is not None:
                loop_passes += [
                    each.loop_pass,
                    *([each.loop_pass.then] if each.loop_pass.then else []),
                ]
                buffers.append(each.buffer)
        loop_passes += self._following
        buffers += [loop_pass.buffer for loop_pass in loop_passes]
        self._loop_passes = [
            loop_pass
            for loop_pass in self._loop_passes
            if any(loop_pass is each for each in loop_passes)
        ]
        self._fillings = [
            f for f in self._fillings if any(f.feed.buffer is buffer for buffer in buffers)
        ]

    def _renew(self, loop_pass: LoopPass, buffer: AudioBuffer) -> None:
        """Give a long pass that repeats other music for its next time: what was heard can go."""
        filled = any(f.feed.buffer is buffer for f in self._fillings)
        if (
            loop_pass.again
            and buffer is loop_pass.buffer
            and filled
            and whole_of(loop_pass.span) is None
        ):
            self._prepare(loop_pass)

    def _prepare(self, loop_pass: LoopPass) -> bool:
        """Give a loop pass music: all at once (True), or a buffer filled from its beginning on."""
        if loop_pass.span.tempo == 1.0:
            loop_pass.buffer = plain_buffer(self._samples, loop_pass)
            return True
        chunk = whole_of(loop_pass.span)
        audio = self._stretch_cache.get(chunk) if chunk is not None else None
        if audio is not None:
            loop_pass.buffer = whole_buffer(loop_pass.span, audio)
            return True
        feed = Feed(loop_pass.span, 0)
        loop_pass.buffer = feed.buffer
        self._fillings.append(_Filling(loop_pass, feed))
        return False

    def _fill(self, filling: _Filling) -> None:
        feed, rate = filling.feed, self._mixer.rate
        while not feed.complete and feed.buffer.end < self._wanted(filling) * rate:
            source, tempo = feed.next_source, feed.span.tempo
            chunk = chunk_at(source, rate, tempo)
            audio = self._stretch_cache.get(chunk)
            if audio is None:
                ready = feed.buffer.end - max(feed.buffer.first, self._playhead(feed.buffer))
                if ready <= 0:
                    chunk = opening_at(source, rate, tempo)
                elif min(ready, chunk.last - source) < BRIDGE * rate:
                    chunk = opening_at(source, rate, tempo, BRIDGE)
                audio = self._stretch_cache.ask(chunk, urgent=True)
            if audio is None or not feed.add(chunk, audio):
                return

    def _wanted(self, filling: _Filling) -> float:
        """Seconds of the pass up to which its buffer should be filled."""
        rate, buffer = self._mixer.rate, filling.feed.buffer
        playhead = self._playhead(buffer)
        if playhead >= buffer.first:
            return playhead / rate + _AHEAD
        return buffer.first / rate + _PREPARED

    def _playhead(self, buffer: AudioBuffer) -> int:
        """The frame at which a buffer is being played; before its first when it is not."""
        place = self._mixer.place
        return place[2] if place is not None and place[1] is buffer else buffer.first - 1

    def _start_if_ready(self) -> None:
        starting, mixer = self._starting, self._mixer
        if starting is None:
            return
        if starting.keep:
            self._follow_place(starting)
        loop_pass, j = starting.loop_pass, starting.j
        needed = min(loop_pass.frames, max(j or 0, 0) + int(_NEEDED * mixer.rate))
        counted_in = loop_pass.lead if j is None else -j > _COUNTED_IN * mixer.rate
        if counted_in or starting.buffer.end >= needed:
            mixer.commands.append(Start(loop_pass, starting.buffer, j, starting.keep))
            self._starting, self._sent = None, starting

    def _follow_place(self, starting: _Starting) -> None:
        """While the music was being prepared, the place has moved on, maybe begun anew."""
        starting.j = self._place_in(starting.loop_pass)
        if starting.j is None:
            starting.keep, starting.buffer = False, starting.loop_pass.buffer
        elif 0 <= starting.j < starting.buffer.first:
            starting.buffer = self._feed(starting.loop_pass, starting.j)
            self._fill(self._fillings[0])

    def _improve(self) -> None:
        """Replace pieces by whole renderings for the passes to come."""
        for loop_pass in list(self._loop_passes):
            chunk = whole_of(loop_pass.span) if loop_pass.span.tempo != 1.0 else None
            audio = self._stretch_cache.ask(chunk, urgent=False) if chunk is not None else None
            if audio is not None:
                loop_pass.buffer = whole_buffer(loop_pass.span, audio)
            if chunk is None or audio is not None:
                self._loop_passes.remove(loop_pass)

    def _look_around(self) -> None:
        """Prepare the neighbouring tempo steps where the music is."""
        place = self._mixer.place
        if place is None or self._stretch_cache.waiting(urgent=False):
            return
        loop_pass, _, j, _ = place
        source = loop_pass.span.source_of(j) * self._mixer.rate
        for tempo in (loop_pass.span.tempo - _STEP, loop_pass.span.tempo + _STEP):
            tempo = round(tempo, 4)
            if not SLOWEST <= tempo <= FASTEST or tempo == 1.0:
                continue
            for ahead in (0.0, 3.0):
                chunk = chunk_at(source + ahead * self._mixer.rate, self._mixer.rate, tempo)
                if self._stretch_cache.ask(chunk, urgent=False) is None:
                    return
