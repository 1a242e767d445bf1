"""A rehearsal as it runs: the practice's state, the player and the logbook kept in step.

`tick` is called at every paint. It takes what the player reports, writes each finished pass to
the logbook at once, lines up the next one before it is needed, and says what is going on.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from rehearse.files.fault import Fault
from rehearse.playback.passage import (
    Event,
    OutputBack,
    OutputLost,
    Passage,
    PassEnded,
    PassStarted,
)
from rehearse.playback.player import Player
from rehearse.practice.logbook import Logbook
from rehearse.practice.passes import Pass, Verdict
from rehearse.practice.passplan import PassPlan, Work
from rehearse.practice.running import Judged, Phase, Running
from rehearse.session.score import Score
from rehearse.session.view import State, View, lead_moment


def _now() -> datetime:
    return datetime.now().astimezone()


class Rehearsal:
    """Drills, run-throughs and plans on a live player.

    Args:
        player: the player, its track loaded.
        on_fault: told in one sentence when a pass could not be written or the sound is lost.
        clock: the present moment, aware.
    """

    def __init__(
        self,
        player: Player,
        *,
        on_fault: Callable[[str], None] = lambda _sentence: None,
        clock: Callable[[], datetime] = _now,
    ) -> None:
        self._player, self._on_fault, self._clock = player, on_fault, clock
        self._score: Score | None = None
        self._logbook: Logbook | None = None
        self._running: Running | None = None
        self._lined_up: PassPlan | None = None
        self._slowest = math.inf
        self._paused = False
        self._sentence = ""
        self._number = 0

    # -- what is rehearsed -------------------------------------------------------------------

    def open(self, score: Score | None, logbook: Logbook | None) -> None:
        """Rehearse another routine, or the same one edited; what is playing is stopped."""
        self.stop()
        self._running = None
        self._score, self._logbook = score, logbook

    def start(self, work: Work) -> None:
        """Begin a drill, a run-through or a plan; what was under way is broken off first.

        Raises:
            Fault: there is nothing to rehearse yet.
        """
        if self._score is None:
            raise Fault("there is no music yet", do="open a routine first")
        self.stop()
        self._running = Running(work, self._score.spots)
        self._next()

    # -- while it runs -----------------------------------------------------------------------

    @property
    def busy(self) -> bool:
        """Whether something is under way (paused counts)."""
        return self._running is not None and self._running.phase is not Phase.OVER

    @property
    def paused(self) -> bool:
        """Whether it waits for `resume`."""
        return self._paused

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
        if self._running is not None and self._running.phase is Phase.REST:
            self._next()
        else:
            self._player.resume()

    def stop(self) -> None:
        """End it here; a pass in progress is logged as broken off."""
        self._halt(lambda running, at, reached: running.stop(at, reached=reached))

    def stop_unwell(self) -> None:
        """Dizzy, cramp or pain: stop at once, mark nothing as missed, prompt nothing after."""
        self._halt(lambda running, at, reached: running.stop_unwell(at, reached=reached))
        if self._logbook is not None and self._running is not None:
            self._noting(lambda book: book.end_session(self._clock(), unwell=True))

    def judge(self, verdict: Verdict) -> None:
        """The button: the pass in progress, or until the next count-in the one before it."""
        if self._running is None:
            return
        self._running, judged = self._running.judge(verdict)
        self._judged(judged)

    def broke(self, at: float | None) -> None:
        """The answer to "where did it break?": a second of the track, None for nowhere."""
        if self._running is None:
            return
        self._running, judged = self._running.broke(at)
        self._judged(judged)

    def set_percent(self, percent: int) -> None:
        """Another tempo at once, the place in the music kept; the pass goes on."""
        running, score = self._running, self._score
        if running is None or score is None or running.current is None:
            return
        plan = replace(running.current, percent=percent)
        self._running = replace(running, current=plan)
        self._slowest = min(self._slowest, plan.tempo)
        self._player.change(self._passage(plan), repeat=False)
        self._line_up(force=True)

    def tick(self) -> View:
        """Take in what happened since the last call and say what is going on."""
        for event in self._player.poll():
            self._take(event)
        self._begin_music()
        return self._view()

    # -- inside ------------------------------------------------------------------------------

    def _next(self) -> None:
        running, score = self._running, self._score
        if running is None or score is None or running.upcoming is None:
            return
        self._running = running.count_in()
        plan = self._running.current
        assert plan is not None
        self._slowest = plan.tempo
        self._player.play(self._passage(plan), repeat=False)

    def _passage(self, plan: PassPlan) -> Passage:
        assert self._score is not None
        self._number += 1
        return self._score.passage(plan, str(self._number))

    def _take(self, event: Event) -> None:
        if isinstance(event, PassStarted):
            if self._running is not None and self._running.phase is Phase.REST and self.busy:
                self._running = self._running.count_in()
                self._slowest = self._lined_up.tempo if self._lined_up else 1.0
        elif isinstance(event, PassEnded):
            if event.complete:
                self._begin_music(force=True)
                self._end(complete=True)
        elif isinstance(event, OutputLost):
            self._lost(event)
        elif isinstance(event, OutputBack):
            self._sentence = ""

    def _begin_music(self, *, force: bool = False) -> None:
        running = self._running
        if running is None or running.phase is not Phase.COUNT_IN:
            return
        now = self._player.now()
        if force or (now.playing and now.elapsed >= 0.0):
            self._running = running.music(self._clock())
            self._line_up(force=True)

    def _line_up(self, *, force: bool = False) -> None:
        """Tell the player what follows, so that it is ready without a gap."""
        running = self._running
        if running is None or running.phase not in (Phase.MUSIC, Phase.REST):
            return
        following = running.following
        if force or following != self._lined_up:
            self._lined_up = following
            self._player.then(self._passage(following) if following else None, repeat=False)

    def _end(self, *, complete: bool, reached: float | None = None) -> None:
        if self._running is None or self._running.phase is not Phase.MUSIC:
            return
        self._running, done = self._running.ended(self._clock(), complete=complete, reached=reached)
        self._record(done)

    def _lost(self, event: OutputLost) -> None:
        self._sentence = event.sentence
        self._on_fault(event.sentence)
        if self.busy:
            self._end(complete=False, reached=self._player.now().source)
            assert self._running is not None
            if self._running.phase is Phase.COUNT_IN:
                self._running = replace(self._running, phase=Phase.REST, current=None)
            self._paused = True

    def _halt(self, how: Callable[[Running, datetime, float], tuple[Running, Pass | None]]) -> None:
        if self._running is None or self._running.phase is Phase.OVER:
            return
        reached = self._player.now().source
        self._player.stop()
        self._running, done = how(self._running, self._clock(), reached)
        self._paused, self._lined_up = False, None
        if done is not None:
            self._record(done)

    def _record(self, done: Pass) -> None:
        kept = replace(done, tempo=min(done.tempo, self._slowest))
        self._noting(lambda book: book.record(kept))

    def _judged(self, judged: Judged | None) -> None:
        if judged is not None:
            self._noting(
                lambda book: book.judge(judged.id, judged.verdict, broke_at=judged.broke_at)
            )
        running = self._running
        if running is not None and running.phase is Phase.REST and self._lined_up is None:
            self._next()  # a late miss opened a drill again that seemed done
        else:
            self._line_up()

    def _noting(self, write: Callable[[Logbook], object]) -> None:
        if self._logbook is None:
            return
        try:
            write(self._logbook)
        except Fault as fault:
            self._on_fault(fault.sentence)

    def _view(self) -> View:
        running, score = self._running, self._score
        now = self._player.now()
        if running is None or score is None:
            return View(sentence=self._sentence)
        plan = running.upcoming
        view = View(
            state=self._state(running),
            plan=plan,
            verdict=_verdict_shown(running),
            asks=bool(running.open_question),
            heard=now.source,
            sentence=self._sentence,
        )
        if running.phase is Phase.MUSIC:
            return replace(view, moment=score.sheet.at(now.source))
        if plan is None:
            return view
        if running.phase is Phase.COUNT_IN:
            return replace(view, moment=lead_moment(score.sheet, plan, min(now.elapsed, 0.0)))
        last = running.results[-1].plan if running.results else plan
        over = now.elapsed - (last.end - last.start) / last.tempo
        rest = max(0.0, score.rest(last) - over)
        return replace(view, rest=rest, moment=score.sheet.at(plan.start))

    def _state(self, running: Running) -> State:
        if running.phase is Phase.OVER:
            return "over"
        if self._paused:
            return "paused"
        states: dict[Phase, State] = {
            Phase.REST: "rest",
            Phase.COUNT_IN: "count-in",
            Phase.MUSIC: "music",
        }
        return states[running.phase]


def _verdict_shown(running: Running) -> Verdict | None:
    if running.phase is Phase.MUSIC:
        return running.verdict
    return running.results[-1].verdict if running.results else None
