"""A rehearsal as it runs: the practice's state, the player and the logbook kept in step.

`tick` is called at every paint. It takes what the player reports, writes each finished pass to
the logbook at once, lines up the next one before it is needed, and says what is going on.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Protocol

from rehearse.files.user_error import UserError
from rehearse.playback.player import Player
from rehearse.playback.segment import (
    Event,
    Gap,
    OutputBack,
    OutputLost,
    PassEnded,
    PassStarted,
    Segment,
)
from rehearse.practice.drill import Drill, fixed
from rehearse.practice.passes import Pass, Verdict
from rehearse.practice.passplan import PassPlan, Result, Work
from rehearse.practice.running import Judged, Phase, Running
from rehearse.practice.runthrough import RunThrough
from rehearse.session.rehearsal_context import RehearsalContext
from rehearse.session.session_view import Coming, SessionView, State, view_of
from rehearse.words import _


def _now() -> datetime:
    return datetime.now().astimezone()


class Log(Protocol):
    """Where passes are kept: a logbook, or what stands before it in the window."""

    def record(self, done: Pass) -> object:
        """Keep a pass."""

    def judge(
        self, pass_id: str, verdict: Verdict | None, *, broke_at: float | None = None
    ) -> object:
        """Judge a pass that was kept."""

    def end_session(self, at: datetime, *, unwell: bool = False) -> object:
        """Close the session of this moment."""


class Rehearsal:
    """Drills, run-throughs and plans on a live player.

    Args:
        player: the player, its track loaded.
        on_error: told in one sentence when a pass could not be written, the sound is lost or
            something cannot be said.
        clock: the present moment, aware; it may be set anew at any time.
        steady: seconds that only ever run on, from any start: the lengths of passes come from it.
    """

    def __init__(
        self,
        player: Player,
        *,
        on_error: Callable[[str], None] = lambda _sentence: None,
        clock: Callable[[], datetime] = _now,
        steady: Callable[[], float] = time.monotonic,
    ) -> None:
        self._player, self._on_error, self._clock = player, on_error, clock
        self._steady, self._music_at = steady, 0.0
        self._context: RehearsalContext | None = None
        self._logbook: Log | None = None
        self._running: Running | None = None
        self._plans: dict[str, PassPlan] = {}  # by the key of the segment made for each
        self._key = ""  # of the segment in progress
        self._same: frozenset[str] = frozenset()  # of those it took the place of in this pass
        self._lacking: set[str] = set()  # segments in which not all is said, for want of time
        self._is_due = False  # what follows is to be made once a change is heard
        self._coming: Coming | None = None
        self._lined_up: PassPlan | None = None
        self._slowest = math.inf
        self._paused = self._waits = False
        self._sentence = ""
        self._unsaid: set[str] = set()
        self._made = 0

    def open(self, context: RehearsalContext | None, logbook: Log | None) -> None:
        """Rehearse another routine, or the same one edited; what is playing is stopped."""
        self.stop()
        self._running = None
        self._context, self._logbook = context, logbook

    def start(self, work: Work) -> None:
        """Begin a drill, a run-through or a plan; what was under way is broken off first.

        Raises:
            UserError: there is nothing to rehearse yet.
        """
        if self._context is None:
            raise UserError(_("there is no music yet"), do=_("open a routine first"))
        self.stop()
        self._running, self._sentence = Running(work, self._context.spots), ""
        self._next()

    @property
    def busy(self) -> bool:
        """Whether something is under way (paused counts)."""
        return self._running is not None and self._running.phase is not Phase.OVER

    @property
    def paused(self) -> bool:
        """Whether it waits for `resume`."""
        return self._paused

    @property
    def closes(self) -> bool:
        """Whether the pass in progress is a run-through, or may be the last of its drill."""
        return self._running is not None and self._running.closes

    @property
    def last(self) -> Result | None:
        """The pass that ended last."""
        return self._running.results[-1] if self._running and self._running.results else None

    @property
    def waits(self) -> bool:
        """Whether a pass is over and the next one waits because of `wait_after`."""
        return self._waits and self._paused

    def wait_after(self, on: bool = True) -> None:
        """What follows the pass in progress waits for `resume`, or no longer: something is looked
        at first.
        """
        self._waits = on
        self._line_up()

    def pause(self) -> None:
        """Hold the music where it is."""
        if self.busy and not self._paused:
            self._paused = True
            self._player.pause()

    def resume(self) -> None:
        """Go on; after lost sound the pass broken off begins again."""
        if not self.busy or not self._paused:
            return
        self._paused, self._sentence = False, ""
        if self._running is not None and self._running.phase is Phase.REST and not self._lined_up:
            self._next()
        else:
            self._player.resume()

    def stop(self) -> None:
        """End it here; a pass in progress is logged as broken off."""
        self._halt(Running.stop)

    def stop_unwell(self) -> None:
        """Dizzy, cramp or pain: stop at once, mark nothing as missed, prompt nothing after."""
        if self._running is not None and not self.busy:
            self._running, _unused = self._running.stop_unwell(self._clock())
        self._halt(Running.stop_unwell)
        if self._running is not None:
            self._noting(lambda book: book.end_session(self._clock(), unwell=True))

    def judge(self, verdict: Verdict) -> None:
        """The button: the pass in progress, or until the next count-in the one before it."""
        if self._running is not None:
            self._running, judged = self._running.judge(verdict)
            self._judged(judged)

    def broke(self, at: float | None) -> None:
        """The answer to "where did you lose it?": a second of the track, None for nowhere."""
        if self._running is not None:
            self._running, judged = self._running.broke(at)
            self._judged(judged)

    def set_percent(self, percent: int) -> None:
        """Another tempo at once, the place in the music kept; the pass goes on."""
        running = self._running
        if running is None:
            return
        work = at_tempo(running.work, percent)
        if running.current is None:  # in the rest: from the next pass on
            self._running = replace(running, work=work)
            self._line_up()
            return
        if percent == running.current.percent:
            return
        self._running = replace(running, work=work)
        self._change(replace(running.current, percent=percent, say=""))

    def say_more(self) -> None:
        """More can be said than when the segments under way were made: it is heard from now on."""
        running = self._running
        if running is None or running.phase is Phase.OVER or self._paused:
            return
        plan = running.current
        if plan is not None and self._key in self._lacking:
            if running.phase is Phase.COUNT_IN and plan.line and plan.say:
                self._play(plan)  # what it is was to be announced: nobody would know otherwise
            else:
                self._change(replace(plan, say=""))
        elif self._lined_up is not None and self._lacking:
            self._line_up(force=True)

    def _change(self, plan: PassPlan) -> None:
        """Go on with the pass in progress as `plan` has it."""
        assert self._running is not None
        self._running = replace(self._running, current=plan)
        slowest, coming = min(self._slowest, plan.tempo), self._coming
        same = self._same | {self._key}
        segment = self._segment(plan)
        self._begin(segment.key)
        self._slowest, self._same, self._coming = slowest, same, coming
        self._player.change(segment, repeat=False)
        # Not before the change is heard: more may follow, and each takes its time to be made.
        self._is_due = self._running.phase is Phase.MUSIC

    def tick(self) -> SessionView:
        """Take in what happened since the last call and say what is going on."""
        for event in self._player.poll():
            self._take(event)
        now = self._player.now()
        known = now.key == self._key or now.key in self._same
        if known and now.state in ("music", "rest"):
            self._music_began()
        if now.key == self._key and self._is_due:
            self._line_up(force=True)
        if now.key == self._key and now.state == "rest":
            self._end(complete=True)
        if self._running is None or self._context is None:
            return SessionView(sentence=self._sentence)
        view = view_of(self._running, self._context, now if known else None, self._coming)
        state: State = "paused" if self._paused and view.state != "over" else view.state
        return replace(view, state=state, sentence=self._sentence)

    # What the player is told

    def _next(self) -> None:
        """Play what the practice wants next, from its count-in."""
        if self._running is None or self._running.upcoming is None:
            return
        self._running, self._waits = self._running.count_in(), False
        plan = self._running.current
        assert plan is not None
        if not plan.line:  # begun by hand: whoever pressed the key knows what it is
            plan = replace(plan, say="")
        self._play(plan)

    def _play(self, plan: PassPlan) -> None:
        segment = self._segment(plan)
        self._begin(segment.key)
        self._player.play(segment, repeat=False)

    def _segment(self, plan: PassPlan) -> Segment:
        assert self._context is not None
        self._made += 1
        key = str(self._made)
        self._plans[key] = plan
        speech_engine = self._context.speech_engine
        misses = speech_engine.misses if speech_engine else 0
        made = self._context.segment(plan, key)
        if speech_engine and speech_engine.misses > misses:
            self._lacking.add(key)
        self._tell_unsaid(self._context)
        return made

    def _tell_unsaid(self, context: RehearsalContext) -> None:
        """Say once why something is not said, or not by its recording; its clicks stay."""
        reasons = context.speech_engine.errors if context.speech_engine else ()
        if new := [reason for reason in reasons if reason not in self._unsaid]:
            self._unsaid.update(new)
            others = _(" And {number} more.", number=len(new) - 1) if len(new) > 1 else ""
            self._on_error(new[0] + others)

    def _begin(self, key: str) -> None:
        self._key, self._lined_up = key, None
        self._same, self._is_due, self._coming = frozenset(), False, None
        self._slowest = self._plans[key].tempo
        self._plans = {key: self._plans[key]}
        self._lacking &= {key}

    def _line_up(self, *, force: bool = False) -> None:
        """Tell the player what follows, so that it is ready without a gap."""
        running = self._running
        if running is None or running.phase not in (Phase.MUSIC, Phase.REST):
            return
        following = None if self._waits else running.following
        if force or following != self._lined_up:
            self._lined_up, self._is_due = following, False
            segment = self._segment(following) if following else None
            self._player.then(segment, repeat=False)
            if running.current is not None and self._context is not None:
                rests = self._context.rest(running.current) > 0
                lead = segment.lead if segment else 0.0
                self._coming = Coming(following, lead, rests) if following else None

    # What the player tells

    def _take(self, event: Event) -> None:
        if isinstance(event, PassStarted):
            self._started(event.key)
        elif isinstance(event, PassEnded):
            if event.complete and event.key == self._key:
                self._music_began()
                self._end(complete=True)
                if self._is_due:
                    self._go_on()
            elif event.complete and event.key in self._same:
                # Over before a change could be heard: what was changed would be heard once more.
                self._end(complete=True)
                self._go_on()
        elif isinstance(event, Gap):
            self._torn(event.seconds)
        elif isinstance(event, OutputLost):
            self._lost(event.sentence)
        elif isinstance(event, OutputBack):
            self._sentence = ""

    def _started(self, key: str) -> None:
        running, plan = self._running, self._plans.get(key)
        if key == self._key or plan is None or running is None or running.phase is not Phase.REST:
            return
        # The plan is that of the segment heard: a verdict may have come a moment too late for it.
        self._running = replace(running.count_in(), current=plan)
        self._begin(key)

    def _music_began(self) -> None:
        if self._running is not None and self._running.phase is Phase.COUNT_IN:
            self._running = self._running.music(self._clock())
            self._music_at = self._steady()
            self._line_up(force=True)

    def _go_on(self) -> None:
        """Begin what follows a pass for which nothing was lined up."""
        self._is_due = False
        if self._running is not None and self._running.phase is Phase.REST and not self._waits:
            self._next()
        else:
            self._player.stop()

    def _torn(self, seconds: float) -> None:
        """Say that some of the music was not heard; the pass is no longer clean by itself."""
        if self._running is not None and self.busy and self._running.phase is not Phase.COUNT_IN:
            self._running = self._running.torn_now()
            self._line_up()
            self._on_error(
                _(
                    "The music stood still for {seconds:.1f} s because the computer was too"
                    " busy – close other programs. The pass counts as clean only if you say"
                    " so.",
                    seconds=seconds,
                )
            )

    def _end(self, *, complete: bool, reached: float | None = None) -> None:
        if self._running is not None and self._running.phase is Phase.MUSIC:
            self._running, done = self._running.ended(
                self._over(), complete=complete, reached=reached
            )
            self._record(done)
            self._paused = self._paused or (self._waits and self._running.phase is Phase.REST)

    def _lost(self, sentence: str) -> None:
        self._sentence = sentence
        self._on_error(sentence)
        self._end(complete=False, reached=self._player.now().source)
        self._lined_up = None
        if self._running is not None and self.busy:
            self._paused = True
            if self._running.phase is Phase.COUNT_IN:
                self._running = replace(self._running, phase=Phase.REST, current=None)

    def _halt(self, how: Callable[..., tuple[Running, Pass | None]]) -> None:
        if self._running is None or self._running.phase is Phase.OVER:
            return
        reached = self._player.now().source
        self._player.stop()
        self._running, done = how(self._running, self._over(), reached=reached)
        self._paused, self._lined_up = False, None
        if done is not None:
            self._record(done)

    def _over(self) -> datetime:
        """The end of the pass in progress; without one, now."""
        began = self._running.started if self._running is not None else None
        if began is None:
            return self._clock()
        return began + timedelta(seconds=self._steady() - self._music_at)

    # The logbook

    def _record(self, done: Pass) -> None:
        # A pass counts at the slowest tempo it had.
        kept = replace(done, tempo=min(done.tempo, self._slowest))
        self._noting(lambda book: book.record(kept))

    def _judged(self, judged: Judged | None) -> None:
        if judged is not None:
            self._noting(
                lambda book: book.judge(judged.id, judged.verdict, broke_at=judged.broke_at)
            )
        running = self._running
        if running is not None and self._waits and self._paused:
            self._paused = running.phase is not Phase.OVER
        elif running is not None and running.phase is Phase.REST and self._lined_up is None:
            self._next()  # a late miss opened a drill again that seemed done
        else:
            self._line_up()

    def _noting(self, write: Callable[[Log], object]) -> None:
        if self._logbook is None:
            return
        try:
            write(self._logbook)
        except UserError as error:
            self._on_error(error.sentence)


def at_tempo(work: Work, percent: int) -> Work:
    """Work at one tempo throughout takes another; what steps by itself stays as it is."""
    if isinstance(work, Drill) and work.steps.first == work.steps.top:
        return replace(work, steps=fixed(percent))
    if isinstance(work, RunThrough):
        return replace(work, percent=percent)
    return work
