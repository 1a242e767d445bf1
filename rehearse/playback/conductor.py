"""Decides when the mixer starts what, and has the music ready for it by then.

It never blocks: every call looks at what is ready, asks the supply for what is missing, and is
called again when something has arrived.
"""

from __future__ import annotations

from dataclasses import dataclass

from rehearse.playback.lap import Audio, Lap, Reel
from rehearse.playback.mix import Follow, Mixer, Start
from rehearse.playback.passage import Passage
from rehearse.playback.pieces import (
    BRIDGE,
    Feed,
    chunk_at,
    opening_at,
    plain_reel,
    whole_of,
    whole_reel,
)
from rehearse.playback.stretch import FASTEST, SLOWEST
from rehearse.playback.supply import Supply

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
    """A reel being filled for a lap."""

    lap: Lap
    feed: Feed


@dataclass(eq=False)
class _Starting:
    lap: Lap
    reel: Reel
    j: int | None
    keep: bool


class Conductor:
    """Plays passages through a mixer with music from a supply."""

    def __init__(self, mixer: Mixer, supply: Supply, samples: Audio) -> None:
        self._mixer, self._supply, self._samples = mixer, supply, samples
        self._fillings: list[_Filling] = []
        self._laps: list[Lap] = []  # those that may begin again and want their whole music
        self._starting: _Starting | None = None
        self._sent: _Starting | None = None  # started, but perhaps not yet taken up by the mixer
        # What follows, and what was to follow before that: it may be coming in already.
        self._following: tuple[Lap, ...] = ()

    def play(self, passage: Passage, at: float | None, repeat: bool, keep: bool) -> None:
        """Start a passage as soon as its first music is ready; see `Player` for the arguments."""
        self._supply.forget()
        lap = Lap.of(passage, self._mixer.rate, again=repeat)
        j = None if at is None else min(max(0, lap.span.frame_of(at)), lap.frames - 1)
        if keep:
            j = self._place_in(lap)
        self._laps, self._following = [lap], ()
        whole = self._prepare(lap)
        reel = self._feed(lap, j) if j and j > 0 and not whole else lap.reel
        self._starting = _Starting(lap, reel, j, keep and j is not None)
        self.step()

    def _place_in(self, lap: Lap) -> int | None:
        """The frame of a lap at which the music is now; None when it is not inside."""
        place = self._mixer.place
        return lap.frame_in(place[0], place[2]) if place is not None else None

    def _feed(self, lap: Lap, j: int) -> Reel:
        """A reel that is being filled from frame `j` on, before all others."""
        feed = Feed(lap.span, j)
        self._fillings.insert(0, _Filling(lap, feed))
        return feed.reel

    def then(self, passage: Passage | None, repeat: bool) -> None:
        """Set what follows the pass in progress."""
        lap = None
        if passage is not None:
            lap = Lap.of(passage, self._mixer.rate, again=repeat)
            self._laps.append(lap)
            self._prepare(lap)
        self._following = (*self._following, lap)[-2:] if lap is not None else self._following
        if self._starting is not None:
            self._starting.lap.then, self._starting.lap.again = lap, False
        else:
            self._mixer.commands.append(Follow(lap))
        self.step()

    def stop(self) -> None:
        """Forget what was about to start."""
        self._starting = self._sent = None
        self._laps, self._fillings, self._following = [], [], ()

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
        place, laps, reels = self._mixer.place, [], []
        if place is not None:
            if self._sent is not None and place[0] is self._sent.lap:
                self._sent = None
            self._renew(place[0], place[1])
            laps.append(place[0])
            reels.append(place[1])
            if place[1] is not place[0].reel or not place[0].again:
                place[1].forget(place[2] - round(_BEHIND * self._mixer.rate))
        for each in (self._sent, self._starting):
            if each is not None:
                laps += [each.lap, *([each.lap.then] if each.lap.then else [])]
                reels.append(each.reel)
        laps += self._following
        reels += [lap.reel for lap in laps]
        self._laps = [lap for lap in self._laps if any(lap is each for each in laps)]
        self._fillings = [f for f in self._fillings if any(f.feed.reel is reel for reel in reels)]

    def _renew(self, lap: Lap, reel: Reel) -> None:
        """Give a long pass that repeats other music for its next time: what was heard can go."""
        filled = any(f.feed.reel is reel for f in self._fillings)
        if lap.again and reel is lap.reel and filled and whole_of(lap.span) is None:
            self._prepare(lap)

    def _prepare(self, lap: Lap) -> bool:
        """Give a lap music: all of it at once (True), or a reel filled from its beginning on."""
        if lap.span.tempo == 1.0:
            lap.reel = plain_reel(self._samples, lap)
            return True
        piece = whole_of(lap.span)
        audio = self._supply.get(piece) if piece is not None else None
        if audio is not None:
            lap.reel = whole_reel(lap.span, audio)
            return True
        feed = Feed(lap.span, 0)
        lap.reel = feed.reel
        self._fillings.append(_Filling(lap, feed))
        return False

    def _fill(self, filling: _Filling) -> None:
        feed, rate = filling.feed, self._mixer.rate
        while not feed.complete and feed.reel.end < self._wanted(filling) * rate:
            source, tempo = feed.next_source, feed.span.tempo
            piece = chunk_at(source, rate, tempo)
            audio = self._supply.get(piece)
            if audio is None:
                ready = feed.reel.end - max(feed.reel.first, self._playhead(feed.reel))
                if ready <= 0:
                    piece = opening_at(source, rate, tempo)
                elif min(ready, piece.last - source) < BRIDGE * rate:
                    piece = opening_at(source, rate, tempo, BRIDGE)
                audio = self._supply.ask(piece, urgent=True)
            if audio is None or not feed.add(piece, audio):
                return

    def _wanted(self, filling: _Filling) -> float:
        """Seconds of the pass up to which its reel should be filled."""
        rate, reel = self._mixer.rate, filling.feed.reel
        playhead = self._playhead(reel)
        if playhead >= reel.first:
            return playhead / rate + _AHEAD
        return reel.first / rate + _PREPARED

    def _playhead(self, reel: Reel) -> int:
        """The frame at which a reel is being played; before its first when it is not."""
        place = self._mixer.place
        return place[2] if place is not None and place[1] is reel else reel.first - 1

    def _start_if_ready(self) -> None:
        starting, mixer = self._starting, self._mixer
        if starting is None:
            return
        if starting.keep:
            self._follow_place(starting)
        lap, j = starting.lap, starting.j
        needed = min(lap.frames, max(j or 0, 0) + int(_NEEDED * mixer.rate))
        counted_in = lap.lead if j is None else -j > _COUNTED_IN * mixer.rate
        if counted_in or starting.reel.end >= needed:
            mixer.commands.append(Start(lap, starting.reel, j, starting.keep))
            self._starting, self._sent = None, starting

    def _follow_place(self, starting: _Starting) -> None:
        """While the music was being prepared, the place has moved on, maybe begun anew."""
        starting.j = self._place_in(starting.lap)
        if starting.j is None:
            starting.keep, starting.reel = False, starting.lap.reel
        elif 0 <= starting.j < starting.reel.first:
            starting.reel = self._feed(starting.lap, starting.j)
            self._fill(self._fillings[0])

    def _improve(self) -> None:
        """Replace pieces by whole renderings for the passes to come."""
        for lap in list(self._laps):
            piece = whole_of(lap.span) if lap.span.tempo != 1.0 else None
            audio = self._supply.ask(piece, urgent=False) if piece is not None else None
            if audio is not None:
                lap.reel = whole_reel(lap.span, audio)
            if piece is None or audio is not None:
                self._laps.remove(lap)

    def _look_around(self) -> None:
        """Prepare the neighbouring tempo steps where the music is."""
        place = self._mixer.place
        if place is None or self._supply.waiting(urgent=False):
            return
        lap, _, j, _ = place
        source = lap.span.source_of(j) * self._mixer.rate
        for tempo in (lap.span.tempo - _STEP, lap.span.tempo + _STEP):
            tempo = round(tempo, 4)
            if not SLOWEST <= tempo <= FASTEST or tempo == 1.0:
                continue
            for ahead in (0.0, 3.0):
                piece = chunk_at(source + ahead * self._mixer.rate, self._mixer.rate, tempo)
                if self._supply.ask(piece, urgent=False) is None:
                    return
