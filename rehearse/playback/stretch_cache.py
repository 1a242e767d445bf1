"""The stretch cache of stretched music: rendered in worker processes, kept for the next time."""

from __future__ import annotations

import queue
from collections import Counter, OrderedDict
from collections.abc import Callable
from concurrent.futures import Future

from rehearse.playback.attacks import Attacks, highest
from rehearse.playback.loop_pass import Audio
from rehearse.playback.stretch_chunks import (
    StretchChunk,
    find_shared,
    render_shared,
    warm_up,
    warm_up_quickly,
)
from rehearse.work.pool import Job, Stopped, Workers
from rehearse.work.shared import Shared

#: Bytes of rendered music kept; 96 MB is about four and a half minutes.
KEPT = 96_000_000
#: A piece that could not be made so many times in a row never will be.
_TRIES = 3


class StretchCache:
    """Renders pieces of one track and keeps the latest used.

    The keys of what is kept are span and tempo; a track with other sound has its own stretch cache,
    and nothing outlives the program, so neither the sound's hash nor the stretch's version is
    needed.

    Args:
        track: all samples, float32 (frames, 2).
        rate: frames a second.
        wake: called on a helper thread whenever a piece has become ready.
    """

    def __init__(self, track: Shared, rate: int, wake: Callable[[], object]) -> None:
        self._track, self._rate, self._wake = track, rate, wake
        # One each, so that an opening, heard at once, never waits behind a longer piece.
        self._quick, self._soon = Workers(1, nice=0), Workers(1, nice=0)
        self._later = Workers(1, nice=10)
        self._quick.warm(warm_up_quickly)
        self._soon.warm(warm_up)
        self._later.warm(warm_up)
        # Found once for all pieces; those made before find their own, which are the same.
        self._peak, self._attacks = (
            highest(track.array),
            self._later.submit(find_shared, track, rate),
        )
        self._kept: OrderedDict[StretchChunk, Audio] = OrderedDict()
        self._bytes = 0
        self._jobs: dict[tuple[StretchChunk, bool], Job[Audio]] = {}
        self._done: queue.SimpleQueue[tuple[StretchChunk, bool, Future[Audio]]] = (
            queue.SimpleQueue()
        )
        self._failures: Counter[StretchChunk] = Counter()

    def get(self, chunk: StretchChunk) -> Audio | None:
        """The rendered piece if it is ready.

        Raises:
            Exception: what keeps a piece from being made, whichever piece that is.
        """
        self._collect()
        if chunk in self._kept:
            self._kept.move_to_end(chunk)
            return self._kept[chunk]
        return None

    def ask(self, chunk: StretchChunk, *, urgent: bool) -> Audio | None:
        """The rendered piece, or None for now and have it made."""
        audio = self.get(chunk)
        if audio is None and (chunk, True) not in self._jobs and (chunk, urgent) not in self._jobs:
            work = (self._track, self._rate, chunk, self._peak, self._known())
            job = self._workers(chunk, urgent).submit(render_shared, *work)
            self._jobs[chunk, urgent] = job
            # The job is not named in here: it would hold itself, and nothing collects cycles.
            job.add_done_callback(lambda done: self._finish(chunk, urgent, done))
        return audio

    def _known(self) -> Attacks | None:
        """The attacks of the track, once they are found."""
        job = self._attacks
        if not job.done() or job.exception() is not None:
            return None
        return job.result()

    def _workers(self, chunk: StretchChunk, urgent: bool) -> Workers:
        if not urgent:
            return self._later
        return self._quick if chunk.kind == "opening" else self._soon

    def waiting(self, *, urgent: bool) -> int:
        """Number of pieces being made."""
        self._collect()
        return sum(1 for _, each in self._jobs if each == urgent)

    def forget(self) -> None:
        """Other music is wanted now: give up what has not been begun."""
        for key, job in list(self._jobs.items()):
            if not job.running():
                job.cancel()
                del self._jobs[key]  # asked for again, it must not wait for this one's turn

    def close(self) -> None:
        """End the worker processes."""
        for workers in (self._quick, self._soon, self._later):
            workers.close()

    def _finish(self, chunk: StretchChunk, urgent: bool, job: Future[Audio]) -> None:
        self._done.put((chunk, urgent, job))
        self._wake()

    def _collect(self) -> None:
        while not self._done.empty():
            chunk, urgent, job = self._done.get()
            if self._jobs.get((chunk, urgent)) is job:
                del self._jobs[chunk, urgent]
            # Stopped, or its process died: whoever still needs it asks again.
            if (error := job.exception()) is None:
                del self._failures[chunk]
                self._keep(chunk, job.result())
            elif not isinstance(error, Stopped):
                self._failures[chunk] += 1
                if self._failures[chunk] >= _TRIES:
                    raise error

    def _keep(self, chunk: StretchChunk, audio: Audio) -> None:
        if chunk not in self._kept:
            self._kept[chunk] = audio
            self._bytes += audio.nbytes
        while self._bytes > KEPT and len(self._kept) > 1:
            self._bytes -= self._kept.popitem(last=False)[1].nbytes
