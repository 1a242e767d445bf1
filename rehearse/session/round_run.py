"""A comparison round as it runs: calls, player and logbook kept in step.

`tick` is called at every paint. A call is written to the logbook the moment its hold ends, and
again when it is judged; the times written are those at which it was heard. Clean or missed
belongs to the hold under way, and after it to that hold until the next one begins; "missed" while
something is held says that it was lost there and then. Nothing here makes a hold longer.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Protocol

from rehearse.cueing.voice import SpeechEngine
from rehearse.music.track import Track
from rehearse.playback.player import Player
from rehearse.playback.segment import Gap, OutputBack, OutputLost, PassEnded, PassStarted, Segment
from rehearse.practice.passes import Verdict, new_pass_id
from rehearse.practice.roundlog import CallDone, RoundDone
from rehearse.session.round_timeline import RoundTimeline, loop_passes_of, view_at
from rehearse.session.session_view import SessionView
from rehearse.words import _

#: Seconds before a call that a pause inside it goes back to.
_BACK = 1.0
#: A broken-off hold shorter than this was none, in seconds.
_SHORTEST = 0.5


class RoundLog(Protocol):
    """Where rounds are kept: a logbook, or what stands before it in the window."""

    def keep_round(self, done: RoundDone) -> object:
        """Keep a round as far as it has come."""

    def end_session(self, at: datetime, *, unwell: bool = False) -> object:
        """Close the session of this moment."""


def _now() -> datetime:
    return datetime.now().astimezone()


class RoundRun:
    """One round on a live player.

    Args:
        player: loaded with `track`. track: background music, or silence.
        log: where it is kept; None: nowhere.
        on_error: told in one sentence when the sound is lost or stood still.
        clock: the present moment, aware; it may be set anew at any time.
        steady: seconds that only ever run on, from any start.
    """

    def __init__(
        self,
        player: Player,
        timeline: RoundTimeline,
        track: Track,
        speech_engine: SpeechEngine | None,
        log: RoundLog | None,
        *,
        on_error: Callable[[str], None] = lambda _sentence: None,
        clock: Callable[[], datetime] = _now,
        steady: Callable[[], float] = time.monotonic,
    ) -> None:
        self.timeline = timeline
        self._player, self._log, self._on_error = player, log, on_error
        self._loop_passes = loop_passes_of(timeline, track, speech_engine)
        self._length = track.duration  # of a loop pass
        # What is set by hand or by the network while a round runs moves nothing in the log.
        self._steady = steady
        self._began, self._since = clock(), steady()
        self._time = 0.0
        self._awaits = True  # what was asked for is not heard yet
        self._paused = self._over = self._unwell = self._complete = False
        self._sentence = ""
        self._called: dict[int, datetime] = {}
        self._hit: dict[int, datetime] = {}
        self._done: dict[int, CallDone] = {}
        self._verdicts: dict[int, tuple[Verdict, float | None]] = {}
        self._id = new_pass_id()
        self._started: datetime | None = None
        self._ended: datetime | None = None
        self._play(0.0)

    @property
    def busy(self) -> bool:
        """Whether it is under way (paused counts)."""
        return not self._over

    @property
    def paused(self) -> bool:
        """Whether it waits for `resume`."""
        return self._paused

    @property
    def calls(self) -> tuple[CallDone, ...]:
        """What was held so far, in order."""
        return tuple(self._done[k] for k in sorted(self._done))

    def pause(self) -> None:
        """Hold the round where it is; a hold broken so is called again."""
        if self.busy and not self._paused:
            self._paused = True
            self._player.pause()

    def resume(self) -> None:
        """Go on; a hold that was broken begins again with its call."""
        if not self.busy or not self._paused:
            return
        lost = bool(self._sentence)
        self._paused, self._sentence = False, ""
        index = self.timeline.index(self._time)
        broken = index >= 0 and self._time < self.timeline.calls[index].relax
        if broken:
            self._called.pop(index, None)
            self._hit.pop(index, None)
            self._verdicts.pop(index, None)
            self._play(max(0.0, self.timeline.calls[index].at - _BACK))
        elif lost:
            self._play(self._time)
        else:
            self._player.resume()

    def stop(self) -> None:
        """End it here; what was held of the call under way is kept."""
        if self.busy:
            self._take_time()
            self._player.stop()
            self._break_off()

    def stop_unwell(self) -> None:
        """Dizzy, cramp or pain: silence at once, nothing marked as missed."""
        self._unwell = True
        self.stop()
        if self._log is not None:
            self._log.end_session(self._wall(), unwell=True)

    def judge(self, verdict: Verdict) -> None:
        """The button: the hold under way, or the last one until the next begins."""
        index = self._judged()
        if index < 0 or not self.timeline.calls[index].call.held:
            return
        one = self.timeline.calls[index]
        is_held = self.busy and one.hit <= self._time < one.relax
        lost = self._time - one.hit if is_held and verdict == "missed" else None
        self._verdicts[index] = verdict, lost
        if index in self._done:
            self._done[index] = replace(self._done[index], verdict=verdict, lost_at=lost)
            self._keep()

    def tick(self) -> SessionView:
        """Take in what happened since the last call and say what is going on."""
        for event in self._player.poll():
            if isinstance(event, PassStarted):
                self._loop_pass_began(event.key)
            elif isinstance(event, PassEnded) and event.complete:
                self._loop_pass_ended(event.key)
            elif isinstance(event, OutputLost):
                self._sentence, self._paused = event.sentence, True
                self._on_error(event.sentence)
            elif isinstance(event, OutputBack):
                self._sentence = ""
            elif isinstance(event, Gap) and self.busy:
                self._on_error(
                    _(
                        "The sound stood still for {seconds:.1f} s because the computer was too"
                        " busy – close other programs. This hold took so much longer.",
                        seconds=event.seconds,
                    )
                )
        if self.busy and not self._paused:
            self._take_time()
        return self._view()

    # Inside

    def _view(self) -> SessionView:
        if self._over:
            return SessionView("over", heard=self._time, unwell=self._unwell)
        judged = self._verdicts.get(self._judged())
        view = view_at(self.timeline, self._time, judged[0] if judged else None)
        if self._paused:
            view = replace(view, state="paused")
        return replace(view, sentence=self._sentence)

    def _judged(self) -> int:
        """The call that a verdict means now; -1 for none."""
        index = self.timeline.index(self._time)
        if index >= 0 and self._time < self.timeline.calls[index].hit:
            index -= 1
        while index >= 0 and not self.timeline.calls[index].call.held:
            index -= 1
        return index

    def _play(self, time: float) -> None:
        number = min(int(time / self._length), len(self._loop_passes) - 1)
        self._time, self._awaits = time, True
        at = time - number * self._length if time > 0 else None
        self._player.play(self._loop_passes[number], at=at, repeat=False)

    def _loop_pass_began(self, key: str) -> None:
        self._awaits = False
        number = int(key) + 1
        following: Segment | None = (
            self._loop_passes[number] if number < len(self._loop_passes) else None
        )
        self._player.then(following, repeat=False)

    def _loop_pass_ended(self, key: str) -> None:
        if self.busy and int(key) == len(self._loop_passes) - 1:
            self._time = self.timeline.end
            self._take_calls()
            self._complete = self._over = True
            self._ended = self._wall()
            self._keep()

    def _take_time(self) -> None:
        now = self._player.now()
        if not self._awaits and now.state == "music" and now.key.isdecimal():
            self._time = int(now.key) * self._length + now.source
            self._take_calls()

    def _take_calls(self) -> None:
        """Note each call as it is heard, and write it once its hold is over."""
        wrote = False
        for index in range(self.timeline.index(self._time) + 1):
            one = self.timeline.calls[index]
            if index not in self._called:
                self._called[index] = self._wall(self._time - one.at)
            if self._started is None:
                self._started = self._called[index]
            if index not in self._hit and self._time >= one.hit:
                self._hit[index] = self._wall(self._time - one.hit)
            if self._time >= one.relax and index not in self._done and one.call.held:
                # As it was heard: where the sound stood still it took so much longer.
                relaxed = self._wall(self._time - one.relax)
                self._done[index] = self._as_done(index, relaxed - self._hit[index])
                wrote = True
        if wrote:
            self._keep()

    def _as_done(self, index: int, hold: timedelta) -> CallDone:
        one = self.timeline.calls[index]
        verdict, lost = self._verdicts.get(index, (None, None))
        return CallDone(
            pose=one.call.pose.name,
            said=one.call.say,
            callout=one.call.callout,
            called=self._called[index],
            spoken=one.hit - one.at,
            hold=round(hold.total_seconds(), 3),
            planned=one.call.hold,
            verdict=verdict,
            lost_at=lost,
        )

    def _break_off(self) -> None:
        index = self.timeline.index(self._time)
        if index >= 0 and index not in self._done and index in self._called:
            one = self.timeline.calls[index]
            held = min(self._time, one.relax) - one.hit
            if held >= _SHORTEST and one.call.held:
                self._done[index] = self._as_done(index, timedelta(seconds=held))
        self._over, self._paused, self._ended = True, False, self._wall()
        self._keep()

    def _keep(self) -> None:
        if self._log is None or self._started is None or not self._done:
            return
        made = self.timeline.round
        wish = made.wish
        self._log.keep_round(
            RoundDone(
                kind=wish.kind,
                rules=made.rules.key,
                seed=made.seed,
                hold=wish.hold,
                longest=wish.longest,
                callouts=wish.callouts,
                started=self._started,
                ended=max(self._ended or self._wall(), self._started),
                complete=self._complete,
                calls=self.calls,
                id=self._id,
            )
        )

    def _wall(self, ago: float = 0.0) -> datetime:
        """The moment `ago` seconds ago, by the clock on the wall as it was when it began."""
        return self._began + timedelta(seconds=self._steady() - self._since - ago)
